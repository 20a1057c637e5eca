"""Each hazard comes true just beyond its limit and not just below it, from the plant alone."""

import pytest

from keeper.physics import surge
from tests.campaign import hazards
from tests.campaign.falling import surge_Pa
from tests.campaign.still import BELOW, BEYOND, JUST_S, LIMITS, driven, looked, runs_down, turns


def _overflow(twin, side):
    twin.plant.upper.volume_m3 = 0.999
    twin.plant.upper.add(0.001 + side * 1e-6)
    return looked(twin, 0.1)


def _flood(twin, side):
    # What rain brings in runs over by itself; what the turbine brings is the rig's doing.
    twin.plant.down.position = 0.5 if side > 0 else 0.0

    def fills(plant):
        plant.lower.spilled_m3 += 1e-5
        plant.down.volume_m3 += 1e-5 if side > 0 else 0.0
    return looked(twin, 1.0, fills)


def _dry(twin, side):
    turns(twin.plant)
    twin.plant.air_in_pump = True
    return looked(twin, LIMITS.dry_s + side * JUST_S)


def _dead_head(twin, side):
    turns(twin.plant)
    return looked(twin, LIMITS.trial_s + side * JUST_S)


def _hot(twin, side):
    twin.plant.motor.degC = LIMITS.motor_degC + side * 0.1
    return looked(twin, 0.1)


def _slam(twin, side):
    # Joukowsky by hand: 6 bar - 11.8 m of static head = 49.5 m = 1400 m/s x v / g, v = 0.346
    # m/s; in 20 mm of bore 109 mL/s.
    turns(twin.plant)
    twin.plant.up.flow = 109e-6 * (1.0 + side * 0.05)
    looked(twin, 0.1)
    twin.plant.up.flow = twin.plant.up.pump_A = 0.0
    return looked(twin, 0.1)


def _again(twin, side):
    for _ in range(LIMITS.retries + (side > 0)):
        turns(twin.plant, ratio=0.0)   # the rotor stands
        looked(twin, 1.0)
        twin.plant.up.pump_A = twin.plant.pump_commanded = 0
        looked(twin, 1.0)
    return set(twin.watch.found)


def _surge(twin, side):
    # 2 L v / (g t) by hand: 6 bar - 9.5 m = 51.8 m; v = 51.8 x 9.8 x 0.1 / 40 = 1.27 m/s.
    twin.plant.down.position = 0.5
    twin.plant.down.flow = 1.27 * LIMITS.area_m2 * (1.0 + side * 0.05)
    looked(twin, 0.1)
    twin.plant.down.flow = 0.0
    return looked(twin, 0.1)


def _wheel(twin, volts, speed=1.0, clamp_A=0.0, seconds=0.1):
    down = twin.plant.down
    down.generator_V, down.speed, down.clamp_A = volts, speed, clamp_A
    return looked(twin, seconds)


def _clamp(twin, side):
    return _wheel(twin, 10.0, clamp_A=(LIMITS.clamp_W + side * 0.01) / 10.0)


def _over_voltage(twin, side):
    return _wheel(twin, LIMITS.generator_V + side * 0.01)


def _over_trip(twin, side):
    return _wheel(twin, LIMITS.trip_V + 0.01, seconds=LIMITS.over_trip_s + side * JUST_S)


def _overspeed(twin, side):
    return _wheel(twin, 10.0, speed=LIMITS.wheel_rad_s + side * 0.1)


def _open(twin, side):
    twin.plant.down.position = 0.5
    return looked(twin, LIMITS.travel_s + side * JUST_S, runs_down)


def _unpowered(twin, side):
    twin.cut()
    return _open(twin, side)


def _together(twin, side):
    twin.plant.pump_commanded = 1
    driven(twin, 100 if side > 0 else 0)
    return looked(twin, 0.1)


def _start(twin, side):
    twin.plant.over_full.up = side > 0
    looked(twin, 3.0)
    twin.plant.pump_commanded = 1
    return looked(twin, 0.1)


def _held(twin, side):
    twin.plant.pump_commanded = 1
    looked(twin, 0.1)
    twin.plant.press_stop(True)
    return looked(twin, 1.0 + side * JUST_S)


def _headless(twin, side):
    if side > 0:
        twin.cut()
    twin.plant.pump_commanded = 1
    return looked(twin, 0.1)


def _frozen(twin, side):
    twin.plant.frost.ice = 0.1 + side * 0.01
    return looked(twin, 1.1)


def _flat(twin, side):
    twin.plant.battery.flat = side > 0
    return looked(twin, 1.1)


def _overcharged(twin, side):
    twin.plant.battery.charge_frac = LIMITS.full_frac(0.1) + side * 1e-5
    return looked(twin, 1.1)


def _dark(twin, side):
    twin.wishes.dark = True
    return looked(twin, LIMITS.unseen_s + side * 2.0)


def _fitful(twin, side):
    for _ in range(LIMITS.lights_an_hour + (side > 0)):
        driven(twin, 150)
        looked(twin, 60.0)
        driven(twin, 0)
        looked(twin, 60.0)
    return set(twin.watch.found)


def _idle(twin, side):
    twin.plant.up.shine(800.0, 35.0)
    twin.plant.up.panel_V = 27.0
    return looked(twin, LIMITS.idle_s + side * 35.0, step_s=1.0)


CASES = {"overflow": _overflow, "flood": _flood, "dry": _dry, "dead-head": _dead_head,
         "hot": _hot, "slam": _slam, "again": _again, "surge": _surge, "clamp": _clamp,
         "over-voltage": _over_voltage, "over-trip": _over_trip, "overspeed": _overspeed,
         "open": _open, "unpowered": _unpowered, "together": _together, "start": _start,
         "held": _held, "headless": _headless, "frozen": _frozen, "flat": _flat,
         "overcharged": _overcharged, "dark": _dark, "fitful": _fitful, "idle": _idle}


def test_every_hazard_has_its_case_its_unit_and_its_source():
    assert sorted(CASES) == sorted(hazards.NAMES)
    assert len(set(hazards.NAMES)) == len(hazards.HAZARDS)
    for _, sentence, unit, source in hazards.HAZARDS:
        assert len(sentence) > 10
        assert unit
        assert source


@pytest.mark.parametrize("name", hazards.NAMES)
def test_it_comes_true_just_beyond_its_limit(twin, name):
    assert name in CASES[name](twin, BEYOND)


@pytest.mark.parametrize("name", hazards.NAMES)
def test_it_is_not_true_just_below_its_limit(twin, name):
    assert name not in CASES[name](twin, BELOW)


def test_the_bound_of_a_surge_is_joukowskys_at_once_and_falls_with_the_closing_time():
    # rho a dv for what stops at once: 1000 kg/m3 x 1400 m/s x 1 m/s = 14 bar (Joukowsky).
    flow = LIMITS.area_m2
    at_once = surge_Pa(LIMITS, 0.0, flow, 0.0, 1e-3)
    assert at_once == pytest.approx(14e5, rel=2e-3)
    slow = surge_Pa(LIMITS, 0.0, flow, 0.5 * flow, 1.0)
    expected_m = surge.closing_surge_m(LIMITS.length_m, 1.0, 1400.0, 2.0, LIMITS.gravity)
    assert slow == pytest.approx(LIMITS.weight * expected_m)
    assert surge_Pa(LIMITS, 9.0, 0.0, flow, 0.1) == pytest.approx(LIMITS.weight * 9.0)
