"""A pump that runs dry under a supply that comes and goes: its starts are bounded."""

import pytest

from forebay.rig import load
from keeper import modes as mo
from keeper.channels import OUT_PUMP
from tests.twin.rigs import in_state, run_until, steady
from tests.twin.test_memory import remembering

HOURS = 2
RETRIES = load().plant()["limits.trip_retries"]
DARK_SCANS = 10              # how long the supply is away


def dry_starts(one, cut_is_due):
    """Runs for two hours; returns how often the pump's switch was closed."""
    starts, was_on, on_scans = 0, 0, 0
    since_cut = 0
    for _ in range(HOURS * 36000):
        one.step()
        on = one.powered and one.keeper.outputs[OUT_PUMP]
        starts += on and not was_on
        on_scans = on_scans + 1 if on else 0
        tripped = was_on and not on
        was_on = on
        since_cut += 1
        if one.powered and cut_is_due(since_cut, on_scans, tripped):
            one.cut()
            one.dark_until = one.periods + DARK_SCANS
            was_on = since_cut = on_scans = 0
    return starts


@pytest.mark.parametrize(("name", "cut_is_due"), [
    ("every 100 s", lambda since, _on, _tripped: since >= 1000),
    ("at the trip", lambda _since, _on, tripped: tripped),
    ("2 s after the start", lambda _since, on, _tripped: on >= 20)])
def test_a_dry_pump_starts_no_more_often_than_its_retries_however_power_comes_and_goes(
        tmp_path, name, cut_is_due):
    one = remembering(tmp_path, steady(800.0))
    run_until(one, in_state(mo.STANDSTILL), 100)
    one.plant.air_in_pump = True
    assert dry_starts(one, cut_is_due) <= RETRIES + 1
