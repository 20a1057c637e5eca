"""Books of water and of energy close in every step, in every state and with every load."""

import pytest

from forebay.twin.books import unplaced_J
from forebay.twin.effects import apply
from forebay.twin.leads import Leads
from tests.twin.ledger import LOWER_BASE_M, LOWER_M2, PIPE_M3, RIG, UPPER_M2, Ledger, plant
from tests.twin.rigs import HALF, MINUTES, steady

DARK = 0.0
# 6 mL in a step move both surfaces of about 1 m2 by 6 um: weight V^2 / A, and rounding.
SURFACES_J = 1e-6
LAST_SECOND_M3 = 2.2e-5   # a leak of 20 mL/s is followed once a second: what may still be due


def stepped(steps, sun_W_m2=DARK, changes=(), faults=(), drive=None, sun=None):
    """Returns the books of a plant that was driven for some steps, each of them compared.

    drive: called with the number of the step, returns what the board drives.
    """
    one = plant(sun or steady(sun_W_m2), {**HALF, **dict(changes)})
    leads = Leads()
    books = Ledger(one)
    faults = dict(faults)
    for step in range(steps):
        if step in faults:
            apply(faults[step], one, leads)
        if drive:
            one.command(*drive(step))
        books.step()
    return books


def held(pump=0, valve=0, lamps_off=0, dump=0):
    """Returns a drive that stays."""
    return lambda _: (pump, valve, lamps_off, dump)


def test_a_trickle_dies_away_through_all_sizes_of_a_number():
    """A flow follows its friction a step behind: under no head to speak of it halves for ever."""
    one = plant(steady(DARK), HALF)
    one.down.commanded = 1.0
    for _ in range(50):
        one.down.step(0.1, 9.0, True)
    for _ in range(5000):
        one.down.step(0.1, 1e-28, True)
    assert 0.0 < one.down.flow < 1e-9


LOADS = {
    "lamps": (0, 0), "dump load": (1, 1), "lamps and dump load": (0, 1), "clamp alone": (1, 0)}


@pytest.mark.parametrize("valve", [60, 250, 1000])
@pytest.mark.parametrize("load", LOADS)
def test_books_close_while_water_comes_down_on_every_load(load, valve):
    books = stepped(600, drive=held(0, valve, *LOADS[load]))
    down = books.plant.down
    # The dump load holds the voltage below that at which a lamp begins.
    taken = {"lamp_J": load == "lamps", "dump_J": "dump" in load, "clamp_J": "clamp" in load}
    if valve == 1000:
        assert {name: getattr(down, name) > 1.0 for name in taken} == taken


@pytest.mark.parametrize("valve", [5, 10, 30, 50])
def test_books_close_while_a_trickle_does_not_turn_the_wheel_or_just_does(valve):
    books = stepped(300, drive=held(0, valve))
    assert books.plant.down.volume_m3 > 0


