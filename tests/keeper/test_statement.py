"""The table of protection against the statement of it; every element in every state.

Readings go in raw; what an element then does, and where, is the statement's
word, not that of the row under test.
"""

import pytest

from forebay.words.protection import ACTIONS
from keeper import channels as ch
from keeper import events as ev
from keeper.protection import elements as el
from tests.keeper import statement as said
from tests.keeper.stimuli import SHOWN, SIDE, STATE, VALUE_NAMES, Judged, delay_scans

every_element = pytest.mark.parametrize("name", said.IDS)
WHERE = {said.AT_RIG: el.AT_RIG, said.ANYWHERE: el.ANYWHERE}
# Actions as the wire and the journal have them.
DOES: dict[str, int] = dict(zip(said.ACTIONS, range(1, 6), strict=True))


def index_of(name):
    return el.number(name) - 1


def test_every_element_is_stated_and_has_readings_that_bring_it_on():
    assert said.IDS == tuple(row[el.E_ID] for row in el.ELEMENTS)
    assert set(SHOWN) == set(said.IDS)
    assert {action.name: number for number, action in ACTIONS.items()} == DOES


@every_element
def test_the_table_says_what_the_statement_says(name):
    row, wanted = el.ELEMENTS[index_of(name)], said.BY_ID[name]
    assert VALUE_NAMES[row[el.E_VALUE]] == wanted.value
    assert row[el.E_SENSE] == wanted.sense
    assert (row[el.E_PICKUP], row[el.E_RESET]) == (wanted.pickup, wanted.reset)
    assert row[el.E_DELAY_MS] == wanted.delay
    assert {state for state, place in STATE.items() if row[el.E_ARMED] >> place & 1} == set(
        wanted.armed)
    assert row[el.E_ACTION] == DOES[wanted.does]
    assert row[el.E_TARGET] == SIDE[wanted.side]
    assert row[el.E_RETRIES] == ("trip_retries" if wanted.does == said.TRIP else 0)
    assert row[el.E_WHERE] == WHERE[wanted.who]


@pytest.mark.parametrize("state", STATE)
@every_element
def test_it_acts_after_its_delay_where_it_is_armed_and_nowhere_else(name, state):
    shown, index, wanted = SHOWN[name], index_of(name), said.BY_ID[name]
    judged = Judged(state, name)
    protection = judged.protection
    delay = delay_scans(name, judged.settings)
    judged.show(shown.beyond, delay)
    assert not protection.acting[index]
    judged.show(shown.beyond)
    acts = state in wanted.armed
    assert bool(protection.acting[index]) == acts
    side = SIDE[wanted.side] if acts else 0
    assert protection.struck[index] == int(acts and wanted.does in said.COUNTS)
    assert protection.hold & side == (side if wanted.does in said.ENDS else 0)
    assert (protection.hold | protection.inhibit) & side == (
        side if wanted.does in said.BARS else 0)
    assert protection.tripped & side == (side if wanted.does in said.COUNTS else 0)
    told = (ev.ACTED, index + 1, DOES[wanted.does], STATE[state], judged.uptime_ds)
    assert (told in [tuple(slot[:5]) for slot in judged.events.slots]) == acts
    judged.show(shown.beyond)
    assert protection.struck[index] == 0  # in the scan in which it acts, and in no other
    assert protection.tripped & side == 0


@every_element
def test_nothing_else_is_held_off_by_it(name):
    """Judged where nothing but this element sees the readings beyond its limit."""
    wanted, shown = said.BY_ID[name], SHOWN[name]
    judged = Judged(wanted.armed[0], name)
    judged.show(shown.beyond, delay_scans(name, judged.settings) + 1)
    acting = [other for other in said.IDS if judged.protection.acting[index_of(other)]]
    ended = {side for other in acting if said.BY_ID[other].does in said.ENDS
             for side in said.BY_ID[other].side}
    barred = {side for other in acting if said.BY_ID[other].does == said.INHIBIT
              for side in said.BY_ID[other].side}
    assert name in acting
    assert judged.protection.hold == sum(SIDE[side,] for side in ended)
    assert judged.protection.inhibit == sum(SIDE[side,] for side in barred)


