"""Buckets at the meters of a simulated rig, and the fit against trials by chance."""

import pytest

from forebay.asking import Kept
from forebay.calibrate import work
from forebay.calibrate.sitting import Sitting
from forebay.rig import load
from keeper.channels import FLOW_UP
from tests.calibrate.practice import Hands
from tests.twin.rigs import PUMPING, steady, twin

GIVEN = {"bucket_frac": "0.2 %", "bucket_reading": "20 mL", "*_buckets": "3"}


@pytest.fixture
def pumping(tmp_path):
    """Gives a twin of the demo that pumps, and whose meter up reads 6 % high: 3 u."""
    one = twin(tmp_path, steady(900.0), {"upper.start_volume_m3": 0.3})
    one.sensors.gain[FLOW_UP] = 1.06
    one.sensors.gain[FLOW_UP + 1] = 0.97
    hands = Hands(one, GIVEN)
    hands.until(PUMPING)
    return hands


def sitting_of(hands, folder, **more):
    return Sitting(load(), hands, Kept(folder / "kept.json"), hands.told.append, hands, **more)


def test_the_pulses_of_a_litre_are_found_at_both_meters(pumping, tmp_path):
    pumping.given["down_ready"] = ""
    outcome = work.found("flow", sitting_of(pumping, tmp_path))
    up, down = outcome.figures
    # 450 pulses of the demo, read as 6 % too many litres: 450 x 1.06 are a true litre.
    assert (up.place, down.place) == ("sensors.pulses_up", "sensors.pulses_down")
    assert abs(up.value - 450 * 1.06) < 2 * up.u
    assert abs(down.value - 450 * 0.97) < 2 * down.u
    assert up.moved_u > 2.5
    assert outcome.doubts["sensors.flow_frac"][0] < 0.006
    assert outcome.changes()["sensors.pulses_per_litre"] == pytest.approx(450 * 1.015, rel=5e-3)
