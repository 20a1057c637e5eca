"""The journal in windows: each long enough to see what it covers, none longer than needed.

A window ends where the record is whole: at totals written with the end of a row, between
two spans of totals whose rows are all there and say the same state.  Nothing that is
decided on one side of such a place depends on the other, so it does not matter where the
journal is cut.  Where there is no such place the window grows until there is one.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from forebay.balance.covered import Covered, Rowed, covered, unsure, waits_for_events
from forebay.balance.dark import lit_until
from forebay.balance.spans import (
    TOUCHING_S,
    UNKNOWN_STATE,
    Axis,
    Points,
    keys_of,
    uptime_of,
)
from forebay.shelf import Journal, Rows
from forebay.shelf.decode import Findings
from forebay.shelf.stepwise import TABLES, Step

# Rows of a neighbour that are looked at too: the level at a cut lies between rows.
CONTEXT_ROWS = 16
# A window that finds no place to end is tried again when it is so much longer.
GROWS = 1.5


@dataclass
class Window:
    """A part of the journal with what it covers.

    rowed: its rows, with first to end of them its own, the others its neighbours'; spans,
    is_made, holes: as of `Covered`, for its own; events: those in it; goes_on: whether it
    begins where the one before it ended; axis: on which it lies; lit_until_s: when
    the last light before it ended, on the axis [s].
    """

    rowed: Rowed
    first: int
    end: int
    covered: Covered
    events: np.ndarray
    goes_on: bool
    axis: Axis
    lit_until_s: float

    def own(self) -> Rowed:
        """Return its own rows."""
        return self.rowed.part(self.first, self.end)


@dataclass
class Windows:
    """Cuts steps into windows.

    axis: on which all of it lies; not_pulled: names of files of which the board has more.
    findings: what was found in all steps so far.
    """

    axis: Axis
    not_pulled: list[str]
    findings: Findings = field(default_factory=Findings)

    def of(self, steps: Iterable[Step]) -> Iterator[Window]:
        """Yield the windows of steps, in order."""
        held, least = None, 0
        for step in steps:
            self.findings.add(step.journal.findings)
            if held is None:
                held = _Held(self.axis, step)
            else:
                held.add(step)
            if step.ends_life:
                yield held.all(step.is_last and (
                    waits_for_events(self.findings) or waits_for_events(self)))
                held, least = None, 0
            elif len(held.rows) > least:
                window = held.maybe_window()
                least = 0 if window else int(len(held.rows) * GROWS)
                if window:
                    yield window


class _Held:
    """What was read and is in no window yet; context: how many of its rows are in one."""

    def __init__(self, axis, step):
        self.axis = axis
        self.rows, self.context = step.journal.rows, 0
        self.points = Points.of(step.journal)
        self.events, self.next_event = step.journal.events, step.next_event
        self.counted = 0  # of the events
        self.goes_on, self.lit_until_s = False, -np.inf

    def add(self, step):
        self.rows = Rows.joined([self.rows, step.journal.rows])
        self.points = self.points.joined(Points.of(step.journal))
        self.events = np.concatenate([self.events, step.journal.events])
        self.next_event = step.next_event

    def all(self, is_cut_off):
        """Return all of it as one window; is_cut_off: whether events may follow unseen."""
        rowed, _, found = self._covered(is_cut_off and not len(self.next_event))
        return Window(rowed, self.context, len(rowed), found, self.events[self.counted:],
                      self.goes_on, self.axis, self.lit_until_s)

    def maybe_window(self):
        """Return a window up to the last place where it can end, None if there is none."""
        rowed, spans, found = self._covered(False)
        at = _ends(rowed, found, self.context)
        if at is None:
            return None
        end, at_s = at
        inside = found.spans.end_s <= at_s + TOUCHING_S
        own = Covered(found.spans.where(inside), found.is_made[inside],
                      found.holes[: end - self.context - 1])
        events_s = self.axis.at(keys_of(self.events), uptime_of(self.events))
        done = int(np.searchsorted(events_s, at_s + TOUCHING_S))
        window = Window(rowed.part(0, end + CONTEXT_ROWS), self.context, end, own,
                        self.events[self.counted:done], self.goes_on, self.axis,
                        self.lit_until_s)
        self._let_go(end, at_s, done)
        self.goes_on = True
        self.lit_until_s = float(lit_until(own.spans, self.lit_until_s)[-1])
        return window

    def _covered(self, is_cut_off):
        rowed = Rowed.of(self.rows, self.axis)
        spans = self.points.spans(self.axis)
        around = np.concatenate([self.events, self.next_event])
        own = rowed.part(self.context, len(rowed))
        return rowed, spans, covered(own, spans, unsure(spans, around, self.axis, is_cut_off))

    def _let_go(self, end, at_s, done):
        """Keep what lies behind a window, and of it what the next one must know."""
        first = max(end - CONTEXT_ROWS, 0)
        self.rows, self.context = self.rows.take(slice(first, None)), end - first
        points_s = self.axis.at(self.points.key, self.points.uptime_ds)
        place = int(np.searchsorted(points_s, at_s + TOUCHING_S)) - 1
        state = self.points.states()[place]
        self.points = self.points.take(slice(place, None))
        self.points.after[0], self.points.before[0] = state, UNKNOWN_STATE
        self.events = self.events[max(done - 1, 0):]
        self.counted = min(done, 1)


def _ends(rowed, found, context):
    """Return (row behind, place on the axis [s]) of the last end a window can have, or None."""
    spans, made = found.spans, found.is_made
    if len(spans.key) < 2:
        return None
    whole = ~made[:-1] & ~made[1:] & (spans.key[:-1] == spans.key[1:])
    whole &= spans.begin_s[1:] == spans.end_s[:-1]
    whole &= (spans.end_s - spans.begin_s > 0)[:-1] & (spans.end_s - spans.begin_s > 0)[1:]
    whole &= (spans.state[:-1] != UNKNOWN_STATE) & (spans.state[1:] != UNKNOWN_STATE)
    for place in np.flatnonzero(whole)[::-1].tolist():
        at_s = spans.end_s[place]
        end = int(np.searchsorted(rowed.ends_s, at_s + TOUCHING_S))
        first = int(np.searchsorted(rowed.ends_s, spans.begin_s[place] - TOUCHING_S))
        last = int(np.searchsorted(rowed.ends_s, spans.end_s[place + 1] - TOUCHING_S)) + 1
        if end <= context or last >= len(rowed) or abs(rowed.ends_s[end - 1] - at_s) > TOUCHING_S:
            continue
        part = slice(max(first - 1, 0), last + 1)
        if (rowed.key[part] == rowed.key[end]).all() and (
                np.diff(rowed.rows.seq[part].astype(np.int64)) == 1).all():
            return end, at_s
    return None


def steps_of(journal: Journal) -> list[Step]:
    """Return a journal that is at hand as steps, one a life."""
    lives = sorted({int(life) for table in (journal.rows.generation, journal.events["generation"],
                                            journal.totals["generation"],
                                            journal.summaries["generation"])
                    for life in np.unique(table)})

    def of(life):
        tables = {name: getattr(journal, name) for name in TABLES}
        return replace(journal, rows=journal.rows.take(journal.rows.generation == life),
                       findings=journal.findings if life == lives[-1] else Findings(),
                       **{name: table[table["generation"] == life]
                          for name, table in tables.items()})

    none = journal.events[:0]
    if len(lives) < 2:
        return [Step(journal, none, True, True)]
    return [Step(of(life), none, True, life == lives[-1]) for life in lives]
