"""What a keeper finds of its memory: each number back in its place, or the worst for true."""

import pytest

from keeper import modes
from keeper import settings as st
from keeper.channels import ALL_FITTED, LEVEL_MM, VALVE_PERMILLE
from keeper.journal.opening import open_journal
from keeper.keeper import Keeper
from keeper.operation.night import LESSONS
from keeper.protection import elements as el
from keeper.protection.judging import ROWS
from keeper.protection.lockout import Lockout
from tests.keeper.keeping import (
    CURVE,
    LEARNED,
    MIN,
    MORE,
    NAMES,
    POINTS,
    TRIPS,
    elements_mark,
    night_mark,
    place,
    saved,
    start,
)
from tests.keeper.scripted import NUMBERS, ScriptedBoard, settings_with

__all__ = ["start"]

DAY_MIN, WEEK_MIN = 1440, 10080
TEN_MINUTES_DS = 6000
# Above what 49-MOT acts at, a thousandth of the heat that trips in the table of elements.
HOT = 1000 * el.THERMAL_TRIP


def is_worst(keeper):
    """Whether a keeper takes the worst for true: locked out, motor hot, counter full."""
    core = keeper.core
    lockout = core.sequence.lockout
    # Of an unknown cause: only at the rig can it be reset.
    return (lockout.sides == el.BOTH and lockout.element == el.NO_ELEMENT
            and lockout.only_at_rig() and core.derived.heat.heat > HOT
            and core.derived.starts.milli == core.derived.starts.full)


# Back to its place


def test_every_number_goes_back_to_where_it_came_from(start):
    keeper = start(saved(lockout=el.BOTH, lockout_element=5, first_out=7, starts_milli=1234,
                        heat=70001, last_night_min=654, maintenance=1, forbidden_min=3,
                        drain_min=8, trips=(("26-MOT", 2), ("80-VLV", 3))))
    sequence, derived = keeper.core.sequence, keeper.core.derived
    lockout = sequence.lockout
    assert (lockout.sides, lockout.element) == (el.BOTH, 5)
    assert keeper.first_out == 7
    assert (derived.starts.milli, derived.heat.heat) == (1234, 70001)
    assert sequence.light.last_night_min == 654
    assert sequence.maintenance is True
    assert (sequence.forbidden_periods, sequence.drain_periods) == (3 * MIN, 8 * MIN)
    assert keeper.night.curve == LEARNED
    trips = {index + 1: count for index, count in enumerate(lockout.trips) if count}
    assert trips == {el.number("26-MOT"): 2, el.number("80-VLV"): 3}
    assert lockout.counted == 2
    assert not is_worst(keeper)


def test_what_was_restored_is_what_would_be_saved_again(start):
    values = saved(lockout=el.BOTH, lockout_element=5, first_out=7, starts_milli=1234, heat=70001,
                  last_night_min=654, maintenance=1, forbidden_min=3, drain_min=8,
                  trips=(("26-MOT", 2),))
    assert start(values).retained.values() == values


def test_a_file_names_each_number_in_its_place(start):
    keeper = start(saved())
    core = keeper.core
    sequence = core.sequence
    sequence.lockout.sides, sequence.lockout.element = el.BOTH, 6
    core.protection.first = 9
    core.derived.starts.milli, core.derived.heat.heat = 777, 4321
    sequence.light.last_night_min = 600
    sequence.maintenance = True
    sequence.lockout.trips[3] = 2
    keeper.night.curve = list(reversed(LEARNED))
    assert keeper.retained.values() == saved(
        lockout=el.BOTH, lockout_element=6, first_out=9, starts_milli=777, heat=4321,
        last_night_min=600, maintenance=1, curve=LEARNED[::-1],
        trips=((el.ELEMENTS[3][el.E_ID], 2),))


@pytest.mark.parametrize(("scans", "minutes"), [
    (0, 0), (1, 1), (MIN - 1, 1), (MIN, 1), (MIN + 1, 2), (2 * MIN, 2)])
