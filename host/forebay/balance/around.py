"""Rows around a period, as far as they say what the tank held in it.

A period that begins in the middle of a light, or with a tank that was filled before, is
known by what lies outside of it.  Owns how far to look: on each side a day, then twice as
much, until a row further away would change nothing.
"""

from collections.abc import Callable, Iterable

import numpy as np

from forebay.balance.corrected import corrected
from forebay.balance.covered import Rowed
from forebay.balance.moving import Moving, joined
from forebay.balance.pieces import BEFORE, BEHIND, PLACES, WITHIN
from forebay.balance.shares import SAME_S
from forebay.balance.spans import Axis
from forebay.shelf import Clock
from forebay.shelf.clock import DS_PER_S
from forebay.shelf.stepwise import Reader, Step

FIRST_S = 86400.0
# So far is looked: a tank of which nothing was known for longer is not known.
MOST_S = 64 * FIRST_S
Around = Callable[[tuple[float, float]], Iterable[Step]]


def reach(reader: Reader) -> tuple[float, float] | None:
    """Return the first and the last time that a rig's journal knows; None if it knows none."""
    if not reader.ends_s:
        return None
    life, boot = (np.array(side) for side in zip(*reader.ends_s, strict=True))
    begins_s = reader.clock.utc(life, boot, np.zeros(len(life)))
    ends_s = reader.clock.utc(life, boot, np.array(list(reader.ends_s.values())) * DS_PER_S)
    known = np.isfinite(begins_s) & np.isfinite(ends_s)
    return (float(begins_s[known].min()), float(ends_s[known].max())) if known.any() else None


def moving_around(around: Around, whole: tuple[float, float] | None, axis: Axis, clock: Clock,
                  rig, fitted: frozenset, period: tuple[float, float]) -> Moving:
    """Return what moved in a period [s since 1970 UTC], with as much around it as tells.

    around: returns the steps of a journal that reach into a longer period; whole: its first and
    last time, None = whatever is asked for it returns all that there is.
    """
    back_s = ahead_s = FIRST_S
    while True:
        wide = (period[0] - back_s, period[1] + ahead_s)
        found = Moving(rig, fitted, lambda own: _shares(own, clock, period))
        _add_all(found, around(wide), axis, clock, rig)
        is_back = found.is_known_before or whole is None or wide[0] <= whole[0]
        is_ahead = found.is_known_behind or whole is None or wide[1] >= whole[1]
        if (is_back or back_s >= MOST_S) and (is_ahead or ahead_s >= MOST_S):
            return found
        back_s, ahead_s = back_s * (1 if is_back else 2), ahead_s * (1 if is_ahead else 2)


def _add_all(found, steps, axis, clock, rig):
    """Add the rows of steps whose times are known, and end."""
    last = None
    for step in steps:
        own = Rowed.of(corrected(step, rig).journal.rows, axis)
        if last is not None and len(own):
            # How long its first row is, the row before it says.
            own = Rowed.of(joined(last, own).rows, axis).part(1, len(own) + 1)
        if len(own):
            last = own.part(len(own) - 1, len(own))
        known = np.isfinite(_ends_utc_s(own, clock))
        edges = (np.flatnonzero(np.diff(known)) + 1).tolist()
        for first, end in zip([0, *edges], [*edges, len(own)], strict=True):
            if end > first and known[first]:
                found.add(own.part(first, end))
    found.end()


def _ends_utc_s(own, clock):
    return clock.utc(own.rows.generation, own.rows.boot, own.rows.uptime_ds)


def _shares(own, clock, period):
    """Return which share [-] of each row lies before, within and behind a period."""
    ends_s = _ends_utc_s(own, clock)
    begins_s = ends_s - own.seconds
    done = [np.clip(at_s - begins_s, 0.0, own.seconds) for at_s in period]
    for one in done:
        one[one < SAME_S] = 0.0
        near = one > own.seconds - SAME_S
        one[near] = own.seconds[near]
    found = np.zeros((len(PLACES), len(own)))
    length_s = np.where(own.seconds > 0, own.seconds, 1.0)
    found[BEFORE], found[WITHIN] = done[0] / length_s, (done[1] - done[0]) / length_s
    found[BEHIND] = 1.0 - found[BEFORE] - found[WITHIN]
    return found
