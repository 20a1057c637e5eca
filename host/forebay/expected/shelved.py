"""A day of a shelf judged, with the days before it: from the shelf to a judgement."""

from collections.abc import Callable
from datetime import date
from typing import NamedTuple

from forebay.expected.asked import expected_of, maybe_usual, pair_on
from forebay.expected.days import bounds_s, judged_days
from forebay.expected.judging import Judged
from forebay.expected.playing import player
from forebay.plan import lifting
from forebay.rig import Rig
from forebay.shelf import Journal, Shelf, ShelfError
from forebay.shelf.local import day_of, day_ranges
from forebay.shelf.query import journal_between, no_rows
from forebay.sun import SunTrack
from forebay.sun import load as load_sun

AROUND_S = 7200.0        # rows and events beside a day, so that none of its ends is cut
DAY_S = 86400.0


class Wish(NamedTuple):
    """What is asked for: a local day as text, None = the last; a file of sun and where it was
    measured; whether the whole simulated rig is to play it; how many days before it count.
    """

    day: str | None = None
    sun: str | None = None
    station: str | None = None
    full: bool = False
    before: int = 14


def _nothing(done: float, total: float) -> None:
    """Tell nobody."""


def judged_on(shelf: Shelf, rig: Rig, rig_id: int, wish: Wish,
              progress: Callable[[float, float], None] = _nothing,
              hours: Callable[[float, float], None] = _nothing) -> Judged:
    """Return one day of a rig on a shelf, judged.

    progress: called with (days before that are done, all); hours: with (hours played, all).
    Raises ShelfError if the shelf lacks that day, SunError for a sun that cannot be used.
    """
    clock = shelf.clock(rig_id)
    held = _held(shelf, rig, rig_id, wish)
    day, begin_s, end_s = _chosen(shelf, rig, rig_id, held, wish)
    track = _track(rig, wish, day)
    before = [one for one in held if one[0] < day][-wish.before:] if wish.before else []
    pairs, machine = [], lifting.machine(rig.plant())
    for count, (_, from_s, to_s) in enumerate(before):
        progress(count, len(before))
        pairs.append(pair_on(_around(shelf, rig_id, from_s, to_s), clock, rig, rig_id,
                             (from_s, to_s), machine))
    usual = maybe_usual(pairs)
    return expected_of(_around(shelf, rig_id, begin_s, end_s), clock, rig, rig_id,
                       (begin_s, end_s), track, usual,
                       player(rig, hours) if wish.full else None)


def _held(shelf, rig, rig_id, wish):
    """Return (day, begin, end) of the days that can matter, in order."""
    clock = shelf.clock(rig_id)
    period = None
    if wish.day is not None:
        begin_s, end_s = bounds_s(day_of(wish.day), rig)
        period = (begin_s - (wish.before + 1) * DAY_S, end_s)
    return list(judged_days(journal_between(shelf, rig_id, period), clock, rig))


def _chosen(shelf, rig, rig_id, held, wish):
    """Return the day that is asked for.  Raises ShelfError."""
    if not held:
        raise no_rows(shelf, rig_id)
    if wish.day is None:
        return held[-1]
    wanted: date = day_of(wish.day)
    found = next((one for one in held if one[0] == wanted), None)
    if found is None:
        raise ShelfError(f"the shelf holds too little of {wanted} to judge it (less than half of"
                         " the time from one sunrise to the next); days held near it:"
                         f" {', '.join(day_ranges([one[0] for one in held]))}")
    return found


def _around(shelf, rig_id, begin_s, end_s) -> Journal:
    return journal_between(shelf, rig_id, (begin_s - AROUND_S, end_s + AROUND_S))


def _track(rig, wish, day) -> SunTrack | None:
    if wish.sun is None:
        return None
    return load_sun(wish.sun, rig.site, date=day.isoformat(), station=wish.station,
                    air_temperature_degC=rig.site.air_temperature_degC,
                    tilt_deg=rig.panel.tilt_deg, azimuth_deg=rig.panel.azimuth_deg)