def test_books_close_while_valve_and_loads_are_switched_at_random():
    # A fixed list of states, each two seconds: opening, shutting, every pair of loads.
    states = [(0, valve, lamps, dump) for valve in (1000, 0, 300, 40, 700)
              for lamps in (0, 1) for dump in (1, 0)]
    books = stepped(20 * len(states), drive=lambda step: states[step // 20])
    assert books.plant.down.clamp_J > 0


@pytest.mark.parametrize("load", LOADS)
@pytest.mark.parametrize("rig", [
    {"turbine.inertia_kg_m2": 3e-6},
    {"turbine.inertia_kg_m2": 1e-7},
    {"turbine.inertia_kg_m2": 1e-6, "generator.resistance_ohm": 0.1,
     "generator.clamp_resistance_ohm": 0.1},
    {"generator.resistance_ohm": 1.0, "generator.clamp_resistance_ohm": 0.1},
], ids=["light wheel", "lightest wheel", "light wheel, stiff load", "stiff clamp"])
def test_books_close_and_no_wheel_outruns_its_jet_whatever_it_weighs(rig, load):
    one = plant(steady(DARK), {**HALF, **rig})
    one.command(0, 1000, *LOADS[load])
    down = one.down
    for _ in range(100):
        before_J = unplaced_J(one)
        one.step(0.1)
        assert abs(unplaced_J(one) - before_J) < SURFACES_J
        assert down.speed <= down.flow / down.area / down.wheel.radius_m * (1 + 1e-9)


@pytest.mark.parametrize("fault", ["load-lost", "generator-lead-open", "clamp-lost", "valve-slow",
                                   "valve-creeps", "hand-valve-shut"])
def test_books_close_through_a_fault_of_the_way_down(fault):
    books = stepped(600, faults={200: fault}, drive=held(0, 600))
    assert books.steps == 600


def test_books_close_while_a_seat_leaks_and_the_valve_opens_and_shuts_over_it():
    books = stepped(400, faults={50: "seat-leaks"},
                    drive=lambda step: (0, 300 if 150 <= step < 250 else 0, 0, 0))
    # Losses add, and go with the square of the flow: the seat alone passes 20 mL/s, the
    # nozzle alone 0.97 a sqrt(2 g 9.5 m) = 45.9 mL/s; the pipe takes a thousandth.
    assert books.plant.down.position == 0
    assert books.plant.down.flow == pytest.approx((20**-2 + 45.9**-2) ** -0.5 * 1e-6, rel=2e-3)


def test_books_close_until_the_upper_tank_is_empty_and_the_wheel_has_stopped():
    # A wheel of 0.0001 kg m2 at 200 rad/s, 0.93 mN m: it coasts for 22 s.
    books = stepped(700, changes={"upper.start_volume_m3": 0.001}, drive=held(0, 1000, 1, 0))
    assert books.plant.down.flow == books.plant.down.speed == 0
    assert books.plant.upper.volume_m3 < 2e-4


SUNS = [30.0, 60.0, 100.0, 200.0, 800.0, 1100.0]


@pytest.mark.parametrize("sun", SUNS)
def test_books_close_while_the_pump_starts_runs_and_stops(sun):
    books = stepped(500, sun, drive=lambda step: (int(100 <= step % 250 < 220), 0, 0, 0))
    assert (books.plant.up.volume_m3 > 0) == (sun >= 100)


PUMP_FAULTS = ["rotor-stalled", "bearing-stiff", "air-in-pump", "strainer-blocked",
               "pump-lead-open", "panel-lead-open", "charger-dead", "lower-tank-dry",
               "stop-pressed", "pump-switch-welded"]


@pytest.mark.parametrize("sun", [60.0, 800.0])
@pytest.mark.parametrize("fault", PUMP_FAULTS)
def test_books_close_through_a_fault_of_the_way_up(fault, sun):
    books = stepped(400, sun, faults={150: fault}, drive=held(1))
    assert books.steps == 400


def test_books_close_through_a_sunrise_and_a_sunset_with_the_pump_on():
    day = [0.0, 0.0, 900.0, 40.0, 600.0, 0.0]
    sun = (day + [0.0] * (MINUTES - len(day)), [30.0] * MINUTES, [14.0] * MINUTES)
    books = stepped(3300, sun=sun, drive=held(1))
    assert books.plant.up.panel_A == 0
    assert books.plant.up.volume_m3 > 0.005


def test_the_charger_never_lets_current_flow_up_from_a_panel_that_is_lower():
    # It used to: a motor that pulled the panel below the battery was charged from nothing.
    books = Ledger(plant(steady(40.0), HALF))
    up, battery = books.plant.up, books.plant.battery
    for step in range(700):
        books.plant.command(int(step >= 300), 0, 0, 0)
        books.step()
        assert up.charge_A == 0 or up.panel_V > battery.volts
        if step == 299:
            assert up.charge_A == pytest.approx(0.1, rel=1e-3)
    assert up.panel_V < battery.volts


def test_a_pump_in_weak_sun_leaves_the_charger_what_the_panel_can_still_lift():
    # In 60 W/m2 the whole 0.1 A beside the pump would pull the panel below the battery.
    books = Ledger(plant(steady(60.0), HALF))
    for step in range(700):
        books.plant.command(int(step >= 300), 0, 0, 0)
        books.step()
    assert 0.01 < books.plant.up.charge_A < 0.09
    assert books.plant.battery.volts + 0.5 < books.plant.up.panel_V


def test_books_close_while_pump_and_turbine_run_together():
    books = stepped(600, 800.0, drive=held(1, 500, 0, 1))
    assert min(books.plant.up.volume_m3, books.plant.down.volume_m3) > 1e-3


def test_books_close_when_the_upper_tank_overflows():
    changes = {"upper.start_volume_m3": 0.99995, "upper.over_full_volume_m3": 1.05}
    books = stepped(300, 800.0, changes, drive=held(1))
    upper = books.plant.upper
    assert upper.volume_m3 == pytest.approx(1.0, abs=1e-12)
    # What came too much, less the 50 mL that still had room.
    assert upper.spilled_m3 == pytest.approx(books.plant.up.volume_m3 - 5e-5, rel=1e-9)
    assert upper.spilled_J == pytest.approx(books.weight * upper.spilled_m3 * 10.0, rel=1e-9)


def test_books_close_when_the_lower_tank_is_flooded():
    books = stepped(300, changes={"lower.start_volume_m3": 1.29}, faults={0: "lower-tank-floods"})
    lower = books.plant.lower
    # 1 L/s for 30 s, less the 10 L that had room; over the rim, 0.7 m below the nozzle.
    assert lower.spilled_m3 == pytest.approx(0.020, rel=1e-6)
    assert lower.spilled_J == pytest.approx(-0.7 * books.weight * 0.020, rel=1e-6)


def test_a_leak_takes_its_water_at_the_height_that_it_had():
    # 20 mL/s for 60 s out of a tank of 1 m2: from 0.5 m down by 1.2 mm, mean 9.4994 m.
    one = plant(steady(DARK), HALF)
    apply("tank-leaks", one, Leads())
    for _ in range(601):
        one.step(0.1)
    gone = one.upper.removed_m3
    assert gone == pytest.approx(1.2e-3, abs=LAST_SECOND_M3)
    assert one.upper.removed_J == pytest.approx(
        Ledger(one).weight * gone * (9.5 - gone / 2), rel=1e-9)
    assert abs(one.mass_error()) < 1e-12


def test_books_close_while_a_tank_leaks_beside_the_light():
    books = stepped(300, faults={0: "tank-leaks"}, drive=held(0, 300))
    assert books.plant.upper.removed_m3 == pytest.approx(6e-4, abs=LAST_SECOND_M3)


def test_a_siphon_brings_the_water_back_and_loses_its_height():
    # 20 mL/s for 60 s from 9.5 m to the cistern's 1.25 / 1.3 - 1.7 = -0.73846 m.
    one = plant(steady(DARK), HALF)
    books = Ledger(one)
    apply("main-siphons", one, Leads())
    for _ in range(601):
        one.step(0.1)
    back = 0.5 - one.upper.volume_m3
    assert back == pytest.approx(1.2e-3, abs=LAST_SECOND_M3)
    assert one.lower.volume_m3 == pytest.approx(1.25 + back, rel=1e-12)
    assert one.drop_J == pytest.approx(books.weight * back * (9.5 + 0.73846), rel=1e-3)
    # Once a second, and 12 um of surface with it: they used to be booked at the level before.
    assert one.drop_J == pytest.approx(books.start_J - books.held_J(), rel=1e-9)
    assert abs(one.mass_error()) < 1e-12


def test_what_runs_in_is_booked_at_the_surface_as_it_rises_and_not_as_it_was():
    # 1 L/s rises by 77 um in a step: in a box of half a square metre 1e-6 of a day was open.
    books = stepped(600, faults={0: "lower-tank-floods"},
                    changes={"lower.start_volume_m3": 0.1})
    assert books.plant.inflow_J == pytest.approx(
        books.weight * 0.06 * (0.13 / LOWER_M2 + LOWER_BASE_M), rel=1e-9)
    assert abs(unplaced_J(books.plant)) < SURFACES_J


def test_a_dry_lower_tank_has_lost_all_its_water_and_its_energy():
    one = plant(steady(DARK), HALF)
    books = Ledger(one)
    one.drain_lower()
    assert one.lower.volume_m3 == 0
    assert one.lower.removed_J == pytest.approx(books.start_J - books.held_J(), rel=1e-12)
    assert one.lower.removed_m3 == pytest.approx(1.25)


def test_the_penstock_runs_empty_into_the_lower_tank_and_fills_again_from_the_upper():
    # A pipe of 25 mm and 20 m holds 9.82 L; with its hand valve at the tank shut and the
    # valve below open it runs empty in five minutes.  It used to run into nothing.
    books = Ledger(plant(steady(50.0), HALF))
    one = books.plant
    one.tank_valve_open = False
    one.rewire()
    one.command(0, 1000, 0, 0)
    for _ in range(3100):
        books.step()
    assert one.penstock.volume_m3 == 0
    assert one.lower.volume_m3 == pytest.approx(1.25 + PIPE_M3, rel=1e-9)
    assert one.upper.volume_m3 == 0.5
    one.tank_valve_open = True
    one.rewire()
    for _ in range(30):
        books.step()
    assert one.penstock.volume_m3 == pytest.approx(PIPE_M3, rel=1e-9)
    assert one.upper.volume_m3 == pytest.approx(0.5 - PIPE_M3 - one.down.volume_m3, rel=1e-9)


def test_an_empty_penstock_takes_no_more_than_the_tank_holds():
    one = plant(steady(DARK), {"upper.start_volume_m3": 0.003})
    one.penstock.volume_m3 = 0.0
    one.penstock.fill(one.upper)
    assert one.penstock.volume_m3 == pytest.approx(0.003)
    assert one.upper.volume_m3 == 0


def test_what_a_step_leaves_unplaced_shrinks_with_the_step():
    unplaced = []
    for parts in (1, 2, 4):
        books = Ledger(plant(steady(800.0), HALF))
        books.plant.command(1, 400, 0, 1)
        for _ in range(600 * parts):
            books.step(0.1 / parts)
        unplaced.append(abs(books.unplaced_J))
    assert unplaced[1] == pytest.approx(unplaced[0] / 2, rel=0.03)
    assert unplaced[2] == pytest.approx(unplaced[1] / 2, rel=0.03)


def test_what_is_open_is_told_as_a_share_of_all_water_and_of_all_energy_that_moved():
    changes = {"lower.inflow_m3_s": 1e-3, "lower.start_volume_m3": 0.5}
    books = stepped(600, 800.0, changes, drive=held(1, 500))
    one = books.plant
    one.upper.volume_m3 += 0.01
    assert one.mass_error() == pytest.approx(0.01 / (0.5 + 0.5 + PIPE_M3 + 0.06), rel=1e-9)
    one.upper.volume_m3 -= 0.01
    one.drop_J += 10.0
    moved_J = sum(abs(books.before[name]) for name in (
        "up.panel_J", "inflow_J", "up.lift_J", "down.released_J"))
    assert one.energy_error() == pytest.approx((books.unplaced_J - 10.0) / moved_J, rel=1e-6)
    assert plant(steady(DARK)).energy_error() == 0.0


@pytest.mark.parametrize("lower_m3", [0.5, 1.295])
def test_a_penstock_that_is_emptied_books_what_the_lower_tank_keeps_and_what_runs_over(lower_m3):
    # 9.8 L into 1300 L: of 5 L of room the rest runs over the rim.
    one = plant(steady(DARK), {**HALF, "lower.start_volume_m3": lower_m3})
    one.penstock.empty(one.lower)
    assert (one.lower.spilled_m3 > 0.0) == (lower_m3 > 1.0)
    assert abs(unplaced_J(one)) < SURFACES_J


def test_the_second_books_know_the_demos_rig():
    assert UPPER_M2 == RIG["upper.length_m"] * RIG["upper.width_m"]
    assert LOWER_M2 == RIG["lower.length_m"] * RIG["lower.width_m"]
    assert RIG["generator.emf_constant_V_s_rad"] == 0.0601
