"""Which state was in force between two totals, what counts as grown, and where legs end."""

import numpy as np
import pytest

from forebay.balance.spans import UNKNOWN_STATE, axis_of, legs, spans_of
from keeper import channels as ch
from keeper import events, modes
from keeper.modes import (
    CLOSING,
    DRAINING,
    MAINTENANCE,
    PUMPING,
    RUNNING,
    STANDSTILL,
    TRIAL,
)
from tests.balance.small import changed, happened, journal, kept, rows, totals

BOOT = (1, 0, events.BOOT, 0, CLOSING, totals())


def spans(some_events=(), some_totals=(), some_rows=None):
    one = journal(some_rows, happened(*some_events), kept(*some_totals))
    return spans_of(one, axis_of(one))


def told(found):
    """Returns [(begin [s], end [s], state)] of spans."""
    return [(float(a), float(b), int(state))
            for a, b, state in zip(found.begin_s, found.end_s, found.state, strict=True)]


def test_a_state_is_in_force_from_its_change_to_the_next():
    found = spans([BOOT, changed(1, 100, CLOSING, STANDSTILL, totals()),
                   changed(1, 500, STANDSTILL, TRIAL, totals()),
                   changed(1, 700, TRIAL, PUMPING, totals(up=5)),
                   changed(1, 900, PUMPING, STANDSTILL, totals(up=9))],
                  [(1, 1000, totals(up=9))])
    assert told(found) == [(0, 10, CLOSING), (10, 50, STANDSTILL), (50, 70, TRIAL),
                           (70, 90, PUMPING), (90, 100, STANDSTILL)]
    assert found.growth(ch.T_UP) == 9
    assert found.of((TRIAL, PUMPING)).growth(ch.T_UP) == 9
    assert found.of((PUMPING,)).growth(ch.T_UP) == 4
    assert found.of((TRIAL, PUMPING)).seconds == 40
    assert found.seconds == 100


def test_before_the_first_change_that_is_known_the_state_that_it_left_was_in_force():
    found = spans([changed(1, 700, PUMPING, STANDSTILL, totals(up=7))],
                  [(1, 100, totals(up=1)), (1, 400, totals(up=4)), (1, 900, totals(up=7))])
    assert told(found) == [(10, 40, PUMPING), (40, 70, PUMPING), (70, 90, STANDSTILL)]


def test_a_boot_is_not_known_by_the_changes_of_another():
    found = spans([changed(1, 300, STANDSTILL, PUMPING, totals())],
                  [(1, 600, totals(up=3)), (2, 100, totals(up=3)), (2, 400, totals(up=5))])
    assert told(found) == [(30, 60, PUMPING), (70, 100, UNKNOWN_STATE)]


def test_what_a_later_boot_left_says_nothing_of_the_one_before():
    found = spans([changed(2, 300, RUNNING, CLOSING, totals())],
                  [(1, 100, totals()), (1, 200, totals()), (2, 100, totals())])
    assert [state for _, _, state in told(found)] == [UNKNOWN_STATE, RUNNING]


def test_nothing_is_taken_over_a_start_that_is_known():
    # Before a start its own predecessor was in force, which that boot's records do not tell.
    found = spans([(1, 200, events.BOOT, 0, CLOSING, totals()),
                   changed(1, 400, CLOSING, STANDSTILL, totals())],
                  [(1, 50, totals()), (1, 100, totals())])
    assert told(found) == [(5, 10, UNKNOWN_STATE), (10, 20, UNKNOWN_STATE), (20, 40, CLOSING)]


def test_an_event_that_is_no_change_leaves_the_state_as_it_was():
    found = spans([BOOT, changed(1, 100, CLOSING, PUMPING, totals()),
                   (1, 200, events.ACTED, 3, STANDSTILL, totals(up=1)),
                   changed(1, 300, PUMPING, STANDSTILL, totals(up=2))])
    assert told(found) == [(0, 10, CLOSING), (10, 20, PUMPING), (20, 30, PUMPING)]


def test_a_start_that_was_only_counted_is_known_from_its_count_on():
    found = spans([BOOT, changed(1, 100, CLOSING, STANDSTILL, totals()),
                   (1, 200, events.RESTARTED, 2, RUNNING, totals(up=1)),
                   changed(1, 300, RUNNING, CLOSING, totals(up=2))])
    assert told(found) == [(0, 10, CLOSING), (10, 20, STANDSTILL), (20, 30, RUNNING)]


