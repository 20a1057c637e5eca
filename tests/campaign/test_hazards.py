"""Each hazard comes true just beyond its limit and not just below it, from the plant alone."""

import pytest

from forebay.rig import load
from keeper import modes, orders
from keeper.channels import OUT_VALVE
from keeper.physics import surge
from tests.campaign import hazards
from tests.campaign.falling import surge_Pa
from tests.campaign.hazards import Limits, Watch
from tests.campaign.scene import Watched, demo, staged, steady

LIMITS = Limits(load().plant())
JUST_S = 0.3      # beyond or below a limit that is a time
BEYOND, BELOW = 1, -1


@pytest.fixture
def twin():
    """A twin that is not stepped: the plant is what the test makes of it."""
    rig, settings = demo({"upper.start_volume_m3": 0.5})
    one = Watched(rig, settings, steady(0.0))
    yield one
    one.close()


def looked(twin, seconds, each=None, step_s=0.1):
    """Lets the watch look for a time while the truth stands; returns the hazards' names."""
    twin.watch.step_s = step_s
    for _ in range(round(seconds / step_s)):
        twin.plant.time_s += step_s
        if each:
            each(twin.plant)
        twin.watch.check()
    return set(twin.watch.found)


def driven(twin, permille):
    """The board drives the valve there."""
    twin.keeper.outputs[OUT_VALVE] = permille


def runs_down(plant):
    plant.down.volume_m3 += 1e-5


def turns(plant, ratio=1.0):
    plant.up.pump_A, plant.up.ratio, plant.up.panel_V = 0.5, ratio, 24.0
    plant.pump_wanted = 1


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
    twin.plant.motor_degC = LIMITS.motor_degC + side * 0.1
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
        twin.plant.up.pump_A = twin.plant.pump_wanted = 0
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
    twin.plant.pump_wanted = 1
    driven(twin, 100 if side > 0 else 0)
    return looked(twin, 0.1)


def _start(twin, side):
    twin.plant.over_full.up = side > 0
    looked(twin, 3.0)
    twin.plant.pump_wanted = 1
    return looked(twin, 0.1)


def _held(twin, side):
    twin.plant.pump_wanted = 1
    looked(twin, 0.1)
    twin.plant.press_stop(True)
    return looked(twin, 1.0 + side * JUST_S)


def _headless(twin, side):
    if side > 0:
        twin.cut()
    twin.plant.pump_wanted = 1
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


def _idle(twin, side):
    twin.plant.up.shine(800.0, 35.0)
    twin.plant.up.panel_V = 27.0
    return looked(twin, LIMITS.idle_s + side * 35.0, step_s=1.0)


CASES = {"overflow": _overflow, "flood": _flood, "dry": _dry, "dead-head": _dead_head,
         "hot": _hot, "slam": _slam, "again": _again, "surge": _surge, "clamp": _clamp,
         "over-voltage": _over_voltage, "over-trip": _over_trip, "overspeed": _overspeed,
         "open": _open, "unpowered": _unpowered, "together": _together, "start": _start,
         "held": _held, "headless": _headless, "frozen": _frozen, "flat": _flat,
         "overcharged": _overcharged, "dark": _dark, "idle": _idle}


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


@pytest.mark.parametrize("side", [BEYOND, BELOW])
def test_a_run_that_has_lifted_and_is_shut_off_has_the_shorter_delay(twin, side):
    turns(twin.plant)
    twin.plant.up.flow = 50e-6
    looked(twin, 5.0)
    twin.plant.up.flow = 0.0
    assert ("dead-head" in looked(twin, LIMITS.no_flow_s + side * JUST_S)) == (side > 0)


@pytest.mark.parametrize("side", [BEYOND, BELOW])
@pytest.mark.parametrize("spoil", ["air_in_pump", "blocked"])
def test_in_weak_sun_a_pump_without_water_may_run_as_long_as_its_shortest_run(
    twin, side, spoil
):
    plant = twin.plant
    # At 0.82 of its speed the head is just over the lift, and below what a useful flow needs.
    turns(plant, ratio=0.82)
    plant.up.panel_V = 11.0
    plant.air_in_pump = spoil == "air_in_pump"
    name = "dry" if plant.air_in_pump else "dead-head"
    assert (name in looked(twin, LIMITS.weak_s + side * JUST_S)) == (side > 0)


def test_the_board_that_lost_its_clamp_and_lamps_is_seen_though_no_clamp_has_watts(twin):
    # 19.9 V at 343 rad/s: what a lost clamp once made of the demo, and nothing told it.
    assert {"over-voltage", "overspeed"} <= _wheel(twin, 19.9, speed=343.0)


def _maintained(twin):
    twin.order(orders.MAINTAIN, 2)


@pytest.mark.parametrize(("must_shut", "limit_s"), [
    (lambda twin: twin.plant.press_stop(True), LIMITS.full_s),
    (_maintained, LIMITS.full_s),
    (lambda twin: setattr(twin.wishes, "dark", False), LIMITS.unwanted_s),
    (lambda twin: setattr(twin.plant.down, "lamp_A", 0.0), LIMITS.unlit_s),
    (lambda twin: setattr(twin.plant.upper_wet, "up", False), LIMITS.empty_s),
    (lambda twin: setattr(twin.plant.lower_full, "up", True), LIMITS.full_s),
    (lambda twin: driven(twin, 0), LIMITS.travel_s),
])
def test_a_lit_valve_has_its_time_to_shut_once_something_must_shut_it(twin, must_shut, limit_s):
    twin.wishes.dark = True
    twin.plant.down.position, twin.plant.down.lamp_A = 0.5, 0.1
    twin.plant.down.generator_V = 10.0
    driven(twin, 500)
    assert looked(twin, 100.0, runs_down) == set()
    must_shut(twin)
    assert "open" not in looked(twin, limit_s - JUST_S, runs_down)
    assert "open" in looked(twin, 2 * JUST_S, runs_down)
    assert twin.watch.found["open"].size == pytest.approx(0.03, abs=0.011)   # L, at 0.1 L/s


