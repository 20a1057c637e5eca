"""A span of a shelf replayed under other settings: from the shelf to what would have been.

Three times through the keeper: up to the begin under the settings of then, so that it begins as
the board did; through the span under the same, which shows how well the record comes again and
what persons wished; and under the settings that are tried.
"""

from collections.abc import Callable
from datetime import tzinfo
from typing import Any, NamedTuple

import numpy as np

from forebay.described import Descriptions
from forebay.errors import InputError
from forebay.expected.days import day_then, judged_days
from forebay.rehearse.process import AUTO, Stage
from forebay.replay import jobs
from forebay.replay.comparing import (
    Event,
    Fidelity,
    Matched,
    events_of,
    fidelity,
    matched,
    replayed_events,
)
from forebay.replay.figures import figures_of
from forebay.replay.jobs import Came, Span
from forebay.replay.ordered import Untold
from forebay.replay.timeline import DS_PER_S
from forebay.replay.trying import Change, KeyChange, ReplayError, changes, keys_changed
from forebay.rig import Rig
from forebay.shelf import Shelf
from forebay.shelf.local import day_of, moment_of
from forebay.shelf.query import journal_between, no_rows
from keeper import settings as st

LAST, BETWEEN = "last", ".."
RUN_IN_S = 64800.0        # before the span: a motor's heat, a window of trips, the last daylight
MOST_DAYS = 62            # of one replay: two months of rows at 10 Hz take some minutes
SHIFTED_TICKS = 3 * DS_PER_S   # less is no other time
S_PER_DAY, S_PER_H = 86400.0, 3600.0
ROUNDS = 3
UNSURE_TICKS = 120 * DS_PER_S   # of an edge: two rows of a rig that stands
MOVED_TICKS = 1800 * DS_PER_S   # beyond, an event is another one; a guess


class Outcome(NamedTuple):
    """What a replay found.

    keys: of the description that are tried; tried: the board's settings that follow; again: of
    the record by a replay under its own settings; apart: what the tried settings
    change against that; was, again_figures, now: figures by key; parted: where and why the tried
    keeper parted from the record, as the simulation's process tells it.
    """

    span: Span
    keys: list[KeyChange]
    tried: list[Change]
    again: Fidelity
    recorded: list[Event]
    apart: Matched
    shifted: list[tuple[Event, Event]]
    was: dict[str, float | None]
    same: dict[str, float | None]
    now: dict[str, float | None]
    base: Came
    came: Came
    knows_heat: bool

    @property
    def untold(self) -> list[Untold]:
        """Orders in the span of which the journal does not tell all."""
        return self.span.ordered.after(self.span.begin).untold


def period_of_span(shelf: Shelf, rigs: Descriptions, text: str, zone: tzinfo
                   ) -> tuple[float, float]:
    """Return (begin, end) [s since 1970 UTC] of LAST, a local day, or FROM..TO.

    A day is from its sunrise to the next: with its night.  Raises InputError.
    """
    if BETWEEN in text:
        first, _, second = text.partition(BETWEEN)
        begin_s, end_s = moment_of(first.strip(), zone), moment_of(second.strip(), zone)
        if begin_s >= end_s:
            raise ReplayError(f"--replay {text}: {first.strip()} is not before {second.strip()}")
    elif text == LAST:
        journal = journal_between(shelf, rigs.rig_id)
        if not len(journal.rows):
            raise no_rows(shelf, rigs.rig_id, zone)
        held = list(judged_days(journal, shelf.clock(rigs.rig_id), rigs))
        if not held:
            raise ReplayError(f"--replay {LAST}: of no day are there rows of half of it or more:"
                              " name a day, or FROM..TO; `forebay check` says what is held")
        _, begin_s, end_s, _ = held[-1]
    else:
        _, begin_s, end_s, _ = day_then(_day(text), rigs)
    if end_s - begin_s > MOST_DAYS * S_PER_DAY:
        raise ReplayError(f"--replay {text}: more than {MOST_DAYS} days; replay it in parts")
    return begin_s, end_s


