"""Which time the figures of a balance cover, and by what.

Totals are exact between two records that carry them, but tell neither levels
nor, where events are missing, what the rig did.  So the rows say which time is
covered: a span between totals counts where rows show it, or where it bridges a
gap between rows and the events of that time are all there.  What rows show
and no such span is summed from the rows.  The rest is left out, and told.
"""

from dataclasses import dataclass

import numpy as np

from forebay.balance.spans import (
    FILL_STATES,
    LIGHT_STATES,
    UNKNOWN_STATE,
    Axis,
    Spans,
    keys_of,
    uptime_of,
)
from forebay.shelf import Journal
from forebay.shelf.checking.totals import LATE_DS, SUMS, contributions
from forebay.shelf.clock import DS_PER_S
from forebay.si import stored_si
from keeper import channels as ch
from keeper.journal.records import EVENTS, LETTERS
from keeper.modes import CLOSING, RUNNING

TOLERANCE_S = 0.5  # five scans: rows and events of one moment may differ by some
PIECE_S = 0.05     # half a scan: less of a row is none
MS_PER_S = 1000


@dataclass
class Covered:
    """What is covered.

    spans: in order, those made from rows among them; stretches: (first, last)
    places [-] of the rows of each stretch without a hole; from_rows_s: how
    much [s] no totals cover.
    """

    spans: Spans
    stretches: list[tuple[int, int]]
    from_rows_s: float


class _Time:
    """How much of the time before a place on the axis [s] some intervals cover [s]."""

    def __init__(self, begin_s, end_s):
        begin_s = np.maximum(begin_s, np.concatenate([[-np.inf], end_s[:-1]])[: len(begin_s)])
        length_s = np.maximum(end_s - begin_s, 0.0)
        done_s = np.cumsum(length_s)
        self._at = np.stack([begin_s, begin_s + length_s], -1).ravel()
        self._done = np.stack([done_s - length_s, done_s], -1).ravel()

    def before(self, at_s):
        """Return the covered time before places [s] on the axis."""
        return np.interp(at_s, self._at, self._done) if len(self._at) else np.zeros_like(at_s)

    def of(self, begin_s, end_s):
        """Return how much of each interval [s] is covered [s]."""
        return self.before(end_s) - self.before(begin_s)


def covered(journal: Journal, axis: Axis, spans: Spans, ends_s: np.ndarray,
            seconds: np.ndarray) -> Covered:
    """Return what is covered by a journal.

    spans: between its totals; ends_s, seconds: end of each row on the axis
    and its length [s].
    """
    rows = journal.rows
    if not len(rows):
        return Covered(spans.where(np.zeros(len(spans.key), bool)), [], 0.0)
    begins_s = ends_s - seconds
    shown = _Time(begins_s, ends_s).of(spans.begin_s, spans.end_s)
    is_shown = shown >= spans.end_s - spans.begin_s - TOLERANCE_S
    is_inside = (spans.begin_s >= begins_s[0] - TOLERANCE_S) & (
        spans.end_s <= ends_s[-1] + TOLERANCE_S)
    taken = ~_contradicted(rows, ends_s - seconds / 2, spans)
    taken &= is_shown | (is_inside & ~_unsure(journal, axis, spans))
    holes = _holes(rows, begins_s, ends_s, spans, taken)
    kept = spans.where(taken)
    made, from_rows_s = _from_rows(rows, begins_s, ends_s, seconds, kept)
    both = kept.joined(made)
    order = np.lexsort((both.end_s, both.begin_s))
    edges = [0, *(np.flatnonzero(holes) + 1).tolist(), len(rows)]
    return Covered(both.where(order),
                   [(a, b - 1) for a, b in zip(edges, edges[1:], strict=False)], from_rows_s)


def _differ(one, other):
    """Return whether two states [arrays] are not the same to a balance.

    Closing goes with light as with standstill: a keeper starts in it, and a
    light ends in it.
    """
    fills = np.isin(one, FILL_STATES) != np.isin(other, FILL_STATES)
    light = (one == RUNNING) != (other == RUNNING)
    return fills | light & (one != CLOSING) & (other != CLOSING)


def _contradicted(rows, middles_s, spans):
    """Return the mask of spans in which rows show another state than the events."""
    place = np.searchsorted(spans.end_s, middles_s)
    inside = np.flatnonzero(place < len(spans.key))
    place, at_s, state = place[inside], middles_s[inside], rows.state[inside]
    other = (spans.begin_s[place] <= at_s) & _differ(spans.state[place], state)
    return np.bincount(place[other], minlength=len(spans.key)) > 0


