"""The whole check of one rig: runs its parts, keeps what they found, says it."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from forebay.shelf import Clock, Shelf
from forebay.shelf.certainty import cuts_said
from forebay.shelf.checking.losses import Gap, Loss, gaps_of, losses
from forebay.shelf.checking.segments import Segments, look
from forebay.shelf.checking.totals import Agreement, Disagreement, fallen
from forebay.shelf.fitted import Fitted
from forebay.shelf.lives import at_once_said
from forebay.shelf.query import journal_between, parts, unreadable_records
from forebay.shelf.room import Holding, holdings
from keeper.journal import records

# Streams that hold no rows: those of the tail are read with the other rows.
BESIDE = (records.EVENTS, records.SUMMARY)


class Verdict(StrEnum):
    """What a check comes to."""

    SOUND = "sound"
    INCOMPLETE = "incomplete"
    DAMAGED = "damaged"


@dataclass
class Check:
    """What was looked at and what was found.

    database: faults of the file itself; rows, events, summaries, boots,
    restarts (boots that are not the first of their journal): counts [-];
    conflicts: (generation, number) of rows that exist twice and differ;
    conflicting_records: events or summaries likewise [-]; unreadable_records:
    whole by their CRC but not in the format [-]; compared: totals compared
    with rows [-]; most_bound_s: largest bound of a row's time [s], None = open;
    clock: of the rig's boards; holdings: what each held at its last pull.
    """

    rig_id: int
    database: list[str]
    segments: Segments
    rows: int
    events: int
    summaries: int
    boots: int
    restarts: int
    losses: list[Loss]
    conflicts: list[tuple[int, int]]
    conflicting_records: int
    unreadable_records: int
    unknown_records: int
    disagreements: list[Disagreement]
    compared: int
    most_bound_s: float | None
    holdings: list[Holding]
    clock: Clock
    notes: list[str]

    @property
    def verdict(self) -> Verdict:
        """What all of it comes to.

        Damaged: something held does not fit its CRC, the format or the rest.
        Incomplete: what is held is whole, but numbers are missing, wait on
        the board, or are of a newer version.
        """
        if (self.database or self.segments.damage or self.conflicts or self.conflicting_records
                or self.unreadable_records or self.disagreements):
            return Verdict.DAMAGED
        if self.losses or self.segments.not_pulled or self.segments.newer:
            return Verdict.INCOMPLETE
        return Verdict.SOUND


def check(shelf: Shelf, rig_id: int,
          progress: Callable[[int, int], None] | None = None) -> Check:
    """Check all that a shelf holds of one rig; changes nothing.

    progress: called with (segments done, segments in all), once for their
    bytes and once for their rows.  Raises ShelfError if the file is so
    damaged that it cannot be read.
    """
    progress = progress or (lambda done, total: None)
    database = shelf.faults()
    segments = look(shelf, rig_id, lambda done, total: progress(done, 2 * total))
    journal = journal_between(shelf, rig_id, None, (records.EVENTS, records.SUMMARY, records.TAIL))
    fell = fallen(journal)
    clock = shelf.clock(rig_id)
    gaps: list[Gap] = []
    times = {}
    for kind, table in ((records.EVENT, journal.events),
                        (records.QUARTER_SUMMARY, journal.summaries)):
        times[kind] = clock.utc(table["generation"], table["boot"], table["uptime_ds"])
        gaps += gaps_of(kind, table["generation"], table["seq"], times[kind])
    rows = _Rows(Agreement(journal))
    for part in parts(shelf, rig_id):
        rows.take(part)
        progress(part.total + part.done, 2 * part.total)
    findings = journal.findings
    return Check(
        rig_id=rig_id,
        database=database,
        segments=segments,
        rows=rows.count,
        events=len(journal.events),
        summaries=len(journal.summaries),
        boots=len(clock.ends),
        restarts=max(len(clock.ends) - len(shelf.generations(rig_id)), 0),
        losses=losses(rows.gaps + gaps, segments, journal.events, times[records.EVENT]),
        conflicts=rows.conflicts,
        conflicting_records=findings.conflicting_records,
        unreadable_records=rows.unreadable + unreadable_records(shelf, rig_id, BESIDE),
        unknown_records=findings.unknown_records,
        disagreements=fell + rows.agreement.found,
        compared=rows.agreement.compared,
        most_bound_s=rows.most_bound_s if np.isfinite(rows.most_bound_s) else None,
        holdings=holdings(shelf, rig_id),
        clock=clock,
        notes=_notes(shelf, rig_id, clock, journal),
    )


def _notes(shelf, rig_id, clock, journal):
    return [*clock.notes(), *cuts_said(clock), *at_once_said(shelf, rig_id),
            *Fitted(journal.events).notes()]


class _Rows:
    """What the rows show, part by part."""

    def __init__(self, agreement):
        self.agreement = agreement
        self.count = 0
        self.gaps: list[Gap] = []
        self.conflicts: list[tuple[int, int]] = []
        self.unreadable = 0
        self.most_bound_s = 0.0
        self._last = None

    def take(self, part):
        rows, utc_s = part.rows, part.times.utc_s
        self.unreadable += part.findings.unreadable_records
        if not len(rows):
            return
        self.conflicts += [(int(rows.generation[0]), seq) for seq in part.findings.conflicts]
        self.count += len(rows)
        self.gaps += gaps_of(records.ROW, rows.generation, rows.seq, utc_s, self._last)
        self._last = (int(rows.generation[-1]), int(rows.seq[-1]), float(utc_s[-1]))
        self.most_bound_s = max(self.most_bound_s, float(part.times.bound_s.max()))
        self.agreement.take(rows)
