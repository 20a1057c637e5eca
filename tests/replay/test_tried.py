"""Other settings on a recorded day: they change exactly what they should.

The day is one on which the motor's jacket is blocked: 26-MOT trips three times at 55 degC.
What other limits would really have done is known of it: the twin plays the same day with them.
"""

import functools
from datetime import UTC

import numpy as np
import pytest

from forebay.replay.asked import replayed
from forebay.replay.comparing import events_of
from forebay.replay.figures import figures_of
from forebay.replay.text import document, lines, notes
from forebay.replay.trying import ReplayError, changes, with_set
from forebay.rig import load
from forebay.rig.loading import RigError
from keeper import channels as ch
from keeper.clock import PERIOD_MS
from keeper.protection import elements
from tests.replay.limits import limits
from tests.replay.played import PUMPING_S, span
from tests.replay.warm import stage

HOURS, LIT_H = 2.5, 4.5
JACKET = ((PUMPING_S, "jacket-blocked"),)
TICKS_PER_S = 10
TWO_ROWS_S = 20.0        # of a pump that runs
SENSOR_K = 0.5           # the sensor's standard uncertainty, design.md: a fit is no worse


@functools.cache
def outcome(*pairs, fault=JACKET, hours=HOURS):
    return replayed(span(fault, hours), with_set(load(), pairs), lambda done, total: None, stage())


def when_s(events, words):
    return [one.tick / TICKS_PER_S for one in events if one.words == words]


def recorded_trips_s(days):
    return when_s(events_of(days.journal, days.time.event, days.time, days.settings,
                            days.begin + 1, days.end), "26-MOT acted")


def crossed_s(days, degC):
    """Returns when the rows' means of the motor first cross a temperature, by a straight line."""
    rows = days.journal.rows
    middles_s = (days.time.row_first + days.time.row_last) / 2 / TICKS_PER_S
    means = rows.si(ch.MOTOR_MDEGC)
    place = int(np.argmax(means > degC))
    return float(np.interp(degC, means[place - 1:place + 1], middles_s[place - 1:place + 1]))


def test_a_lower_limit_trips_where_the_record_crosses_it():
    found = outcome("motor.trip_temperature=50")
    assert [one.name for one in found.tried][0] == "motor_trip_mdegC"
    first = min(when_s(found.apart.new, "26-MOT acted")
                + [new.tick / TICKS_PER_S for old, new in found.shifted
                   if new.words == "26-MOT acted"])
    assert first == pytest.approx(crossed_s(found.span, 50.0), abs=TWO_ROWS_S)
    # Before that nothing is otherwise.
    changed = [one.tick for one in [*found.apart.gone, *found.apart.new]]
    changed += [min(old.tick, new.tick) for old, new in found.shifted]
    assert min(changed) / TICKS_PER_S >= first - 1.0


def test_a_higher_limit_does_not_trip_and_says_from_when_on_that_is_modelled():
    found = outcome("motor.trip_temperature=62")
    trip_s = recorded_trips_s(found.span)[0]
    parted = found.came.told["parted"][0]
    assert parted["tick"] / TICKS_PER_S == pytest.approx(trip_s, abs=TWO_ROWS_S + 1.0)
    assert parted["doubt"]["motor_K"] < SENSOR_K
    hottest = found.now["hottest_degC"]
    assert hottest is not None
    assert hottest > 55.5
    said = " ".join(notes(found, UTC))
    assert "not recorded but modelled" in said
    assert "pumping goes on where the record left it: trip" in said
    # What was tried is told by the key that was given, with its unit.
    told = "\n".join(lines(found, UTC))
    assert "motor.trip_temperature: 55 degC -> 62 degC" in told
    assert "thermal_base" not in told


def test_a_limit_that_the_day_never_reached_changes_nothing():
    found = outcome("generator.trip_voltage=14")
    assert "generator_trip_mV" in [one.name for one in found.tried]
    assert not found.apart.gone
    assert not found.apart.new
    assert not found.shifted
    assert found.now == found.same
    assert found.came.told["parted"] == []


