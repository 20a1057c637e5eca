"""Numbers that are missing, and why: the journal numbers every row, event and summary.

Owns the reasons.  A reason is given where something on the shelf shows it;
otherwise it is said that none is known.
"""

from typing import NamedTuple

import numpy as np

from forebay.shelf.checking.segments import Segments
from forebay.shelf.segments import name_of
from keeper import events
from keeper.journal import records

WHAT = {records.ROW: "rows", records.EVENT: "events", records.QUARTER_SUMMARY: "summaries"}
STREAM_OF = {records.ROW: records.DETAIL, records.EVENT: records.EVENTS,
             records.QUARTER_SUMMARY: records.SUMMARY}
DAMAGED = "{} is damaged"
NEWER = "{} is of a newer version of the journal: kept, not read"
WAITS = "{} is not wholly pulled yet: pull again"
REMOVED = "removed on the board before they were pulled: its space was full"
BEFORE = "older than what the board still held at the first pull"
UNWRITTEN = "the board reports that it could not write them"
UNKNOWN = "no reason is known"


class Loss(NamedTuple):
    """Numbers that the shelf lacks.

    generation [-]; kind: type of record; first, last [-]; after_s, before_s: between
    which times they were written [s since 1970 UTC], NaN where not known; why.
    """

    generation: int
    kind: int
    first: int
    last: int
    after_s: float
    before_s: float
    why: str

    @property
    def count(self) -> int:
        """How many numbers [-]."""
        return self.last - self.first + 1

    @property
    def is_explained(self) -> bool:
        """Whether it is no loss by a fault: it was older than the first pull, or waits there."""
        return self.why == BEFORE or self.why.endswith("pull again")


class Gap(NamedTuple):
    """Missing numbers of one kind, with the times [s] of the records on both sides."""

    generation: int
    kind: int
    first: int
    last: int
    after_s: float
    before_s: float


def gaps_of(kind: int, generation: np.ndarray, seq: np.ndarray, utc_s: np.ndarray,
            before: tuple[int, int, float] | None = None) -> list[Gap]:
    """Return the gaps in records of one kind, in order.

    before: (generation, seq, time [s]) of the record in front of the first one;
    None = there is none.  A generation begins with number 1.
    """
    if not len(seq):
        return []
    at = before or (-1, 0, np.nan)
    generations = np.append(at[0], generation.astype(np.int64))
    seqs = np.append(at[1], seq.astype(np.int64))
    times = np.append(at[2], utc_s)
    begins = np.diff(generations) != 0
    earlier = np.where(begins, 0, seqs[:-1])
    found = []
    for place in np.flatnonzero(seqs[1:] - earlier > 1).tolist():
        after_s = np.nan if begins[place] else times[place]
        found.append(Gap(int(generations[place + 1]), kind, int(earlier[place]) + 1,
                         int(seqs[place + 1]) - 1, float(after_s), float(times[place + 1])))
    return found


def losses(gaps: list[Gap], segments: Segments, table: np.ndarray,
           table_s: np.ndarray) -> list[Loss]:
    """Return the gaps with their reasons; table: all events, table_s: their times [s]."""
    lost = table["code"] == events.JOURNAL_LOST
    reports = list(zip(table["generation"][lost].tolist(), table["argument"][lost].tolist(),
                       table["argument2"][lost].tolist(), table_s[lost].tolist(), strict=True))
    return [Loss(*gap, _why(gap, segments, reports)) for gap in gaps]


def _why(gap, segments, reports):
    streams = (STREAM_OF[gap.kind], records.TAIL)
    near = [place for place in segments.places
            if place.generation == gap.generation and place.stream in streams]
    newer = dict(segments.newer)
    for place in near:
        if not place.is_sound and _touches(place, gap, near):
            name = name_of(place.stream, place.number)
            return (NEWER if name in newer else DAMAGED).format(name)
    between = _numbers_between(gap, near)
    waiting = [name_of(STREAM_OF[gap.kind], number) for number in between]
    waiting = [name for name in waiting if name in segments.not_pulled]
    if waiting:
        return WAITS.format(waiting[0])
    if gap.first == 1:
        return BEFORE
    lost = {number for generation, stream, number, _ in reports
            if generation == gap.generation and stream == STREAM_OF[gap.kind]}
    # The one in front may have grown after it was pulled, and gone then.
    if lost & {*between, between.start - 1}:
        return REMOVED
    if any(generation == gap.generation and stream in streams and _is_between(at_s, gap)
           for generation, stream, _, at_s in reports):
        return UNWRITTEN
    return REMOVED if between else UNKNOWN


def _touches(place, gap, near):
    """Return whether a segment that is not sound can have held what is missing."""
    if place.first_seq is not None:
        return place.first_seq <= gap.last + 1 and place.last_seq >= gap.first - 1
    return place.number in _numbers_between(gap, near)


def _numbers_between(gap, near):
    """Return the numbers of segments between the one before the gap and the one behind it."""
    mine = [one for one in near if one.stream == STREAM_OF[gap.kind] and one.first_seq is not None]
    earlier = [one.number for one in mine if one.first_seq < gap.first]
    later = [one.number for one in mine if one.last_seq > gap.last]
    if not later:
        return range(0)
    return range(max(earlier, default=0) + 1, min(later))


def _is_between(at_s, gap):
    # Reports are written a little after the loss: a sync interval is allowed.
    return not (at_s < gap.after_s) and not (at_s > gap.before_s + 60.0)