def _day(text):
    try:
        return day_of(text)
    except InputError as error:
        raise ReplayError(f"--replay: {error}, or {LAST}, or FROM..TO") from None


def span_on(shelf: Shelf, rig: Rig, rig_id: int, period: tuple[float, float],
            zone: tzinfo) -> Span:
    """Return a period of a shelf, ready to be replayed.

    Raises ShelfError if it has no rows, ReplayError if they are not such as a keeper writes.
    """
    clock = shelf.clock(rig_id)
    journal = journal_between(shelf, rig_id, (period[0] - RUN_IN_S, period[1]))
    rows = journal.rows
    ends_s = clock.utc(rows.generation, rows.boot, rows.uptime_ds)
    if not ((ends_s > period[0]) & (ends_s <= period[1])).any():
        raise no_rows(shelf, rig_id, zone)
    return jobs.span_of(journal, clock, rig, period, RUN_IN_S,
                        remembers=not shelf.rehearsed(rig_id))


def replayed(span: Span, tried_rig: Rig, progress: Callable[[float, float], None],
             python: str | Stage = AUTO) -> Outcome:
    """Return what came of a span under other settings.

    progress: called with (hours done, hours in all); python: see `jobs.ran`.  Raises
    ReplayError, RehearsalError.
    """
    tried = changes(span.rig, tried_rig)
    settings = tried_rig.settings()
    settings[st.index("rig_id")] = span.settings[st.index("rig_id")]
    hours = [0.0, ROUNDS * (span.end - span.begin) / DS_PER_S / S_PER_H]

    def part(number, first):
        def tell(tick):
            progress(number * hours[1] / ROUNDS + (tick - first) / DS_PER_S / S_PER_H, hours[1])
        return tell

    with jobs.staged(python) as stage:
        values, knows_heat = jobs.retained_before(span, stage, part(0, span.time.begin))
        common: dict[str, Any] = {"retained": values,
                                  "heat": None if knows_heat else jobs.heat_at_begin(span)}
        base = jobs.ran(jobs.job_of(span, span.settings, **common), part(1, span.begin), stage)
        deeds = sorted([*span.ordered.after(span.begin).deeds, *map(tuple, base.told["found"])])
        came = base if not tried else jobs.ran(jobs.job_of(
            span, settings, deeds=deeds, finds_wishes=False, setpoints=base.told["setpoints"],
            loose=False, unsure=_unsure(base), **common), part(2, span.begin), stage)
    progress(hours[1], hours[1])
    return _outcome(span, keys_changed(span.rig, tried_rig), tried, settings, base, came,
                    knows_heat)


def _unsure(base):
    """Return (from, to) ticks where the record does not come again under its own settings."""
    return [(first - UNSURE_TICKS, last + UNSURE_TICKS) for first, last in base.told["astray"]]


def _outcome(span, keys, tried, settings, base, came, knows_heat):
    again, _ = fidelity(span, base, knows_heat)
    recorded = events_of(span.journal, span.time.event, span.time, span.settings,
                         span.begin + 1, span.end)
    before, after = (replayed_events(span, base, span.settings),
                     replayed_events(span, came, settings))
    apart = matched(before, after, MOVED_TICKS)
    shifted = [pair for pair in apart.pairs if abs(pair[1].tick - pair[0].tick) > SHIFTED_TICKS]
    rows = span.journal.rows
    inside = (span.time.row_last > span.begin) & (span.time.row_last <= span.end)
    values = span.rig.plant()
    return Outcome(
        span, keys, tried, again, recorded, apart, shifted,
        figures_of(rows.take(np.flatnonzero(inside)), recorded, values, span.settings),
        figures_of(base.journal.rows, before, values, span.settings),
        figures_of(came.journal.rows, after, values, settings), base, came, knows_heat)
