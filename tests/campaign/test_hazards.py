"""Each hazard can come true: the watch sees a plant that is brought into it."""

import pytest

from forebay.rig import load
from keeper import modes
from keeper.physics import surge
from tests.campaign import hazards
from tests.campaign.hazards import Limits, surge_Pa
from tests.campaign.scene import Watched, demo, staged, steady


def watched(changes=(), irradiance_W_m2=800.0):
    """A twin without power: the plant does what the test makes it do."""
    rig, settings = demo({"upper.start_volume_m3": 0.5, **dict(changes)})
    twin = Watched(rig, settings, steady(irradiance_W_m2))
    twin.cut()
    twin.dark_until = 1 << 30
    return twin


def steps(twin, seconds):
    for _ in range(int(seconds * 10)):
        twin.step()
    return set(twin.watch.found)


def test_an_overfull_tank_with_a_float_that_sank_is_an_overflow():
    twin = watched({"upper.start_volume_m3": 0.999})
    twin.plant.welded = True
    twin.plant.over_full.level_m = 9.0
    twin.plant.over_full.up = False
    twin.plant.upper.calm_to_m = 0.0   # the floats are looked at anew
    assert steps(twin, 60) == {"overflow"}


def test_a_pump_that_is_left_dry_is_seen_after_its_delay_and_not_before():
    twin = watched()
    twin.plant.welded = twin.plant.air_in_pump = True
    assert steps(twin, 7) == set()
    assert steps(twin, 3) == {"dry"}


def test_a_motor_above_its_limit_is_seen():
    twin = watched()
    twin.plant.motor_degC = load().motor.trip_temperature_degC + 2.9
    assert steps(twin, 0.1) == set()
    twin.plant.motor_degC = load().motor.trip_temperature_degC + 3.2
    assert steps(twin, 0.1) == {"hot"}


def test_a_clamp_that_is_too_small_is_seen():
    twin = watched({"generator.clamp_power_W": 0.5}, 0.0)
    down = twin.plant.down
    down.lamps_connected = False
    down.wanted = 1.0
    assert steps(twin, 30) == {"clamp"}


def test_a_valve_that_stands_open_in_a_lockout_is_seen():
    twin = staged(modes.RUNNING)
    twin.plant.down.travel_s = 1e9
    twin.keeper.core.sequence.lockout.sides = 3
    assert steps(twin, 5) == set()
    assert steps(twin, 5) == {"open"}
    twin.close()


def test_a_pipe_that_cannot_stand_its_water_hammer_is_seen():
    twin = staged(modes.RUNNING, {"penstock.length_m": 400.0, "penstock.diameter_m": 0.012,
                                  "penstock.minor_loss": 0.0})
    twin.watch.limits.rating_Pa = 3e5    # a thin garden hose
    twin.step()
    assert "surge" not in twin.watch.found
    twin.plant.shed_valve_open = False   # a hand valve slammed shut
    twin.plant.rewire()
    assert "surge" in steps(twin, 0.1)
    twin.close()


def test_the_bound_of_a_surge_is_joukowskys_at_once_and_falls_with_the_closing_time():
    # rho a dv for what stops at once: 1000 kg/m3 x 1400 m/s x 1 m/s = 14 bar (Joukowsky).
    limits = Limits(load().plant())
    flow = limits.area_m2
    at_once = surge_Pa(limits, 0.0, flow, 0.0, 1e-3)
    assert at_once == pytest.approx(14e5, rel=2e-3)
    slow = surge_Pa(limits, 0.0, flow, 0.5 * flow, 1.0)
    expected_m = surge.closing_surge_m(limits.length_m, 1.0, 1400.0, 2.0, limits.gravity)
    assert slow == pytest.approx(limits.weight * expected_m)
    assert surge_Pa(limits, 9.0, 0.0, flow, 0.1) == pytest.approx(limits.weight * 9.0)


def test_pump_and_valve_together_are_seen():
    twin = watched()
    twin.plant.welded = True
    twin.plant.down.wanted = 1.0
    assert steps(twin, 8) == set()
    assert steps(twin, 10) == {"together"}


@pytest.mark.parametrize("spoil", [
    lambda plant: setattr(plant.over_full, "up", True),
    lambda plant: setattr(plant.lower_wet, "up", False),
    lambda plant: setattr(plant, "felt_degC", 60.0),
    lambda plant: setattr(plant, "stop_pressed", True),
])
def test_a_start_of_the_pump_while_a_permissive_is_false_is_seen(spoil):
    rig, settings = demo({"upper.start_volume_m3": 0.5})
    twin = Watched(rig, settings, steady(0.0))
    for _ in range(30):
        spoil(twin.plant)
        twin.watch.check()
    twin.plant.pump_wanted = 1
    twin.watch.check()
    assert "start" in twin.watch.found
    twin.close()


def test_ice_in_a_full_pipe_is_seen_and_in_an_empty_one_is_none():
    twin = watched(irradiance_W_m2=0.0)
    twin.plant.freeze(-12.0)
    twin.plant.frost.degC = 1.0
    twin.plant.frost.full = False
    assert steps(twin, 2400) == set()
    twin.plant.frost.full = True
    assert steps(twin, 2400) == {"frozen"}


def test_a_pump_that_is_driven_without_a_board_is_seen():
    twin = watched()
    twin.plant.pump_wanted = 1
    assert "headless" in steps(twin, 0.1)


def test_hazards_are_declared_once():
    assert len(set(hazards.NAMES)) == len(hazards.HAZARDS) == 10
