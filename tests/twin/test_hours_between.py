"""The range of hours that a rig without a level tells, against its twin: one evening.

Sixty nights of the whole tank are a bench: tests/bench/hours_between.py.
"""

import pytest

from keeper import settings as st
from keeper.operation.night import LESSONS
from tests.bench.hours_between import LOW_FLOAT, Evenings, described, drawn

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
    one = Evenings(drawn(rig, seed), settings, str(tmp_path / "board"))
    one.twin.run(600)
    least, most, true, means, missed, _ = one.evening(power_mW)
    assert least <= true <= most
    assert (most - least) / (most + least) < 0.20
    assert missed == 0
    assert means > 200
    # The same evening again, from what this one has taught.
    night = one.twin.keeper.night
    assert night.lessons == LESSONS
    full_mL = one.twin.settings[st.index("full_sure_mL")]
    assert night.lasts_min(power_mW, full_mL) == pytest.approx(true, rel=0.05)
