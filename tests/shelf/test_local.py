"""Local time: days of 23 and 25 hours, zones, and what cannot be read."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.shelf.local import (
    TimeError,
    bound_text,
    day_bounds_s,
    day_ranges,
    local_days,
    moment_of,
    period_of,
    zone_named,
    zone_of,
)

HOUR_S = 3600
# The clocks of the European Union change on the last Sundays of March and
# October at 01:00 UTC (Directive 2000/84/EC); those of the United States on the
# second Sunday of March and the first of November (15 U.S.C. 260a).  Beirut's
# went forward at midnight on 27 March 2022 (the time zone database): no 00:00.
DAYS = [
    ("Europe/Madrid", date(2026, 3, 29), 23), ("Europe/Madrid", date(2026, 10, 25), 25),
    ("America/Denver", date(2026, 3, 8), 23), ("America/Denver", date(2026, 11, 1), 25),
    ("Asia/Beirut", date(2022, 3, 27), 23), ("Europe/Madrid", date(2026, 6, 1), 24),
]


@pytest.mark.parametrize(("zone", "day", "hours"), DAYS)
def test_a_local_day_is_as_long_as_its_clock_says(zone, day, hours):
    begin_s, end_s = day_bounds_s(day, ZoneInfo(zone))
    assert (end_s - begin_s) / HOUR_S == hours


@pytest.mark.parametrize(("zone", "day", "hours"), DAYS)
def test_every_minute_falls_on_the_day_that_its_clock_shows(zone, day, hours):
    begin_s, end_s = day_bounds_s(day, ZoneInfo(zone))
    utc_s = np.arange(begin_s - 2 * HOUR_S, end_s + 2 * HOUR_S, 60)
    place, days = local_days(utc_s, ZoneInfo(zone))
    shown = [datetime.fromtimestamp(each, UTC).astimezone(ZoneInfo(zone)).date()
             for each in utc_s.tolist()]
    assert [days[each] for each in place] == shown
    assert (np.array(shown) == day).sum() == hours * 60


def test_times_that_are_not_known_have_no_day():
    place, days = local_days(np.array([np.nan, 0.0, np.nan]), UTC)
    assert place.tolist() == [-1, 0, -1]
    assert days == [date(1970, 1, 1)]
    assert local_days(np.array([np.nan]), UTC)[1] == []


def test_only_days_that_hold_a_time_are_listed():
    # A record of chance, ages away, once made a list of all the days between: seconds of work.
    place, days = local_days(np.array([2.5e11, 1.5e9, 1.5e9 + 30, np.nan]), UTC)
    assert place.tolist() == [1, 0, 0, -1]
    assert days == [date(2017, 7, 14), datetime.fromtimestamp(2.5e11, UTC).date()]


@given(st.lists(st.floats(0, 3e9), max_size=20))
def test_days_are_those_of_the_calendar_wherever_the_clocks_do_not_change(times):
    zone = zone_of(-106.0)
    place, days = local_days(np.array(times), zone)
    assert [days[each] for each in place] == [
        datetime.fromtimestamp(each, zone).date() for each in times]


def test_a_time_without_an_offset_is_local_and_one_with_it_is_not():
    madrid = ZoneInfo("Europe/Madrid")
    assert moment_of("2026-07-01T12:00", madrid) == moment_of("2026-07-01T10:00Z", madrid)
    assert moment_of("2026-07-01", madrid) == moment_of("2026-06-30T22:00:00+00:00", madrid)
    # 02:30 comes twice on this day: the first is still summer time.
    assert moment_of("2026-10-25T02:30", madrid) == moment_of("2026-10-25T00:30Z", madrid)


@pytest.mark.parametrize(("begin", "end", "day", "said"), [
    ("soon", None, None, "is not a time"), (None, None, "1.5.2026", "is not a day"),
    ("2026-05-02", "2026-05-01", None, "is not before"),
    ("2026-05-02", None, "2026-05-01", "without --from and --to")])
def test_what_cannot_be_read_is_told_in_one_line(begin, end, day, said):
    with pytest.raises(TimeError, match=said) as caught:
        period_of(begin, end, day, UTC)
    assert "\n" not in str(caught.value)


def test_an_open_end_leaves_nothing_out():
    assert period_of(None, None, None, UTC) is None
    assert period_of("1970-01-02", None, None, UTC) == (86400.0, float("inf"))
    assert period_of(None, "1970-01-02", None, UTC) == (float("-inf"), 86400.0)


@pytest.mark.parametrize("name", ["Mars/Base", "", "../etc", "Europe"])
def test_a_zone_that_is_none_is_told(name):
    with pytest.raises(TimeError, match="no time zone"):
        zone_named(name)


@pytest.mark.parametrize(("bound_s", "text"), [
    (0.24, "+- 0.24 s"), (90, "+- 90 s"), (200, "+- 3.3 min"), (9000, "+- 2.5 h"),
    (400_000, "+- 4.6 d"), (float("inf"), "not bounded")])
def test_a_bound_is_told_in_the_unit_that_a_person_would_use(bound_s, text):
    assert bound_text(bound_s) == text


def test_days_that_follow_each_other_are_told_as_a_range():
    days = [date(2026, 2, 27), date(2026, 2, 28), date(2026, 3, 1), date(2026, 3, 4)]
    assert day_ranges(days) == ["2026-02-27 to 2026-03-01", "2026-03-04"]
    assert day_ranges([]) == []
