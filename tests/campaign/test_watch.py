"""What a watch tells apart: what excuses a hazard, what does not, and what it may know."""

import pytest

from keeper import modes
from keeper import settings as st
from keeper.operation import orders
from tests.campaign.given import given
from tests.campaign.hazards import Watch
from tests.campaign.limits import Limits
from tests.campaign.scene import MINUTES, Watched, demo, staged
from tests.campaign.still import BELOW, BEYOND, JUST_S, LIMITS, driven, looked, runs_down, turns
from tests.campaign.test_hazards import CASES, _wheel
from tests.campaign.wishes import Told


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
    assert {"over-voltage", "overspeed"} <= _wheel(twin, 19.9, 343.0)


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
    lambda twin: setattr(twin.plant.motor, "felt_degC", 60.0),
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
    twin.plant.pump_commanded = 1
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
    twin.plant.pump_commanded = int(side == "pump")
    driven(twin, 150 if side == "light" else 0)
    assert ("start" in looked(twin, 0.1)) == (waited < 0)


def test_water_that_is_not_there_excuses_the_dark_and_a_full_tank_excuses_a_rest(twin):
    twin.plant.upper_wet.up = False
    assert "dark" not in CASES["dark"](twin, BEYOND)
    twin.wishes.dark = False
    twin.plant.full.up = True
    assert "idle" not in CASES["idle"](twin, BEYOND)


def _lit(plant, is_lit):
    plant.down.lamp_A, plant.down.generator_V = (0.06, 10.0) if is_lit else (0.0, 0.0)


@pytest.mark.parametrize(("lit_s", "is_dark"), [(24.0, True), (600.0, False)])
def test_a_light_that_starts_and_stops_all_night_is_dark(twin, lit_s, is_dark):
    # 27 % of 90 s, as a monitor that dropped out made it; and 66 s of eleven minutes.
    twin.wishes.dark = True
    for _ in range(6):
        _lit(twin.plant, True)
        looked(twin, lit_s, step_s=1.0)
        _lit(twin.plant, False)
        looked(twin, 66.0, step_s=1.0)
    assert ("dark" in twin.watch.found) == is_dark


# Two ends soon after each other: 60 s, then twice as long; half an hour of light, and anew.
@pytest.mark.parametrize(("ran_s", "longer_s"), [(30.0, 60.0), (1801.0, 0.0)])
@pytest.mark.parametrize("side", [BEYOND, BELOW])
def test_a_light_that_the_water_ended_twice_may_rest_twice_as_long(twin, ran_s, longer_s, side):
    twin.wishes.dark = True
    for _ in range(2):
        _lit(twin.plant, True)
        driven(twin, 500)
        looked(twin, ran_s, step_s=1.0)
        _lit(twin.plant, False)
        driven(twin, 0)
        twin.plant.upper_wet.up = False
        looked(twin, 5.0, step_s=1.0)
        twin.plant.upper_wet.up = True
    seen = looked(twin, LIMITS.unseen_s + longer_s + side * 2.0, step_s=1.0)
    assert ("dark" in seen) == (side > 0)


@pytest.mark.parametrize("is_asked", [True, False])
def test_a_light_that_nothing_true_ended_or_that_is_asked_for_has_no_longer_rest(twin, is_asked):
    twin.wishes.dark = True
    for _ in range(2):
        driven(twin, 500)
        looked(twin, 10.0, step_s=1.0)
        driven(twin, 0)
        twin.plant.upper_wet.up = not is_asked
        looked(twin, 1.0, step_s=1.0)
        twin.plant.upper_wet.up = True
    if is_asked:
        twin.wishes.tell(Told(twin.plant.time_s, orders.LIGHT, 600, 60))
    assert "dark" in looked(twin, LIMITS.unseen_s + 2.0, step_s=1.0)


def test_a_panel_that_the_pump_draws_down_makes_no_night_of_the_dawn(twin):
    # Day 28: a start of the pump at dawn, between the keeper's dawn and this one.
    twin.wishes.dark = True
    for is_drawn, seconds in ((False, LIMITS.dark_s - 5.0), (True, 20.0), (False, 10.0)):
        twin.plant.pump_commanded = int(is_drawn)
        twin.plant.up.panel_V = 0.0 if is_drawn else 24.0
        looked(twin, seconds, step_s=1.0)
    assert not twin.wishes.dark


def test_what_is_asked_for_begins_the_dark_anew_and_allows_a_start_each(twin):
    twin.wishes.dark = True
    for _ in range(12):
        looked(twin, 60.0, step_s=1.0)
        twin.wishes.tell(Told(twin.plant.time_s, orders.LIGHT, 600, 60))
        driven(twin, 150)
        looked(twin, 1.0, step_s=1.0)
        driven(twin, 0)
    assert twin.watch.found.keys() & {"dark", "fitful"} == set()


@pytest.mark.parametrize("cell_degC", [35.0, 75.0])
def test_a_pump_that_starts_and_lifts_nothing_in_the_sun_is_idle(twin, cell_degC):
    # In heat the panel's voltage at rest is low, and yet it would carry the pump.
    plant = twin.plant
    plant.up.shine(900.0, cell_degC)
    plant.up.panel_V = 24.0
    for _ in range(5):
        looked(twin, 400.0, step_s=1.0)
        plant.pump_commanded = 1
        looked(twin, 25.0, step_s=1.0)
        plant.pump_commanded = 0
    assert "idle" in twin.watch.found


@pytest.mark.parametrize(("start_mV", "is_idle"), [(26000, True), (23500, False)])
def test_a_rig_whose_start_voltage_no_hot_panel_reaches_is_idle_in_the_sun(start_mV, is_idle):
    # 33 degC of air and 900 W/m2: the unloaded panel gives 25 V.  It once wanted 26.
    rig, settings = demo({"upper.start_volume_m3": 0.3})
    settings[st.index("start_panel_mV")] = start_mV
    hot = Watched(rig, settings, ([900.0] * MINUTES, [66.0] * MINUTES, [33.0] * MINUTES))
    try:
        for _ in range(round(LIMITS.idle_s * 10) + 400):
            hot.step()
        assert ("idle" in hot.watch.found) == is_idle
    finally:
        hot.close()


def test_a_pump_that_lifts_is_not_idle_and_a_sun_that_was_weak_in_a_start_excuses_the_wait(twin):
    plant = twin.plant
    for strong in (True, False):
        for _ in range(5):
            plant.up.shine(900.0, 35.0)
            looked(twin, 400.0, step_s=1.0)
            plant.pump_commanded, plant.up.flow = 1, 50e-6 if strong else 0.0
            plant.up.shine(900.0 if strong else 20.0, 35.0)
            looked(twin, 25.0, step_s=1.0)
            plant.pump_commanded, plant.up.flow = 0, 0.0
    assert "idle" not in twin.watch.found


def test_a_board_that_begins_anew_has_no_more_tries_than_one_that_remembers(twin):
    # As many runs against a standing cause as retries allow, and a cut after each of them.
    def run():
        turns(twin.plant, ratio=0.0)
        looked(twin, 5.0)
        twin.plant.up.pump_A = twin.plant.pump_commanded = 0
        twin.cut()
        looked(twin, 5.0)
        twin.keeper = twin._boot()
        looked(twin, 5.0)

    for _ in range(LIMITS.retries):
        run()
    assert "again" not in twin.watch.found
    run()
    assert "again" in twin.watch.found


def test_the_penstocks_rating_is_the_rigs_own():
    rig = {**given()["rig"], "penstock.pressure_rating_Pa": 10e5}
    assert Limits(rig).penstock_Pa == 10e5


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