def test_an_order_that_bars_is_never_shorter_after_a_restart(start, scans, minutes):
    keeper = start(saved())
    sequence = keeper.core.sequence
    sequence.forbidden_periods, sequence.drain_periods = scans, 0
    assert keeper.retained.values() == saved(forbidden_min=minutes)
    sequence.forbidden_periods, sequence.drain_periods = 0, scans
    assert keeper.retained.values() == saved(drain_min=minutes)


@pytest.mark.parametrize(("attribute", "of_keeper"), [("held_safe", False), ("leaving", True)])
def test_maintenance_that_ends_with_this_start_is_not_kept(start, attribute, of_keeper):
    keeper = start(saved())
    sequence = keeper.core.sequence
    sequence.maintenance = True
    assert keeper.retained.values() == saved(maintenance=1)
    setattr(keeper if of_keeper else sequence, attribute, True)
    assert keeper.retained.values() == saved(maintenance=0)


@pytest.mark.parametrize("number", [0, 2])
def test_only_a_one_means_maintenance(start, number):
    assert start(saved(maintenance=number)).core.sequence.maintenance is False


def sides_of(element):
    target = el.ELEMENTS[el.number(element) - 1][el.E_TARGET]
    return [bool(target & el.PUMP), bool(target & el.TURBINE)]


@pytest.mark.parametrize(("element", "sides"), [
    ("26-MOT", [True, False]), ("80-VLV", [False, True]), ("3-SW", [True, True])])
def test_after_a_restart_the_side_that_had_tripped_waits_as_long_as_after_a_trip(
        start, element, sides):
    assert sides_of(element) == sides
    wait_scans = 10 * settings_with()[st.index("trip_wait_s")]
    keeper = start(saved(trips=((element, 1),)))
    assert keeper.core.sequence.wait_periods == [wait_scans if side else 0 for side in sides]


def test_without_a_trip_no_side_waits(start):
    assert start(saved()).core.sequence.wait_periods == [0, 0]


def test_trips_restored_run_out_with_their_window(start):
    keeper = start(saved(trips=(("26-MOT", 1), ("80-VLV", 1))))
    lockout = keeper.core.sequence.lockout
    lockout.pass_time(10 * settings_with()[st.index("trip_window_s")])
    assert sum(lockout.trips) == lockout.counted == 0


def test_a_trip_more_after_a_restart_counts_on(start):
    retries = settings_with()[st.index("trip_retries")]
    keeper = start(saved(trips=(("26-MOT", retries),)))
    core = keeper.core
    place = el.number("26-MOT") - 1
    core.protection.struck[place] = 1
    assert core.protection.action[place] == el.TRIP
    lockout: Lockout = core.sequence.lockout
    lockout.count(core.protection)
    assert (lockout.sides, lockout.element) == (el.BOTH, place + 1)
    assert lockout.counted == 1


# Another firmware, another rig


def test_of_another_order_of_elements_the_lockout_holds_and_no_element_is_blamed(start):
    keeper = start(saved(lockout=el.BOTH, lockout_element=5, first_out=7, heat=70001,
                        elements_mark=elements_mark() ^ 1, trips=(("26-MOT", 2),)))
    sequence = keeper.core.sequence
    assert sequence.lockout.sides == el.BOTH
    assert sequence.lockout.element == el.NO_ELEMENT
    assert sequence.lockout.only_at_rig()
    assert keeper.first_out == 0
    assert sum(sequence.lockout.trips) == sequence.lockout.counted == 0
    assert sequence.wait_periods == [0, 0]
    assert keeper.core.derived.heat.heat == 70001
    assert keeper.night.curve == LEARNED


@pytest.mark.parametrize("more", [3, -2])
def test_of_a_program_with_other_elements_all_is_kept_but_the_trips_and_their_elements(
        start, more):
    values = saved(lockout=el.BOTH, lockout_element=5, starts_milli=1234, heat=70001,
                   forbidden_min=3, trips=(("26-MOT", 2),), elements_mark=elements_mark() ^ 1)
    keeper = start([*values, *[1] * more] if more > 0 else values[:more])
    sequence, derived = keeper.core.sequence, keeper.core.derived
    assert not is_worst(keeper) or derived.heat.heat == 70001
    assert (derived.starts.milli, derived.heat.heat) == (1234, 70001)
    assert sequence.forbidden_periods == 3 * MIN
    assert (sequence.lockout.sides, sequence.lockout.element) == (el.BOTH, el.NO_ELEMENT)
    assert sum(sequence.lockout.trips) == 0
    assert keeper.night.curve == LEARNED