def _unsure(journal, axis, spans):
    """Return the mask of spans in which events may have changed the state unseen."""
    events = journal.events
    unsure = spans.state == UNKNOWN_STATE
    at_s = axis.at(keys_of(events), uptime_of(events))
    missing = (np.diff(events["seq"].astype(np.int64)) > 1) & (np.diff(events["generation"]) == 0)
    for after_s, before_s in zip(at_s[:-1][missing], at_s[1:][missing], strict=True):
        unsure |= (spans.end_s > after_s) & (spans.begin_s < before_s)
    if any(name.startswith(LETTERS[EVENTS]) for name in journal.findings.not_pulled):
        unsure |= spans.end_s > (at_s[-1] if len(at_s) else -np.inf)
    return unsure


def _holes(rows, begins_s, ends_s, spans, taken):
    """Return the mask of rows behind which a hole is; spans in one are taken no more."""
    numbers = rows.seq.astype(np.int64)
    generation = np.diff(rows.generation.astype(np.int64)) != 0
    gap = (np.diff(numbers) > 1) | generation
    while True:
        time = _Time(spans.begin_s[taken], spans.end_s[taken])
        lacking = begins_s[1:] - ends_s[:-1] - time.of(ends_s[:-1], begins_s[1:])
        holes = gap & (generation | (lacking > TOLERANCE_S))
        more = np.zeros(len(taken), bool)
        for place in np.flatnonzero(holes & ~generation).tolist():
            more |= (spans.end_s > ends_s[place] + TOLERANCE_S) & (
                spans.begin_s < begins_s[place + 1] - TOLERANCE_S)
        if not (more & taken).any():
            return holes
        taken &= ~more


def _from_rows(rows, begins_s, ends_s, seconds, kept):
    """Return (spans made of what rows show and no span covers, their length [s])."""
    time = _Time(kept.begin_s, kept.end_s)
    left_s = seconds - time.of(begins_s, ends_s)
    used = np.flatnonzero(left_s > PIECE_S)
    part = rows.take(used)
    begin_s, end_s, length_s = begins_s[used], ends_s[used], left_s[used]
    at_its_end = time.of(end_s - PIECE_S, end_s) > PIECE_S / 2
    end_s = np.where(at_its_end, begin_s + length_s, end_s)
    growth, error = _growth(part, length_s, seconds[used])
    # An event's totals may be as late as this, and then reach into the rows beside it.
    joint = time.of(end_s - length_s - 2 * PIECE_S, end_s + 2 * PIECE_S) > 0
    # A sliver between two records is one of rounding: no more than itself is counted twice.
    late_s = np.where(joint, np.where(length_s <= TOLERANCE_S + PIECE_S, length_s,
                                      LATE_DS / DS_PER_S), 0.0)
    error += growth * (late_s / np.maximum(length_s, PIECE_S))[:, None]
    made = Spans(end_s - length_s, end_s, keys_of(part), part.state.astype(np.int64), growth,
                 error)
    return made, float(length_s.sum())


def _growth(rows, length_s, seconds):
    """Return (growth of the ten totals, its half-width) of a part of each row, by its means."""
    share = length_s / np.maximum(seconds, PIECE_S)
    missed_s = np.maximum(seconds - rows.scans / DS_PER_S, 0.0)
    total, bound, below, untrusted, _ = contributions(rows, missed_s)
    # What flows back is no doubt of a sum that has a total for either way.
    below[[one.minus is not None for one in SUMS]] = 0.0
    total = np.where(untrusted > 0, 0.0, total) * share
    # Of a part of a row nothing says that it is as the whole.
    cut = np.where(share < 1 - 1e-9, np.abs(total), 0.0)
    bound = np.where(untrusted > 0, 0.0, bound + below) * share + cut
    growth = np.zeros((len(rows), len(ch.TOTALS)))
    error = np.zeros_like(growth)
    for index, one in enumerate(SUMS):
        growth[:, one.plus] = np.maximum(total[index], 0.0)
        error[:, one.plus] = bound[index]
        if one.minus is not None:
            growth[:, one.minus] = np.maximum(-total[index], 0.0)
            error[:, one.minus] = bound[index]
    growth[:, ch.T_PUMP_MS] = np.isin(rows.state, FILL_STATES) * length_s * MS_PER_S
    amps, made = (stored_si(rows.stored[place], place) for place in (ch.LAMP_MA, ch.GENERATOR_MA))
    # Without a meter of the lamps the generator's current is the light's, as on the board.
    lit = np.nan_to_num(np.where(np.isfinite(amps), amps, made)) > 0
    growth[:, ch.T_LIGHT_MS] = (lit & np.isin(rows.state, LIGHT_STATES)) * length_s * MS_PER_S
    return growth, error
