"""The typical year: months of different years, told as one year.

It owns the calendar of such a file: each day stands for itself, and the year it
is told in is stated. It must not know what the values are.
"""

import calendar
from datetime import date

import numpy as np

DAY_S = 86400
S_PER_H = 3600
YEAR_DAYS = 365
COMMON_YEAR = 2001  # any of so many days
LEAP_PLACE = 59  # 29 February's place from 1 January, from 0
JUMP_S = 27 * DAY_S  # between months of different years the time jumps at least so far


def is_spliced(middles):
    """True if rows go from month to month of different years. middles: a DatetimeIndex."""
    pairs = set(zip(middles.year.tolist(), middles.month.tolist(), strict=True))
    if len({year for year, _ in pairs}) == 1 or len({month for _, month in pairs}) != len(pairs):
        return False
    steps_s = np.diff(middles.as_unit("s").asi8)
    return bool(((steps_s < 0) | (steps_s > JUMP_S)).any())


def in_one_year(middles, zone_h, year):
    """(which rows, in order of time; their middles [s since 1970 UTC]) told in one year.

    middles: a DatetimeIndex with a zone, spliced. zone_h: in which days are told;
    hours that come before 1 January there close its December.
    """
    naive = middles.tz_localize(None)
    since_s = (naive - naive.normalize()).as_unit("s").asi8
    own_h = middles[0].utcoffset().total_seconds() / S_PER_H
    place = np.array([_place(month, day) for month, day in
                      zip(naive.month.tolist(), naive.day.tolist(), strict=True)])
    shifted_s = (place * DAY_S + since_s + (zone_h - own_h) * S_PER_H) % (YEAR_DAYS * DAY_S)
    is_leap = np.asarray((naive.month == 2) & (naive.day == 29))
    # pvlib calls the last hour of 28 February so in a leap year's month of TMY3
    rows = np.flatnonzero(~is_leap | (is_leap.sum() * np.median(np.diff(since_s)) < DAY_S / 2))
    leap = (shifted_s >= LEAP_PLACE * DAY_S) * DAY_S if calendar.isleap(year) else 0
    start_s = np.datetime64(f"{year}-01-01", "s").astype("int64") - zone_h * S_PER_H
    times_s = start_s + shifted_s + leap
    rows = rows[np.argsort(times_s[rows], kind="stable")]
    return rows, times_s[rows]


def spans(middles):
    """Which month is of which year: "1 of 1997, 2 of 1995, ..."."""
    found = dict(zip(middles.month.tolist(), middles.year.tolist(), strict=True))
    return ", ".join(f"{month} of {found[month]}" for month in sorted(found))


def _place(month, day):
    """Days since 1 January in a year of 365; 29 February falls on the 28th."""
    day = 28 if (month, day) == (2, 29) else day
    return date(COMMON_YEAR, month, day).timetuple().tm_yday - 1