@functools.cache
def ends(element):
    """Returns (the least, the greatest) that the rig's checks let a limit of an element be."""
    found = [one for one in limits(load(), (element,)) if "delay" not in one.name]
    return min(found, key=lambda one: one.tried), max(found, key=lambda one: one.tried)


def test_a_limit_raised_above_all_that_was_read_makes_its_element_act_and_nothing_else():
    most = ends("23-CLD")[1]
    found = outcome(most.pair)
    water_mdegC = found.span.journal.rows.si(ch.WATER_MDEGC).max() * 1e3
    assert most.tried > water_mdegC
    assert [one.words for one in found.apart.new] == ["23-CLD acted"]
    assert found.apart.gone == found.shifted == []
    begin, delay_ticks = found.span.begin, elements.COLD_MS // PERIOD_MS
    assert found.apart.new[0].tick == pytest.approx(begin + delay_ticks, abs=TICKS_PER_S)


def test_a_limit_lowered_below_all_that_was_read_changes_nothing():
    least = ends("27-SUP")[0]
    found = outcome(least.pair)
    assert least.tried < found.span.journal.rows.si(ch.SUPPLY_MV).min() * 1e3
    assert found.apart.gone == found.apart.new == found.shifted == []


def test_of_every_element_a_key_moves_its_limit_both_ways_or_as_far_as_it_may():
    # Found in the table, so that a row that is added is tried too (tests.bench.replay limits).
    found = list(limits(load(), ("26-MOT", "23-WTR")))
    assert {(one.name, one.tried > one.was) for one in found} == {
        ("motor_trip_mdegC", False), ("motor_trip_mdegC", True), ("motor_delay_ms", False),
        ("motor_delay_ms", True), ("freeze_mdegC", False), ("freeze_mdegC", True)}


def test_fewer_retries_lock_out_sooner_and_change_nothing_before():
    air = ((PUMPING_S, "air-in-pump"),)
    found = outcome("limits.trip_retries=1", fault=air, hours=2.0)
    # The second trip is then one too many; the third and fourth do not come.
    words = [one.words for one in found.apart.gone]
    assert words.count("37-PMP acted") == 2
    assert (found.same["trips"], found.now["trips"]) == (4, 2)
    assert found.now["lockouts"] == 1


@pytest.mark.parametrize(("pair", "fault", "hours", "keys"), [
    ("motor.trip_temperature=50", JACKET, HOURS, ("up_L", "hottest_degC")),
    ("motor.trip_temperature=60", JACKET, HOURS, ("up_L", "hottest_degC")),
    ("night.setpoint=0.3", (), LIT_H, ("down_L", "lamps_Wh")),
])
def test_what_is_modelled_is_nearer_to_the_truth_than_the_record(pair, fault, hours, keys):
    found = outcome(pair, fault=fault, hours=hours)
    days = span(fault, hours, (pair,))
    true = figures_of(days.journal.rows, [], days.rig.plant(), days.settings)
    for key in keys:
        now, was, meant = found.now[key], found.was[key], true[key]
        assert now is not None
        assert was is not None
        assert meant is not None
        assert abs(now - meant) < abs(was - meant)


def test_a_figure_of_the_rig_is_no_setting():
    rig = load()
    with pytest.raises(ReplayError, match="rising_main.length"):
        changes(rig, with_set(rig, ('rising_main.length="30 m"',)))


def test_a_key_that_is_none_is_told_with_the_one_that_was_meant():
    with pytest.raises(ReplayError, match="did you mean motor.trip_temperature"):
        with_set(load(), ("motor.trip_temperatur=50",))


def test_a_value_that_may_not_be_is_told_with_its_range():
    with pytest.raises(RigError, match="motor.trip_temperature"):
        with_set(load(), ("motor.trip_temperature=400",))


def test_text_fits_eighty_columns_and_the_document_says_the_same():
    found = outcome("motor.trip_temperature=62")
    assert max(map(len, lines(found, UTC))) <= 80
    told = document(found)
    assert told["recorded_events"] == found.again.recorded
    assert told["modelled"][0]["carried"]["motor_K"] < SENSOR_K
