"""How trips are counted within their window, to the scan: `keeper.protection.lockout`."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.events import EventQueue
from keeper.protection.elements import BOTH, NO_ELEMENT, number
from keeper.protection.judging import ROWS, Protection
from keeper.protection.lockout import LOOK, MOST_TRIPS, Lockout
from tests.keeper.scripted import settings_with

WINDOW = 6000  # periods: trip_window_s is 600
TEN_SECONDS = 100


class Counted:
    """A lockout that is told of trips and of the time that passes."""

    def __init__(self, **changes):
        numbers = settings_with(tuple(changes.items()))
        self.events = EventQueue(400, [0] * ch.COLUMNS, ch.COLUMNS)
        self.protection = Protection(numbers, self.events, [0] * ch.COLUMNS)
        self.lockout = Lockout(numbers, self.events)

    def trip(self, *names):
        self.protection.struck = [0] * ROWS
        for name in names:
            self.protection.struck[number(name) - 1] = 1
        self.events.begin_scan(mo.PUMPING, 77)
        self.lockout.count(self.protection)

    def wait(self, periods, at_once=1):
        for _ in range(periods // at_once):
            self.lockout.pass_time(at_once)

    def trips(self, name):
        return self.lockout.trips[number(name) - 1]


@pytest.mark.parametrize("at_once", [1, 10, 600])
def test_a_trip_is_forgotten_when_its_window_is_over_and_not_before(at_once):
    one = Counted()
    one.trip("26-MOT")
    one.wait(WINDOW - 600, at_once)
    assert one.trips("26-MOT") == 1
    one.wait(599)
    assert one.trips("26-MOT") == 1
    one.wait(1)
    assert one.trips("26-MOT") == 0
    assert one.lockout.counted == 0


@pytest.mark.parametrize("phase", [1, 50, 99])
def test_a_trip_between_two_looks_is_remembered_to_within_ten_seconds_of_its_window(phase):
    assert LOOK == TEN_SECONDS
    one = Counted()
    one.trip("37-PMP")
    one.wait(phase)
    one.trip("26-MOT")
    one.wait(WINDOW - TEN_SECONDS)
    assert one.trips("26-MOT") == 1
    one.wait(2 * TEN_SECONDS)
    assert one.trips("26-MOT") == 0


def test_each_trip_begins_the_window_anew():
    one = Counted()
    one.trip("26-MOT")
    one.wait(WINDOW - 1000)
    one.trip("26-MOT")
    one.wait(WINDOW - 1000)
    assert one.trips("26-MOT") == 2
    one.trip("26-MOT")
    assert one.lockout.sides == BOTH


def test_every_element_has_its_own_window():
    one = Counted()
    one.trip("26-MOT")
    one.wait(WINDOW // 2)
    one.trip("37-PMP", "59-GEN")
    assert one.lockout.counted == 3
    one.wait(WINDOW // 2 + TEN_SECONDS)
    assert (one.trips("26-MOT"), one.trips("37-PMP"), one.trips("59-GEN")) == (0, 1, 1)
    assert one.lockout.counted == 2
    one.wait(WINDOW // 2 + TEN_SECONDS)
    assert (one.trips("37-PMP"), one.trips("59-GEN"), one.lockout.counted) == (0, 0, 0)


def test_a_second_trip_of_an_element_is_one_element_still():
    one = Counted()
    one.trip("26-MOT")
    one.trip("26-MOT")
    assert (one.trips("26-MOT"), one.lockout.counted) == (2, 1)
    one.wait(WINDOW + TEN_SECONDS)
    assert (one.trips("26-MOT"), one.lockout.counted) == (0, 0)


@pytest.mark.parametrize("retries", [0, 1, 5])
def test_as_many_trips_as_retries_are_tried_again_and_the_next_locks_out(retries):
    one = Counted(trip_retries=retries)
    for _ in range(retries):
        one.trip("80-VLV")
        assert one.lockout.sides == 0
    one.trip("80-VLV")
    assert one.lockout.sides == BOTH
    slot = one.events.oldest()
    assert tuple(slot[:5]) == (ev.LOCKOUT, number("80-VLV"), retries + 1, mo.PUMPING, 77)


def test_an_element_that_locks_does_so_at_its_first_trip_whatever_its_retries():
    one = Counted()
    one.lockout.retries = [5] * ROWS
    one.trip("26-MOT")
    assert one.lockout.sides == 0
    one.trip("48-SHT")
    assert (one.lockout.sides, one.lockout.element) == (BOTH, number("48-SHT"))


def test_before_the_first_trip_nothing_is_locked_counted_or_timed():
    lockout = Counted().lockout
    assert (lockout.sides, lockout.element, lockout.counted, lockout.waited) == (0, 0, 0, 0)
    assert lockout.trips == lockout.since == [0] * ROWS


def test_a_count_stops_where_the_journals_byte_ends():
    one = Counted()
    for _ in range(MOST_TRIPS + 10):
        one.trip("26-MOT")
    assert one.trips("26-MOT") == MOST_TRIPS == 250


def test_an_element_that_did_not_trip_is_not_counted():
    one = Counted()
    one.trip()
    assert (one.lockout.trips, one.lockout.counted) == ([0] * ROWS, 0)


def test_a_reset_forgets_trips_and_element_and_says_which_it_was():
    one = Counted()
    one.trip("37-PMP")
    one.trip("3-SW")
    assert one.lockout.element == number("3-SW")
    one.events.drop()
    one.events.begin_scan(mo.STANDSTILL, 99)
    one.lockout.reset()
    assert (one.lockout.sides, one.lockout.element) == (0, NO_ELEMENT)
    assert (one.lockout.trips, one.lockout.counted) == ([0] * ROWS, 0)
    assert tuple(one.events.oldest()[:5]) == (
        ev.LOCKOUT_RESET, number("3-SW"), 0, mo.STANDSTILL, 99)
    one.trip("37-PMP")
    assert (one.lockout.sides, one.lockout.counted) == (0, 1)


def test_a_reset_without_a_lockout_forgets_the_trips_and_tells_nothing():
    one = Counted()
    one.trip("37-PMP")
    one.lockout.reset()
    assert one.trips("37-PMP") == 0
    assert one.events.count == 0


@pytest.mark.parametrize(("first", "then", "kept"), [
    ("48-SHT", "3-SW", "3-SW"), ("3-SW", "48-SHT", "3-SW"), ("3-SW", "12-GEN", "12-GEN"),
    ("48-SHT", "48-SHT", "48-SHT")])
def test_of_two_causes_the_one_that_only_the_rig_resets_is_kept(first, then, kept):
    one = Counted()
    one.trip(first)
    one.trip(then)
    assert one.lockout.element == number(kept)
    assert one.lockout.only_at_rig() == (kept != "48-SHT")


def test_the_first_of_two_causes_that_an_order_may_reset_is_kept():
    one = Counted(trip_retries=0)
    one.trip("26-MOT")
    one.trip("59-GEN")
    assert one.lockout.element == number("26-MOT")
    assert one.events.count == 2
