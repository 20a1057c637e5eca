"""The board's load by day: as at rest in the dark, and what the valve's motor takes beside it."""

from types import SimpleNamespace

import pytest

from forebay.balance.boardload import _Seen
from forebay.balance.electric import Electric
from forebay.balance.instruments import ALL, Meters
from keeper import channels as ch
from keeper.modes import CLOSING, PUMPING, RUNNING, STANDSTILL
from tests.balance import rig as plant
from tests.balance.small import changed, happened, journal, kept, rows, summed_up

BEGUN_S = 1000
NIGHT = {ch.PANEL_MV: 0, ch.PANEL_MA: 0}
DAY = {ch.PANEL_MV: 2000, ch.PANEL_MA: 500}
LOAD_W = 0.2


def out(joules):
    """Totals of a battery that gave so much [J]."""
    ten = [0] * len(ch.TOTALS)
    ten[ch.T_SUPPLY_OUT] = round(1000 * joules)
    return ten


def load_of(steps, given, fitted=ALL):
    """The board's load [J] over rows of 60 s.

    steps: (state, readings of the panel, valve [of its travel]); given: what the battery
    gave in each [J].
    """
    made, happenings, totals, gone = [], [], [(1, 10 * BEGUN_S, out(0))], 0.0
    for n, ((state, panel, valve), joules) in enumerate(zip(steps, given, strict=True)):
        end_ds = 10 * BEGUN_S + 600 * (n + 1)
        if n == 0 or steps[n - 1][0] != state:
            left = steps[n - 1][0] if n else STANDSTILL
            happenings.append(changed(1, end_ds - 600, left, state, out(gone)))
        gone += joules
        made.append((1, end_ds, 600, state, {
            **panel, ch.SUPPLY_MV: 1280, ch.SUPPLY_MA: -16,
            ch.VALVE_PERMILLE: round(1000 * valve)}))
        totals.append((1, end_ds, out(gone)))
    one = journal(rows(*made), happened(*happenings), kept(*totals))
    part = Electric(*summed_up(one, plant.DEMO, fitted), plant.DEMO,
                    Meters(plant.DEMO.sensors, fitted), fitted)
    return part.energies([])["board_load"]


REST = [(STANDSTILL, NIGHT, 0)] * 10
STILL = [60 * LOAD_W] * 10


def test_a_move_of_the_valve_by_day_costs_what_its_motor_is_said_to_take_and_as_much_is_unsure():
    # Opened by 0.5 and shut again, pressed on for 0.2: 1.2 travels of 4 s at 1.5 W are 7.2 J.
    by_day = [(RUNNING, DAY, 0.5), (CLOSING, DAY, 0.0), (STANDSTILL, DAY, 0.0)]
    found = load_of(REST + by_day, [*STILL, 0, 0, 0])
    assert found.value == pytest.approx(13 * 60 * LOAD_W + 7.2, abs=0.01)
    # Rectangular from nothing to twice that: 7.2 / sqrt 3.
    assert found.parts["what the valve's motor is said to take"] == pytest.approx(7.2 / 3**0.5)


def test_a_move_in_the_dark_is_counted_once_as_the_battery_gave_it():
    in_the_dark = [(RUNNING, NIGHT, 0.5), (RUNNING, NIGHT, 0.5)]
    found = load_of(REST + in_the_dark, [*STILL, 12 + 3.0, 12])
    assert found.value == pytest.approx(12 * 60 * LOAD_W + 3.0, abs=0.01)
    assert not found.parts.get("what the valve's motor is said to take")


def test_a_held_light_costs_by_day_as_much_more_as_in_the_dark():
    # 0.1 W beside the load for 10 min in the dark: 5 min by day take 30 J more, within as much.
    dark, day = [(RUNNING, NIGHT, 0.5)] * 10, [(RUNNING, DAY, 0.5)] * 5
    found = load_of(REST + dark + day, [*STILL, *[60 * (LOAD_W + 0.1)] * 10, *[0] * 5])
    opened_J = 0.5 * 4 * 1.5
    assert found.value == pytest.approx(
        25 * 60 * LOAD_W + 60 + 0.5 * (60 - opened_J), abs=0.05)
    assert found.u > 0.5 * (60 - opened_J) / 3**0.5


def test_just_after_a_light_is_no_rest_as_the_valve_is_still_pressed_shut():
    rest = [(STANDSTILL, NIGHT, 0)] * 11
    found = load_of([(CLOSING, NIGHT, 0), *rest, (PUMPING, DAY, 0)],
                    [12, 12 + 1.2, *[12] * 10, 0])
    # By day as in the ten minutes behind it: 12 J, not 12.1.
    assert found.value == pytest.approx(12 * 12 + 1.2 + 12, abs=0.01)


def test_a_valve_whose_place_nothing_reads_went_anywhere_from_none_to_all_of_its_travel():
    by_day = [(RUNNING, DAY, 0.5), (CLOSING, DAY, 0.0), (STANDSTILL, DAY, 0.0)]
    found = load_of(REST + by_day, [*STILL, 0, 0, 0], ALL - {"valve_position"})
    # Two moves of half a travel and the press: as above; each half is half a travel unsure.
    assert found.value == pytest.approx(13 * 60 * LOAD_W + 7.2, abs=0.01)
    assert found.parts["way of the valve, which nothing reads"] == pytest.approx(6 / 3**0.5)


def test_where_it_never_rested_what_a_light_takes_less_its_moves_is_the_load():
    steps = [(RUNNING, NIGHT, 0.0), *[(RUNNING, NIGHT, 0.5)] * 9, (PUMPING, DAY, 0.5)]
    found = load_of(steps, [12, 12 + 3, *[12] * 8, 0])
    assert found.value == pytest.approx(11 * 12 + 3, abs=0.05)


def test_what_holds_a_light_follows_from_the_valve_as_described():
    # 30 moves an hour of 20 ms and a play of 0.4 % of 4 s, 36 ms, at 1.5 W: 0.45 mW.
    part = SimpleNamespace(rig=plant.DEMO)
    assert _Seen(part).holding_W() == pytest.approx(30 * 0.036 * 1.5 / 3600)
