"""The parts of a replay alone: waves of knots, and whether keeper and record are in step."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from forebay.replay import comparing
from forebay.replay.comparing import Event, Undecidable
from forebay.replay.engine.aligning import IN_STEP, LATE, PARTED, SETTLING_TICKS, Alignment
from forebay.replay.engine.edges import AT_EDGE, BELOW, BEYOND, Edges
from forebay.replay.engine.following import Line, Step, Within
from forebay.replay.knots import Hold, held, in_order, value_at, without_glitches
from forebay.replay.sound import refuse_unsound
from forebay.replay.trying import ReplayError
from forebay.shelf.decode import decode
from forebay.shelf.rows import Rows
from keeper import events as ev
from keeper import modes
from keeper.protection import derived as dv
from keeper.protection import elements as el

ROW_TICKS = [600 if state == modes.STANDSTILL else 100 for state in range(len(modes.STATES))]
# Stands, pumps from tick 1001 on, trips at 2000, stands.
RUNS = [(1, 1000, modes.STANDSTILL, modes.SUN_ENOUGH),
        (1001, 2000, modes.PUMPING, modes.TRIPPED), (2001, 9000, modes.STANDSTILL, None)]

knots = some.lists(some.tuples(some.integers(0, 500), some.floats(-1e4, 1e4)), min_size=2,
                   max_size=20).map(in_order)


@given(knots, some.lists(some.integers(-50, 600), min_size=1, max_size=20))
def test_a_line_is_numpys_interpolation_in_whatever_order_it_is_asked(points, asked):
    line = Line([tick for tick, _ in points], [value for _, value in points])
    expected = np.interp(asked, line.ticks, line.values)
    assert [line.at(tick) for tick in asked] == pytest.approx(expected.tolist())


@given(knots, some.integers(0, 500), some.integers(0, 60), some.floats(-1e4, 1e4))
def test_a_reading_that_was_held_stands_and_leaves_the_rest_as_it_was(points, first, length,
                                                                      value):
    hold = Hold(first, first + length, value, True)
    found = held(points, hold)
    ticks = [tick for tick, _ in found]
    assert ticks == sorted(set(ticks))
    for tick in range(hold.first, hold.last + 1):
        assert value_at(found, tick) == pytest.approx(value)
    for tick in range(-20, 600):
        if not hold.first - 1 <= tick <= hold.last + 1 and (
                ticks[0] <= tick <= ticks[-1] and points[0][0] <= tick <= points[-1][0]):
            assert value_at(found, tick) == pytest.approx(value_at(points, tick), abs=1e-6)


def test_a_step_holds_its_value_from_its_tick_on_and_asked_backwards_too():
    step = Step([0, 10, 20], [1, 0, 1])
    assert [step.at(tick) for tick in (0, 9, 10, 19, 20, 99, 10, 0)] == [1, 1, 0, 0, 1, 1, 0, 1]


def test_spans_hold_their_ends():
    spans = Within([(20, 30), (5, 8)])
    assert [tick for tick in range(40) if spans.at(tick)] == [5, 6, 7, 8, *range(20, 31)]


def test_a_contact_that_reads_open_once_alone_opened_nothing():
    assert without_glitches([(1, 1), (2, 0), (3, 1)], 1) == [(1, 1), (3, 1)]
    assert without_glitches([(1, 1), (2, 0), (3, 0), (4, 1)], 1) == [
        (1, 1), (2, 0), (3, 0), (4, 1)]


def settled(tick):
    align = Alignment(RUNS, tick, ROW_TICKS)
    align.settling = 0
    return align


def test_who_does_what_the_record_did_reads_tick_by_tick():
    align = settled(998)
    states = [modes.STANDSTILL, modes.STANDSTILL, modes.PUMPING, modes.PUMPING]
    assert [align.go_on(state) for state in states] == [IN_STEP] * 4
    assert align.tick == 1002


def test_the_record_waits_for_who_is_late_but_no_longer_than_two_rows():
    align = settled(2000)
    found = [align.go_on(modes.PUMPING) for _ in range(201)]
    assert align.tick == 2000
    assert found == [LATE] * 200 + [PARTED]
    align = settled(2000)
    align.go_on(modes.PUMPING)
    assert align.go_on(modes.STANDSTILL) == IN_STEP
    assert align.tick == 2001


def test_the_record_leaps_to_who_is_early_but_no_further_than_two_rows():
    align = settled(1850)
    assert align.go_on(modes.STANDSTILL) == IN_STEP
    assert align.tick == 2001
    assert settled(1790).go_on(modes.STANDSTILL) == PARTED


def test_who_does_something_else_has_parted():
    assert settled(1500).go_on(modes.RUNNING) == PARTED


def test_who_has_just_started_may_shut_its_valve_first():
    align = Alignment(RUNS, 100, ROW_TICKS)
    assert [align.go_on(modes.CLOSING) for _ in range(SETTLING_TICKS)] == [
        IN_STEP] * SETTLING_TICKS
    assert align.go_on(modes.CLOSING) == PARTED


def refused(states=(0, 0), row_last=(100, 200), event=(), span_s=20.0):
    """Judges two rows and one event (code, argument, argument 2)."""
    rows, table = Rows.empty(2), np.zeros(1 if event else 0, decode([]).events.dtype)
    rows.state[:] = states
    if event:
        table["code"], table["argument"], table["argument2"] = event
    time: Any = SimpleNamespace(row_last=np.array(row_last), begin=0, end=row_last[-1])
    journal: Any = SimpleNamespace(rows=rows, events=table)
    refuse_unsound(journal, time, span_s)


@pytest.mark.parametrize("event", [(), (ev.STATE, modes.PUMPING, modes.TOO_WEAK),
                                   (ev.ACTED, el.ROWS, 99), (ev.READING_BAD, 0, 0)])
def test_what_a_keeper_writes_is_replayed(event):
    refused(event=event)


@pytest.mark.parametrize(("given", "said"), [
    ({"states": (0, 59)}, "a state 59, and a keeper knows 0 to 6"),
    ({"event": (ev.STATE, 44, 0)}, "the argument 44"),
    ({"event": (ev.STATE, 0, -1)}, "the argument2 -1"),
    ({"event": (ev.ACTED, 0, 0)}, "the argument 0"),
    ({"event": (ev.LET_GO, el.ROWS + 1, 0)}, f"the argument {el.ROWS + 1}"),
    ({"event": (ev.READING_BAD, 0, 77)}, "the argument2 77"),
    ({"row_last": (200, 200)}, "do not follow each other"),
    ({"row_last": (100, 2**31)}, "last longer than the time"),
])
def test_what_no_keeper_writes_is_not_replayed(given, said):
    """A simulation that was given it ended by itself, or would have run for years."""
    with pytest.raises(ReplayError, match=f"cannot be replayed: .*{said}"):
        refused(**given)


@pytest.mark.parametrize(("gaps_mm", "kinds"), [
    ([0, 22], [BELOW]), ([0, 23, 25, 26, 27], [BELOW, AT_EDGE]),
    ([0, 26, 28, 26, 0], [BELOW, AT_EDGE, BEYOND, AT_EDGE, BELOW])])
def test_what_two_levels_tell_is_at_its_limit_within_a_millimetre_of_each(gaps_mm, kinds):
    """3-VOL used to come of 26 mm where the record had 25, by the first millimetre of a level."""
    row = (el.number("3-VOL") - 1, dv.LEVEL_GAP, 1, 25, 25, 0)
    keeper: Any = SimpleNamespace(values=[0] * dv.VALUES, uptime_ds=0, core=SimpleNamespace(
        protection=SimpleNamespace(rows=[row])))
    edges = Edges(20)
    for tick, gap_mm in enumerate(gaps_mm):
        keeper.values[dv.LEVEL_GAP] = gap_mm
        edges.look(tick, keeper)
    assert edges.found[el.number("3-VOL")][1] == kinds


@pytest.mark.parametrize(("kinds", "why"), [
    ([BELOW, AT_EDGE], "its level is no further"), ([BELOW, AT_EDGE, BEYOND], ""), ([BELOW], "")])
def test_an_element_that_came_no_further_than_the_edge_is_undecided(kinds, why):
    number = el.number("3-VOL")
    event = Event(5000, (ev.ACTED, number), number, 7000, 600, 4900)
    journal: Any = SimpleNamespace(events=np.zeros(0, [("code", int)]))
    run = SimpleNamespace(last=9, state=modes.STANDSTILL)
    time: Any = SimpleNamespace(event=np.zeros(0, int), gaps=[], runs=[run],
                                starts=[SimpleNamespace(is_whole=True)])
    days: Any = SimpleNamespace(begin=0, journal=journal, time=time,
                                waves=SimpleNamespace(spells=[]))
    ticks = [0, 4900, 4990][:len(kinds)]
    came: Any = SimpleNamespace(told={"edges": [(number, (ticks, kinds))], "astray": []})
    assert Undecidable(days, came, 100, True).of(event, 100).startswith(why)
    assert bool(Undecidable(days, came, 100, True).of(event)) == bool(why)


def edge_of_starts(slips, limit_milli=19_500, per_hour=20):
    """What is found of 66-PMP when the record leaps ahead of the keeper: (scan, by ticks)."""
    number = el.number("66-PMP")
    row = (number - 1, dv.STARTS_MILLI, 1, limit_milli, limit_milli, 0)
    keeper: Any = SimpleNamespace(values=[0] * dv.VALUES, core=SimpleNamespace(
        protection=SimpleNamespace(rows=[row])))
    edges, ahead = Edges(per_hour), 0
    for scan, milli in enumerate((0, 5000, limit_milli - 30, limit_milli + 30)):
        ahead += slips.get(scan, 0)
        keeper.uptime_ds, keeper.values[dv.STARTS_MILLI] = scan, milli
        edges.look(scan + ahead, keeper)
    return edges.found[number][1]


@pytest.mark.parametrize(("slips", "kinds"), [
    ({}, [BELOW, BEYOND]),
    # 20 an hour run out by 1000 milli in 180 s: 60 ticks that were leapt are 33 of them.
    ({1: 60}, [BELOW, AT_EDGE]), ({1: 30, 2: -30}, [BELOW, BEYOND]),
    # Before any start counted it does not matter.
    ({0: 60}, [BELOW, BEYOND])])
def test_starts_are_known_within_what_runs_out_in_the_time_that_was_leapt(slips, kinds):
    """66-PMP once came 90 s early: of 38 starts none had run out while the record leapt."""
    assert edge_of_starts(slips) == kinds


@pytest.mark.parametrize(("astray", "since", "why"), [
    ((5000, 6000), 5500, "the replay is out of step"), ((5000, 6000), 5900, "the replay is out"),
    ((5000, 6000), 6200, ""), ((100, 6000), 5500, "")])
def test_what_comes_while_something_recurs_untold_is_undecided(monkeypatch, astray, since, why):
    """A stop that failed at random once brought 3-VOL and 3-THM that never were, and a lockout."""
    number = el.number("3-VOL")
    monkeypatch.setattr(comparing, "recurring", lambda *_: [(el.number("71H-UP"), 4000, 9000)])
    run = SimpleNamespace(first=0, last=9, state=modes.STANDSTILL)
    time: Any = SimpleNamespace(gaps=[], runs=[run], starts=[SimpleNamespace(is_whole=True)])
    days: Any = SimpleNamespace(begin=0, journal=None, time=time, waves=SimpleNamespace(spells=[]))
    came: Any = SimpleNamespace(told={"edges": [], "astray": [astray]})
    event = Event(since + 700, (ev.ACTED, number), number, 7000, 600, since)
    assert Undecidable(days, came, 100, True).of(event).startswith(why)
    assert bool(Undecidable(days, came, 100, True).of(event)) == bool(why)
