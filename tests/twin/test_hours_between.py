"""The range of hours that a rig without a level tells, against its twin: one evening.

Sixty nights of the whole tank are a bench: tests/bench/hours_between.py.
"""

import pytest

from keeper.operation.night import LESSONS
from tests.bench.hours_between import LOW_FLOAT, described, drawn, evening
from tests.stories import told

# A quarter of the orchard's drum.
SMALL = (('diameter = "0.58 m"\nheight = "0.85 m"', 'diameter = "0.29 m"\nheight = "0.85 m"'),
         ('empty_volume = "12 L"', 'empty_volume = "3 L"'),
         ('full_volume = "196 L"', 'full_volume = "49 L"'),
         ('over_full_volume = "205 L"', 'over_full_volume = "51.25 L"'),
         ('overflow_volume = "212 L"', 'overflow_volume = "53 L"'),
         ('start_volume = "20 L"', 'start_volume = "5 L"'))


@pytest.mark.parametrize(("seed", "power_mW", "changes"), [
    (0, 150, (LOW_FLOAT,)), (3, 80, ())])
def test_the_hours_that_are_told_hold_the_truth_and_an_evening_teaches(
        tmp_path, seed, power_mW, changes):
    """Two rigs as they may truly be; their boards know the description alone."""
    rig, settings = described((*changes, *SMALL))
    (least, most, true, means, missed, _), lessons, again_min = told(
        evening, drawn(rig, seed), settings, str(tmp_path / "board"), power_mW)
    assert least <= true <= most
    assert (most - least) / (most + least) < 0.20
    assert missed == 0
    assert means > 200
    assert lessons == LESSONS
    assert again_min == pytest.approx(true, rel=0.05)