@pytest.mark.parametrize(("next_boot", "uptime_ds", "resumed", "joined"), [
    (2, 0, 8, True),      # it goes on from what the one before had saved
    (2, 0, 5, True),
    (2, 0, 4, False),     # from less: what was saved is older than the last record
    (3, 0, 8, False),     # a boot between them is missing
    (2, 10, 8, False),    # not its first record: something may have flowed already
])
def test_a_boot_is_closed_by_what_the_next_begins_with(next_boot, uptime_ds, resumed, joined):
    found = spans([BOOT, changed(1, 100, CLOSING, PUMPING, totals()),
                   (next_boot, uptime_ds, events.BOOT, 0, CLOSING, totals(up=resumed))],
                  [(1, 300, totals(up=5)), (next_boot, 200, totals(up=resumed))],
                  rows((1, 450, 100, PUMPING, {})))
    assert found.growth(ch.T_UP) == 5 + (resumed - 5 if joined else 0)
    between = [one for one in told(found) if one[0] == 30.0]
    # On the axis the next boot begins where the rows of this one end.
    assert between == ([(30.0, 45.0, PUMPING)] if joined else [])


def test_boots_lie_end_to_end_each_as_long_as_its_last_record_of_any_kind():
    one = journal(rows((1, 450, 100, STANDSTILL, {}), (2, 100, 100, STANDSTILL, {})),
                  happened((2, 700, events.ACTED, 0, STANDSTILL, totals())),
                  kept((1, 600, totals()), (3, 50, totals())))
    axis = axis_of(one)
    keys = np.array([1, 2, 3, 3])
    assert list(axis.at(keys, np.array([0, 0, 0, 50]))) == [0.0, 60.0, 130.0, 135.0]


def test_a_new_life_comes_after_the_old_one_whatever_its_boots():
    old, new = happened((9, 100, events.BOOT, 0, CLOSING, totals())), happened(
        (1, 50, events.BOOT, 0, CLOSING, totals()), generation=1)
    one = journal(None, np.concatenate([new, old]))
    axis = axis_of(one)
    assert list(axis.at(np.array([9, (1 << 16) + 1]), np.array([0, 0]))) == [0.0, 10.0]


def test_records_of_one_scan_are_laid_in_the_order_of_their_totals():
    found = spans([changed(1, 100, CLOSING, PUMPING, totals(up=1)),
                   changed(1, 200, PUMPING, STANDSTILL, totals(up=6))],
                  [(1, 200, totals(up=5)), (1, 300, totals(up=6))])
    assert found.growth(ch.T_UP) == 5
    assert found.of((PUMPING,)).growth(ch.T_UP) == 5


def test_an_event_that_was_written_late_takes_nothing_back():
    # It carries totals of a scan or two later than the record after it.
    found = spans([BOOT, changed(1, 100, CLOSING, PUMPING, totals(up=4))],
                  [(1, 101, totals(up=3)), (1, 200, totals(up=9))])
    assert (found.totals >= 0).all()
    assert found.growth(ch.T_UP) == 9


def test_a_total_over_a_thousand_million_is_whole():
    found = spans([BOOT], [(1, 100, totals(up=3_000_000_007))])
    assert found.growth(ch.T_UP) == 3_000_000_007


def test_no_record_is_no_span():
    assert told(spans()) == []
    assert spans().seconds == 0
    assert told(spans([BOOT])) == []


def legs_of(*states, key=None):
    """Returns the legs of spans of 10 s in some states, all of one boot or of `key`."""
    records = [(1, 100 * place, totals()) for place in range(len(states) + 1)]
    found = spans([], records)
    found.state[:] = states
    if key:
        found.key[:] = key
    return legs(found)


def test_a_leg_runs_over_pauses_to_the_last_of_its_kind():
    assert legs_of(STANDSTILL, TRIAL, PUMPING, STANDSTILL, TRIAL, STANDSTILL) == [
        ("fill", 10, 50)]
    assert legs_of(RUNNING, CLOSING, STANDSTILL, RUNNING, STANDSTILL) == [("discharge", 0, 40)]


def test_the_other_kind_ends_a_leg():
    assert legs_of(PUMPING, RUNNING, PUMPING) == [
        ("fill", 0, 10), ("discharge", 10, 20), ("fill", 20, 30)]


def test_closing_belongs_to_the_light_that_it_ends_and_is_none_by_itself():
    assert legs_of(CLOSING, STANDSTILL, PUMPING, CLOSING) == [("fill", 20, 30)]
    assert legs_of(RUNNING, CLOSING) == [("discharge", 0, 20)]


def test_draining_and_maintenance_are_neither_filling_nor_light():
    assert legs_of(DRAINING, MAINTENANCE, STANDSTILL, UNKNOWN_STATE) == []


def test_a_restart_ends_a_leg():
    assert legs_of(PUMPING, PUMPING, key=[1, 2]) == [("fill", 0, 10), ("fill", 10, 20)]
    assert legs_of(RUNNING, CLOSING, key=[1, 2]) == [("discharge", 0, 10)]
    assert legs_of(RUNNING, RUNNING, CLOSING, RUNNING, key=[1, 2, 2, 2]) == [
        ("discharge", 0, 10), ("discharge", 10, 40)]


def test_the_states_are_those_of_the_keeper():
    assert modes.SAFE_STATE == CLOSING
    assert UNKNOWN_STATE not in range(len(modes.STATES))