@every_element
def test_readings_at_its_limit_are_none_of_its_business(name):
    shown = SHOWN[name]
    for state in said.BY_ID[name].armed:
        judged = Judged(state, name)
        judged.show(shown.edge, 2 * delay_scans(name, judged.settings) + 10)
        assert not judged.protection.acting[index_of(name)]
        assert not judged.protection.count[index_of(name)]


@every_element
def test_it_lets_go_inside_its_reset_and_not_before(name):
    shown, index = SHOWN[name], index_of(name)
    for state in said.BY_ID[name].armed:
        judged = Judged(state, name)
        delay = delay_scans(name, judged.settings)
        judged.show(shown.beyond, delay + 1)
        if shown.held:
            judged.show(shown.held, 3 * delay + 10)
            assert judged.protection.acting[index]
        inside = shown.inside if shown.inside is not None else shown.edge
        judged.show(inside, 2 * delay + 1)
        assert judged.protection.acting[index]  # two steps up for each, one down
        judged.show(inside)
        assert not judged.protection.acting[index]


@pytest.mark.parametrize("name", [row.id for row in said.STATEMENT if row.sense == "?"])
def test_a_sensor_s_own_element_tells_its_channel_and_the_reason(name):
    judged = Judged("standstill", name)
    place = SHOWN[name].beyond[0][0]
    judged.why[place] = ch.STALE
    judged.show(SHOWN[name].beyond, delay_scans(name, judged.settings) + 1)
    told = [tuple(slot[1:5]) for slot in judged.events.slots if slot[0] == ev.READING_BAD]
    assert told == [(place, ch.STALE, STATE["standstill"], judged.uptime_ds)]


@every_element
def test_after_a_restart_what_was_hot_or_empty_is_so_until_it_has_come_back(name):
    """Between reset and pickup: no trip is counted, but nothing starts either."""
    shown, index = SHOWN[name], index_of(name)
    judged = Judged("standstill", name, begun=False)
    judged.show(shown.held or shown.edge)
    stays = name in said.STAYS_OVER_A_RESTART
    assert bool(judged.protection.acting[index]) == stays
    assert judged.protection.tripped == 0
    side = SIDE[said.BY_ID[name].side] if stays else 0
    assert judged.protection.hold & side == side


@pytest.mark.parametrize("name", said.STAYS_OVER_A_RESTART)
def test_after_a_restart_a_value_inside_its_reset_or_unknown_says_nothing(name):
    shown = SHOWN[name]
    readings = [shown.inside]
    if shown.inside[0][0] is not None:
        readings.append(((shown.inside[0][0], ch.INVALID),))
    for reading in readings:
        judged = Judged("standstill", name, begun=False)
        judged.show(reading)
        assert not judged.protection.acting[index_of(name)]


def test_two_trips_of_one_scan_strike_both_sides():
    judged = Judged("standstill", "26-MOT")
    hot, volts = SHOWN["26-MOT"].beyond, SHOWN["59-GEN"].beyond
    later = delay_scans("26-MOT", judged.settings) - delay_scans("59-GEN", judged.settings)
    judged.show(hot, later)
    judged.show((*hot, *volts), delay_scans("59-GEN", judged.settings))
    assert judged.protection.tripped == 0
    judged.show((*hot, *volts))
    assert judged.protection.tripped == judged.protection.hold == SIDE[said.BOTH]
    assert [name for name in said.IDS if judged.protection.struck[index_of(name)]] == [
        "26-MOT", "59-GEN"]
    assert judged.protection.first == el.number("26-MOT")  # of one scan the first in the table
