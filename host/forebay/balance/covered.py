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
    TOUCHING_S,
    UNKNOWN_STATE,
    Axis,
    Spans,
    keys_of,
    uptime_of,
)
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

    spans: in order, those made from rows among them (is_made); holes: mask of rows behind
    which nothing is known until the next.
    """

    spans: Spans
    is_made: np.ndarray
    holes: np.ndarray

    @property
    def stretches(self) -> list[tuple[int, int]]:
        """(first, last) places [-] of the rows of each stretch without a hole."""
        edges = [0, *(np.flatnonzero(self.holes) + 1).tolist(), len(self.holes) + 1]
        return [(a, b - 1) for a, b in zip(edges, edges[1:], strict=False)]

    @property
    def from_rows_s(self) -> float:
        """How much [s] no totals cover."""
        return self.spans.where(self.is_made).seconds


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

    def gaps(self):
        """Return (begins, ends) [s] of what lies between the intervals, before and behind."""
        begins_s, ends_s = self._at[::2], self._at[1::2]
        parted = np.flatnonzero(begins_s[1:] - ends_s[:-1] > TOUCHING_S)
        return (np.concatenate([[-np.inf], ends_s[parted], ends_s[-1:]]),
                np.concatenate([begins_s[:1], begins_s[parted + 1], [np.inf]]))


class Rowed:
    """Rows of a journal as times: begins_s, ends_s on the axis, seconds [s]; key: of boots."""

    def __init__(self, rows, ends_s, seconds, key, begins_s, middles_s):
        """Take what `of` found."""
        self.rows, self.ends_s, self.seconds, self.key = rows, ends_s, seconds, key
        self.begins_s, self.middles_s = begins_s, middles_s

    @classmethod
    def of(cls, rows, axis: Axis) -> "Rowed":
        """Return rows with their times on an axis."""
        key = keys_of(rows)
        ends_s, seconds = axis.at(key, rows.uptime_ds), row_seconds(rows, key)
        return cls(rows, ends_s, seconds, key, ends_s - seconds, ends_s - seconds / 2)

    def part(self, first: int, end: int) -> "Rowed":
        """Return those of some places [-]."""
        some = slice(first, end)
        return Rowed(self.rows.take(some), self.ends_s[some], self.seconds[some], self.key[some],
                     self.begins_s[some], self.middles_s[some])

    def __len__(self):
        return len(self.ends_s)

    def shown(self):
        """Return the time that rows show."""
        parted = np.flatnonzero(self.begins_s[1:] - self.ends_s[:-1] > TOUCHING_S)
        return _Time(self.begins_s[np.append(0, parted + 1)],
                     self.ends_s[np.append(parted, len(self) - 1)])

    def within(self, spans):
        """Return (first, end) places of the rows whose middles lie up to the end of each span.

        A sliver that another span reaches beyond holds none.
        """
        ends = np.maximum.accumulate(np.searchsorted(self.middles_s, spans.end_s, side="right"))
        return np.concatenate([[0], ends])[:-1], ends


def covered(rowed: Rowed, spans: Spans, unsure: np.ndarray) -> Covered:
    """Return what is covered by rows and the spans between totals.

    unsure: mask of spans in which events may have changed the state unseen.
    """
    if not len(rowed):
        none = np.zeros(len(spans.key), bool)
        return Covered(spans.where(none), none[none], np.empty(0, bool))
    begins_s, ends_s = rowed.begins_s, rowed.ends_s
    shown = rowed.shown().of(spans.begin_s, spans.end_s)
    is_shown = shown >= spans.end_s - spans.begin_s - TOLERANCE_S
    is_inside = (spans.begin_s >= begins_s[0] - TOLERANCE_S) & (
        spans.end_s <= ends_s[-1] + TOLERANCE_S)
    taken = ~_contradicted(rowed, spans)
    taken &= is_shown | (is_inside & ~unsure)
    holes = _holes(rowed, spans, taken)
    kept = spans.where(taken)
    made = _from_rows(rowed, kept)
    if not len(made.key):
        return Covered(kept, np.zeros(len(kept.key), bool), holes)
    both = kept.joined(made)
    order = np.lexsort((both.end_s, both.begin_s))
    return Covered(both.where(order), (np.arange(len(both.key)) >= len(kept.key))[order], holes)


# Kinds of state as bits, so that those of many rows are one number; and which kinds of row
# contradict a state. Closing goes with light as with standstill: a keeper starts in it, and
# a light ends in it.
OTHER, FILLS, LIT, SHUTS = 1, 2, 4, 8
KIND = np.full(256, OTHER, np.uint8)
KIND[list(FILL_STATES)], KIND[RUNNING], KIND[CLOSING] = FILLS, LIT, SHUTS
CONTRARY = np.zeros(256, np.uint8)
CONTRARY[[OTHER, FILLS, LIT, SHUTS]] = (
    FILLS | LIT, OTHER | LIT | SHUTS, OTHER | FILLS, FILLS)


def _contradicted(rowed, spans):
    """Return the mask of spans in which rows show another state than the events."""
    if not len(spans.key):
        return np.zeros(0, bool)
    first, end = rowed.within(spans)
    inner = np.searchsorted(rowed.middles_s, spans.begin_s)
    found = either(np.take(KIND, rowed.rows.state), np.maximum(first, inner), end)
    return found & CONTRARY[KIND[spans.state]] > 0


def either(bits: np.ndarray, first: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Return all bits that are set anywhere in bits[first:end], for each pair of places."""
    found = np.zeros(len(first), bits.dtype)
    some = np.flatnonzero(end > first)
    if len(some):
        pairs = np.stack([first[some], end[some]], -1).ravel()
        whole = np.append(bits, np.zeros(1, bits.dtype))
        found[some] = np.bitwise_or.reduceat(whole, pairs)[::2]
    return found


