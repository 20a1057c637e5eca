"""Wear and room of the flash, from some days on real littlefs; the rest by hand."""

import pytest

from keeper.segments import SHARES_PERCENT, SPARE_BLOCKS
from tests.bench import endurance
from tests.journal.flash import PICO_BLOCKS, WIRELESS_BLOCKS

DAYS = 4


@pytest.fixture(scope="module")
def held() -> endurance.Held:
    return endurance.endure("wireless", endurance.CODE_BLOCKS["as one file a slot"], DAYS)


def test_a_day_costs_few_erases_and_a_call_never_many(held):
    assert held.worst_call_erases <= 4
    assert 900 < sum(held.erases_a_day.values()) < 1500
    assert held.erases_a_block_a_year < endurance.ENDURANCE_ERASES / 20


@pytest.mark.parametrize(
    ("blocks", "detail_days", "summary_days"), [(PICO_BLOCKS, 14, 90), (WIRELESS_BLOCKS, 6, 45)]
)
def test_the_shares_hold_the_promised_days_if_a_slot_of_code_is_one_file(
    held, blocks, detail_days, summary_days
):
    """Detail has what events and summary may not take. Of files each the slots take more."""
    budget = blocks - endurance.CODE_BLOCKS["as one file a slot"] - SPARE_BLOCKS
    shares = dict(SHARES_PERCENT)
    events, summary = (budget * shares[stream] // 100 for stream in (1, 2))
    on_flash = held.bytes_on_flash
    # Segments end before they fill their blocks: 20 000 bytes in five, 8188 in two.
    assert on_flash["s"] / 4000 / DAYS * summary_days <= summary
    assert on_flash["d"] / 4000 / DAYS * detail_days <= budget - events - summary
    assert held.detail_days == pytest.approx(DAYS, abs=0.02)  # nothing was given up yet
    assert held.summary_days == pytest.approx(DAYS, abs=0.02)
