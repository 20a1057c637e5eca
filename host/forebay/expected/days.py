"""The days of a shelf as they are judged: from before one sunrise to before the next.

The light of a night belongs to the day that filled its water.
"""

from collections.abc import Iterator
from datetime import date, timedelta

import numpy as np

from forebay.balance.covered import row_seconds
from forebay.rig import Rig
from forebay.shelf import Clock, Journal
from forebay.shelf.cells import U32_MOST
from forebay.sun import day as days
from forebay.sun import station as places
from forebay.sun.errors import SunError

LEAST_FRAC = 0.5         # of a day that rows must cover for it to count
S_PER_H, S_PER_DAY = 3600.0, 86400.0
EPOCH = date(1970, 1, 1)


def bounds_s(day: date, rig: Rig) -> tuple[float, float]:
    """Return begin and end [s since 1970 UTC] of a local day as it is judged.

    Raises SunError where the sun does not rise and set, and for a day that no shelf holds.
    """
    if not 0 <= (day - EPOCH).days * S_PER_DAY <= U32_MOST:
        raise SunError(f"{day}: a day to be judged must be in 1970 to 2106")
    station = places.of_site(rig.site)
    return tuple(float(days.one_day(one, station).start_s(station.zone_h))
                 for one in (day, day + timedelta(days=1)))  # pyright: ignore


def judged_days(journal: Journal, clock: Clock, rig: Rig) -> Iterator[tuple[date, float, float]]:
    """Yield (local day, begin, end [s since 1970 UTC]) of days that a journal covers enough."""
    rows = journal.rows
    ends_s = clock.utc(rows.generation, rows.boot, rows.uptime_ds)
    sound = (ends_s >= 0) & (ends_s <= U32_MOST)
    known = ends_s[sound]
    if not len(known):
        return
    station = places.of_site(rig.site)
    lengths_s = row_seconds(rows)[sound]
    numbers = np.floor((known + station.zone_h * S_PER_H) / S_PER_DAY).astype(int).clip(0)
    # A row before sunrise is of the day before.  Days without a row are not looked at: a board
    # whose clock was wrong has rows a century apart.
    for number in sorted({*numbers.tolist(), *(numbers - 1).clip(0).tolist()}):
        day = EPOCH + timedelta(days=number)
        begin_s, end_s = bounds_s(day, rig)
        inside = (known > begin_s) & (known <= end_s)
        if lengths_s[inside].sum() >= LEAST_FRAC * (end_s - begin_s):
            yield day, begin_s, end_s