def unsure(spans: Spans, table: np.ndarray, axis: Axis, is_cut_off: bool) -> np.ndarray:
    """Return the mask of spans in which events may have changed the state unseen.

    table: the events, those next to the spans on both sides among them; is_cut_off:
    whether there may be others behind the last of them.
    """
    found = spans.state == UNKNOWN_STATE
    at_s = axis.at(keys_of(table), uptime_of(table))
    missing = (np.diff(table["seq"].astype(np.int64)) > 1) & (np.diff(table["generation"]) == 0)
    for after_s, before_s in zip(at_s[:-1][missing], at_s[1:][missing], strict=True):
        found |= (spans.end_s > after_s) & (spans.begin_s < before_s)
    if is_cut_off:
        found |= spans.end_s > (at_s[-1] if len(at_s) else -np.inf)
    return found


def waits_for_events(findings) -> bool:
    """Return whether the board has events that the shelf has not."""
    return any(name.startswith(LETTERS[EVENTS]) for name in findings.not_pulled)


def _holes(rowed, spans, taken):
    """Return the mask of rows behind which a hole is; spans in one are taken no more."""
    rows, begins_s, ends_s = rowed.rows, rowed.begins_s, rowed.ends_s
    generation = rows.generation[1:] != rows.generation[:-1]
    # Numbers without a sign: of one generation they only grow.
    gap = np.flatnonzero((np.diff(rows.seq) > 1) | generation)
    generation = generation[gap]
    while True:
        time = _Time(spans.begin_s[taken], spans.end_s[taken])
        lacking = begins_s[gap + 1] - ends_s[gap] - time.of(ends_s[gap], begins_s[gap + 1])
        holes = generation | (lacking > TOLERANCE_S)
        more = np.zeros(len(taken), bool)
        for place in gap[holes & ~generation].tolist():
            more |= (spans.end_s > ends_s[place] + TOLERANCE_S) & (
                spans.begin_s < begins_s[place + 1] - TOLERANCE_S)
        if not (more & taken).any():
            found = np.zeros(len(rows) - 1, bool)
            found[gap[holes]] = True
            return found
        taken &= ~more


def _from_rows(rowed, kept):
    """Return spans made of what rows show and no span covers."""
    time = _Time(kept.begin_s, kept.end_s)
    near = _reaching_into(rowed, *time.gaps())
    begins_s, ends_s, seconds = rowed.begins_s[near], rowed.ends_s[near], rowed.seconds[near]
    left_s = seconds - time.of(begins_s, ends_s)
    used = np.flatnonzero(left_s > PIECE_S)
    part = rowed.rows.take(near[used])
    begin_s, end_s, length_s = begins_s[used], ends_s[used], left_s[used]
    at_its_end = time.of(end_s - PIECE_S, end_s) > PIECE_S / 2
    end_s = np.where(at_its_end, begin_s + length_s, end_s)
    growth, error = growth_of(part, length_s, seconds[used])
    # An event's totals may be as late as this, and then reach into the rows beside it.
    joint = time.of(end_s - length_s - 2 * PIECE_S, end_s + 2 * PIECE_S) > 0
    # A sliver between two records is one of rounding: no more than itself is counted twice.
    late_s = np.where(joint, np.where(length_s <= TOLERANCE_S + PIECE_S, length_s,
                                      LATE_DS / DS_PER_S), 0.0)
    error += growth * (late_s / np.maximum(length_s, PIECE_S))[:, None]
    return Spans(end_s - length_s, end_s, keys_of(part), part.state.astype(np.int64), growth,
                 error)


def _reaching_into(rowed, begins_s, ends_s):
    """Return the places of rows that reach into some intervals [s], in order."""
    first = np.searchsorted(rowed.ends_s, begins_s, side="right")
    length = np.maximum(np.searchsorted(rowed.begins_s, ends_s) - first, 0)
    before = np.cumsum(length) - length
    return np.unique(np.arange(int(length.sum())) + np.repeat(first - before, length))


def row_seconds(rows, key=None) -> np.ndarray:
    """Return the length of each row [s]: since the row before, else by its scans.

    key: boots of the rows as of `spans.keys_of`, where it is at hand.
    """
    key = keys_of(rows) if key is None else key
    # Whole numbers without a sign: one more than the number before is so round their end too.
    follows = (np.diff(rows.seq) == 1) & (key[1:] == key[:-1])
    # In one boot the uptime only grows: where it does not, a row is as long as its scans.
    follows &= rows.uptime_ds[1:] > rows.uptime_ds[:-1]
    length_ds = rows.scans.astype(rows.uptime_ds.dtype)
    np.copyto(length_ds[1:], np.diff(rows.uptime_ds), where=follows)
    # A boot's first row reaches back to its start at most.
    return np.minimum(length_ds, rows.uptime_ds, out=length_ds) / DS_PER_S


def growth_of(rows, length_s, seconds):
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