def test_a_program_with_other_elements_does_not_lock_a_healthy_rig_out(start):
    keeper = start([*saved(elements_mark=elements_mark() ^ 1), 0])
    assert keeper.core.sequence.lockout.sides == 0
    assert keeper.core.derived.heat.heat == 0


def test_numbers_that_another_program_keeps_behind_ours_are_passed_over(start):
    """A step back to an older slot: its file has a number more in front of the curve."""
    values = saved(heat=70001, trips=(("26-MOT", 2),))
    longer = [len(NAMES) + 1, *values[1:CURVE.start], 77, *values[CURVE.start:]]
    keeper = start(longer)
    assert keeper.core.derived.heat.heat == 70001
    assert keeper.night.curve == LEARNED
    assert sum(keeper.core.sequence.lockout.trips) == 2


def test_a_number_that_an_older_program_did_not_keep_counts_as_nothing(start):
    values = saved(heat=70001, trips=(("26-MOT", 2),))
    shorter = [len(NAMES) - 1, *values[1:CURVE.start - 1], *values[CURVE.start:]]
    keeper = start(shorter)
    assert keeper.core.derived.heat.heat == 70001
    assert sum(keeper.core.sequence.lockout.trips) == 2


def test_what_another_rigs_nights_taught_is_not_taken_and_all_else_is(start):
    keeper = start(saved(lockout=el.BOTH, lockout_element=5, night_mark=night_mark() ^ 1,
                        trips=(("26-MOT", 2),)))
    own = settings_with()
    first = st.index("specific_1_mJ_L")
    assert keeper.night.curve == own[first:first + POINTS]
    assert keeper.core.sequence.lockout.element == 5
    assert sum(keeper.core.sequence.lockout.trips) == 2


@pytest.mark.parametrize("place", range(POINTS))
def test_a_curve_with_a_point_of_nothing_is_not_taken(start, place):
    curve = [*LEARNED[:place], 0, *LEARNED[place + 1:]]
    keeper = start(saved(curve=curve))
    assert not is_worst(keeper)
    assert min(keeper.night.curve) > 0
    curve[place] = 1
    assert start(saved(curve=curve)).night.curve == curve


@pytest.mark.parametrize(("name", "is_own"), [
    ("rig_id", True), ("night_full_mW", True), ("specific_1_mJ_L", True),
    ("specific_5_mJ_L", True), ("specific_8_mJ_L", True), ("setpoint_mW", False),
    ("level_empty_mm", False), ("lit_mW", False)])
def test_a_rig_is_another_by_its_number_and_what_its_curve_began_with(name, is_own):
    changed = ((name, settings_with()[st.index(name)] + 1),)
    assert (night_mark(changed) != night_mark()) == is_own
    assert 0 <= night_mark(changed) <= 0x3FFFFFFF  # a small int of the board


# Water without a level, and a valve whose position nobody reads

FLOATS = (("fitted", ALL_FITTED & ~(1 << LEVEL_MM | 1 << VALVE_PERMILLE)),)


def test_lessons_and_water_go_back_to_where_they_came_from(start):
    keeper = start(saved(lessons=LESSONS, low_mL=300_000, high_mL=500_000), FLOATS)
    assert keeper.night.lessons == LESSONS
    assert (keeper.budget.tank.low_mL, keeper.budget.tank.high_mL) == (300_000, 500_000)
    keeper.core.sequence.state = modes.STANDSTILL
    assert keeper.retained.values() == saved(lessons=LESSONS, low_mL=300_000, high_mL=500_000)


def test_water_is_saved_as_soon_as_it_moves_as_what_then_holds(start):
    """Power may go at any time, and come at any other, with the valve where it stands."""
    keeper = start(saved(low_mL=300_000, high_mL=500_000), FLOATS)
    for state, low, high in ((modes.STANDSTILL, 300_000, 500_000), (modes.RUNNING, 0, 500_000),
                             (modes.STANDSTILL, 300_000, 500_000),
                             (modes.PUMPING, 300_000, 950_000)):
        keeper.core.sequence.state = state
        keeper.core.uptime_ds += 20
        assert keeper.retained.work()
        _, values = keeper.retained.memory.saved[-1]
        assert (values[place("low_mL")], values[place("high_mL")]) == (low, high)


