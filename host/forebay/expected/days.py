"""The days of a shelf as they are judged: from before one sunrise to before the next.

The light of a night belongs to the day that filled its water.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np

from forebay.balance.covered import row_seconds
from forebay.described import Descriptions, Then
from forebay.rig import Rig
from forebay.shelf import Clock, Journal
from forebay.shelf.cells import U32_MOST
from forebay.sun import day as days
from forebay.sun import station as places
from forebay.sun.errors import SunError

LEAST_FRAC = 0.5         # of a day that rows must cover for it to count
S_PER_H, S_PER_DAY = 3600.0, 86400.0
EPOCH = date(1970, 1, 1)


class HeldDay(NamedTuple):
    """A local day as it is judged, from begin to end [s since 1970 UTC], and what reads it."""

    day: date
    begin_s: float
    end_s: float
    then: Then


def bounds_s(day: date, rig: Rig) -> tuple[float, float]:
    """Return begin and end [s since 1970 UTC] of a local day as it is judged.

    Raises SunError where the sun does not rise and set, and for a day that no shelf holds.
    """
    if not 0 <= (day - EPOCH).days * S_PER_DAY <= U32_MOST:
        raise SunError(f"{day}: a day to be judged must be in 1970 to 2106")
    station = places.of_site(rig.site)
    return tuple(float(days.one_day(one, station).start_s(station.zone_h))
                 for one in (day, day + timedelta(days=1)))  # pyright: ignore


def day_then(day: date, rigs: Descriptions) -> HeldDay:
    """Return a local day with the description of then, by whose site the sun rises.

    Raises SunError as `bounds_s`.
    """
    begin_s, end_s = bounds_s(day, rigs.newest)
    then = rigs.of((begin_s, end_s))
    if vars(then.rig.site) != vars(rigs.newest.site):
        begin_s, end_s = bounds_s(day, then.rig)
    return HeldDay(day, begin_s, end_s, then)


def judged_days(journal: Journal, clock: Clock, rigs: Descriptions) -> Iterator[HeldDay]:
    """Yield the days that a journal covers enough, in order."""
    rows = journal.rows
    ends_s = clock.utc(rows.generation, rows.boot, rows.uptime_ds)
    sound = (ends_s >= 0) & (ends_s <= U32_MOST)
    known = ends_s[sound]
    if not len(known):
        return
    zones_h = {places.of_site(rig.site).zone_h for rig in rigs.all()}
    lengths_s = row_seconds(rows)[sound]
    numbers = np.unique([np.floor((known + zone_h * S_PER_H) / S_PER_DAY).astype(int).clip(0)
                         for zone_h in zones_h])
    # A row before sunrise is of the day before.  Days without a row are not looked at: a board
    # whose clock was wrong has rows a century apart.
    for number in np.union1d(numbers, (numbers - 1).clip(0)).tolist():
        one = day_then(EPOCH + timedelta(days=number), rigs)
        inside = (known > one.begin_s) & (known <= one.end_s)
        if lengths_s[inside].sum() >= LEAST_FRAC * (one.end_s - one.begin_s):
            yield one
