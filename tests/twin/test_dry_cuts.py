"""A pump that runs dry under a supply that comes and goes: its starts are bounded."""

import pytest

from forebay.rig import load
from tests.stories import told
from tests.twin import dry_cuts

HOURS = 2
RETRIES = load().plant()["limits.trip_retries"]


@pytest.mark.parametrize("cut", dry_cuts.CUTS)
def test_a_dry_pump_starts_no_more_often_than_its_retries_however_power_comes_and_goes(
        tmp_path, cut):
    assert told(dry_cuts.dry_starts, str(tmp_path), cut, HOURS) <= RETRIES + 1