def test_a_file_of_a_program_that_knew_no_water_leaves_it_unknown(start):
    values = saved()
    before = place("lessons")
    keeper = start([before - 1, *values[1:before], *values[CURVE.start:]], FLOATS)
    assert keeper.night.curve == LEARNED
    assert not keeper.budget.tank.is_known()
    assert keeper.night.lessons == 0
    assert keeper.core.governor.travels == keeper.core.governor.told


def test_water_of_another_rig_is_unknown(start):
    keeper = start(saved(low_mL=3, high_mL=5, night_mark=night_mark() ^ 1), FLOATS)
    assert not keeper.budget.tank.is_known()


def test_a_learned_table_of_travels_goes_back_within_its_bounds(start):
    told = {name: dict(NUMBERS)[f"{name}_permille"] for name in MORE[-POINTS:]}
    learned = {name: travel + 20 for name, travel in told.items()}
    keeper = start(saved(**learned), FLOATS)
    assert keeper.core.governor.travels == [0, *learned.values()]
    assert start(saved(**learned)).core.governor.travels == [0, *told.values()]  # it is read
    other = start(saved(**learned, travel_mark=1), FLOATS)
    assert other.core.governor.travels == [0, *told.values()]
    mad = start(saved(**{**learned, "travel_3": 1_000_000, "travel_4": -5}), FLOATS)
    assert mad.core.governor.travels[3:5] == [told["travel_3"] + 100, told["travel_4"] - 100]


# What cannot be


@pytest.mark.parametrize(("name", "legal", "illegal"), [
    ("lockout", (0, el.BOTH), (-1, el.PUMP, el.TURBINE, el.BOTH + 1)),
    ("lockout_element", (0, ROWS), (-1, ROWS + 1)),
    ("first_out", (0, ROWS), (-1, ROWS + 1)),
    ("starts_milli", (0, 121000), (-1, 121001)),  # one more than the 120 an hour allowed here
    ("heat", (0, (1 << 28) - 1), (-1, 1 << 28)),
    ("last_night_min", (0, DAY_MIN), (-1, DAY_MIN + 1)),
    ("forbidden_min", (0, WEEK_MIN), (-1, WEEK_MIN + 1)),
    ("drain_min", (0, WEEK_MIN), (-1, WEEK_MIN + 1)),
])
def test_a_number_that_no_keeper_would_save_means_that_nothing_is_known(
        start, name, legal, illegal):
    assert [is_worst(start(saved(**{name: value}))) for value in legal] == [False] * len(legal)
    assert [is_worst(start(saved(**{name: value}))) for value in illegal] == [True] * len(illegal)


@pytest.mark.parametrize("place", [CURVE.start, CURVE.stop - 1, TRIPS.start, TRIPS.stop - 1])
def test_neither_a_trip_nor_a_point_of_the_curve_is_negative(start, place):
    values = saved()
    values[place] = -1
    assert is_worst(start(values))


def test_a_board_that_remembers_nothing_takes_the_worst_for_true(start):
    keeper = start(None)
    assert is_worst(keeper)
    heat = keeper.core.derived.heat.heat
    assert heat <= HOT + HOT // 100  # cools within a time that a person waits
    values = keeper.retained.values()
    assert values[place("lockout")] == el.BOTH


def test_a_keeper_that_is_given_no_memory_is_not_locked_out_and_saves_nothing(tmp_path):
    journal = open_journal(str(tmp_path / "journal"), 12345, st.VERSION)
    keeper = Keeper(settings_with(), ScriptedBoard(), journal)
    assert not is_worst(keeper)
    assert keeper.core.sequence.lockout.sides == 0
    assert keeper.retained.failed() == 0
    for _ in range(50):
        keeper.core.sequence.lockout.trips[0] += 1
        keeper.core.uptime_ds += TEN_MINUTES_DS
        keeper.slack(0)
