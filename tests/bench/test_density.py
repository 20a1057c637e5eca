"""The density that is promised, on the synthetic day."""

from tests.bench import density


def test_a_packed_row_keeps_the_promised_size():
    figures = density.figures()
    assert figures["bytes_a_row"] <= 7.6
    assert figures["bytes_a_row_active"] <= 7.6
    assert figures["ratio_to_xz"] <= 1.0