def test_a_drain_that_is_ordered_may_stand_open_unlit_and_dry(twin):
    twin.order(orders.DRAIN_DOWN, 1, 5)
    twin.plant.down.position = 1.0
    twin.plant.upper_wet.up = False
    driven(twin, 1000)
    assert looked(twin, 290.0, runs_down) == set()
    assert "open" in looked(twin, 60.0, runs_down)     # the order is over


@pytest.mark.parametrize("spoil", [
    lambda twin: setattr(twin.plant.over_full, "up", True),
    lambda twin: setattr(twin.plant.lower_wet, "up", False),
    lambda twin: setattr(twin.plant, "felt_degC", 60.0),
    lambda twin: twin.plant.press_stop(True),
    lambda twin: setattr(twin.plant.down, "position", 0.1),
    lambda twin: setattr(twin.plant.frost, "degC", 0.3),
    lambda twin: setattr(twin.plant.battery, "volts", 11.5),
    _maintained,
])
def test_a_start_of_the_pump_while_a_permissive_is_false_is_seen(twin, spoil):
    spoil(twin)
    looked(twin, 70.0)
    assert "start" not in twin.watch.found
    twin.plant.pump_wanted = 1
    assert "start" in looked(twin, 0.1)


@pytest.mark.parametrize("spoil", [
    lambda twin: setattr(twin.plant.upper_wet, "up", False),
    lambda twin: setattr(twin.plant.lower_full, "up", True),
    lambda twin: twin.plant.press_stop(True),
    lambda twin: setattr(twin.plant.frost, "degC", 0.3),
    lambda twin: setattr(twin.plant.battery, "volts", 11.5),
    _maintained,
])
def test_a_start_of_the_light_while_a_permissive_is_false_is_seen(twin, spoil):
    spoil(twin)
    looked(twin, 70.0)
    assert "start" not in twin.watch.found
    driven(twin, 150)
    assert "start" in looked(twin, 0.1)


@pytest.mark.parametrize("side", ["pump", "light"])
@pytest.mark.parametrize("waited", [BELOW, BEYOND])
def test_nothing_may_start_soon_after_a_person_has_let_the_local_stop_go(twin, side, waited):
    twin.plant.press_stop(True)
    looked(twin, 5.0)
    twin.plant.press_stop(False)
    looked(twin, LIMITS.trip_wait_s + waited * 2.0)
    twin.plant.pump_wanted = int(side == "pump")
    driven(twin, 150 if side == "light" else 0)
    assert ("start" in looked(twin, 0.1)) == (waited < 0)


def test_water_that_is_not_there_excuses_the_dark_and_a_full_tank_excuses_a_rest(twin):
    twin.plant.upper_wet.up = False
    assert "dark" not in _dark(twin, BEYOND)
    twin.wishes.dark = False
    twin.plant.full.up = True
    assert "idle" not in _idle(twin, BEYOND)


def test_a_hazard_says_how_long_how_large_and_in_which_mode_it_was(twin):
    driven(twin, 500)
    _wheel(twin, LIMITS.generator_V + 1.0, seconds=0.5)
    driven(twin, 0)
    _wheel(twin, LIMITS.generator_V + 3.0, seconds=0.5)
    found = twin.watch.found["over-voltage"]
    assert found.first_s == pytest.approx(0.1)
    assert found.lasted_s == pytest.approx(1.0)
    assert found.size == pytest.approx(3.0)
    assert found.modes == {"light", "rest"}


class OutputsOnly:
    """A keeper of which nothing but its outputs can be seen."""

    def __init__(self, keeper):
        self.outputs = keeper.outputs


class Veiled:
    """A twin without its keeper's thoughts."""

    def __init__(self, twin):
        self.plant, self.wishes = twin.plant, twin.wishes
        self.powered = True
        self.keeper = OutputsOnly(twin.keeper)


@pytest.mark.parametrize("state", [modes.PUMPING, modes.RUNNING])
def test_a_watch_needs_nothing_of_the_keeper_but_what_its_outputs_drive(state):
    twin = staged(state)
    try:
        watch = Watch(Veiled(twin))
        for _ in range(100):
            twin.step()
            watch.check()
        assert watch.found == {}
        assert watch.mode() == ("pump" if state == modes.PUMPING else "light")
    finally:
        twin.close()


def test_the_bound_of_a_surge_is_joukowskys_at_once_and_falls_with_the_closing_time():
    # rho a dv for what stops at once: 1000 kg/m3 x 1400 m/s x 1 m/s = 14 bar (Joukowsky).
    flow = LIMITS.area_m2
    at_once = surge_Pa(LIMITS, 0.0, flow, 0.0, 1e-3)
    assert at_once == pytest.approx(14e5, rel=2e-3)
    slow = surge_Pa(LIMITS, 0.0, flow, 0.5 * flow, 1.0)
    expected_m = surge.closing_surge_m(LIMITS.length_m, 1.0, 1400.0, 2.0, LIMITS.gravity)
    assert slow == pytest.approx(LIMITS.weight * expected_m)
    assert surge_Pa(LIMITS, 9.0, 0.0, flow, 0.1) == pytest.approx(LIMITS.weight * 9.0)
