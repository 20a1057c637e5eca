"""A day of a shelf judged, with the days before it: from the shelf to a judgement."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, tzinfo
from typing import NamedTuple

from forebay.described import Descriptions
from forebay.expected.asked import expected_of, maybe_usual, pair_on
from forebay.expected.days import HeldDay, day_then, judged_days
from forebay.expected.judging import Judged
from forebay.expected.playing import player
from forebay.plan import lifting
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


def judged_on(shelf: Shelf, rigs: Descriptions, wish: Wish, zone: tzinfo = UTC,
              progress: Callable[[float, float], None] = _nothing,
              hours: Callable[[float, float], None] = _nothing) -> Judged:
    """Return one day of a rig on a shelf, judged by the description of then.

    zone: of times in its notes; progress: called with (days before that are done, all); hours:
    with (hours played, all).
    Raises ShelfError if the shelf lacks that day, SunError for a sun that cannot be used.
    """
    clock, rig_id = shelf.clock(rigs.rig_id), rigs.rig_id
    held = _held(shelf, rigs, wish)
    day, begin_s, end_s, then = _chosen(shelf, rigs, held, wish)
    track = _track(then.rig, wish, day)
    before = [one for one in held if one.day < day][-wish.before:] if wish.before else []
    # What is usual is so beside a description: days that another read have no say.
    alike = [one for one in before if one.then.rig is then.rig and not one.then.others_s]
    pairs, machine = [], lifting.machine(then.rig.plant())
    for count, one in enumerate(alike):
        progress(count, len(alike))
        period = (one.begin_s, one.end_s)
        pairs.append(pair_on(_around(shelf, rig_id, *period), clock, then.rig, rig_id, period,
                             machine))
    usual = maybe_usual(pairs)
    found = expected_of(_around(shelf, rig_id, begin_s, end_s), clock, then.rig, rig_id,
                        (begin_s, end_s), track, usual,
                        player(then.rig, hours) if wish.full else None)
    said = [*rigs.notes, *then.said(zone)]
    if len(alike) < len(before):
        said.append(f"Of the {len(before)} days before {len(before) - len(alike)} are not its"
                    " usual: another description stood then.")
    return replace(found, notes=[*said, *found.notes], description_s=then.came_s)


def _held(shelf, rigs, wish):
    """Return the days that can matter, in order."""
    period = None
    if wish.day is not None:
        wanted = day_then(day_of(wish.day), rigs)
        period = (wanted.begin_s - (wish.before + 1) * DAY_S, wanted.end_s)
    return list(judged_days(journal_between(shelf, rigs.rig_id, period),
                            shelf.clock(rigs.rig_id), rigs))


def _chosen(shelf, rigs, held, wish) -> HeldDay:
    """Return the day that is asked for.  Raises ShelfError."""
    if not held:
        raise no_rows(shelf, rigs.rig_id)
    if wish.day is None:
        return held[-1]
    wanted = day_of(wish.day)
    found = next((one for one in held if one.day == wanted), None)
    if found is None:
        raise ShelfError(f"the shelf holds too little of {wanted} to judge it (less than half of"
                         " the time from one sunrise to the next); days held near it:"
                         f" {', '.join(day_ranges([one.day for one in held]))}")
    return found


def _around(shelf, rig_id, begin_s, end_s) -> Journal:
    return journal_between(shelf, rig_id, (begin_s - AROUND_S, end_s + AROUND_S))


def _track(rig, wish, day) -> SunTrack | None:
    if wish.sun is None:
        return None
    return load_sun(wish.sun, rig.site, date=day.isoformat(), station=wish.station,
                    air_temperature_degC=rig.site.air_temperature_degC,
                    tilt_deg=rig.panel.tilt_deg, azimuth_deg=rig.panel.azimuth_deg)
