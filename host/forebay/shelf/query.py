"""Questions to the shelf: by time, in parts that fit into memory.

Owns which segments an answer needs.  Rows come in the order of their numbers
and each once, whether a block, a tail or both brought them.
"""

from collections.abc import Iterator
from datetime import UTC, date, tzinfo
from typing import NamedTuple

import numpy as np

from forebay.shelf.clock import Clock, Times
from forebay.shelf.columns import ROW_COLUMNS, chosen
from forebay.shelf.decode import Findings, Journal, decode
from forebay.shelf.fitted import Fitted
from forebay.shelf.local import UNKNOWN_DAY, day_ranges, local_days
from forebay.shelf.opening import ShelfError
from forebay.shelf.rows import TOTALS_RECORD, Rows
from forebay.shelf.store import Shelf
from keeper.journal import records

# Segments decoded at a time: some 40 000 rows, 4 MB with their times.
PART_SEGMENTS = 16
ROW_STREAMS = (records.DETAIL, records.TAIL)
MOST_RANGES = 8  # of days, in one line for a person


class Held(NamedTuple):
    """A segment on the shelf: where it lies, and the numbers [-] of its first and last record.

    first, last: its first and last moment, each (boot [-], uptime [0.1 s]).
    """

    generation: int
    stream: int
    rowid: int
    first_seq: int
    last_seq: int
    first: tuple[int, int]
    last: tuple[int, int]


class Part(NamedTuple):
    """Rows in order, their times, what their reader found, and how many [-] segments are done."""

    rows: Rows
    times: Times
    findings: Findings
    done: int
    total: int


def segments_between(shelf: Shelf, rig_id: int, clock: Clock, period=None,
                     streams=ROW_STREAMS) -> list[Held]:
    """Return the segments of some streams that hold records of a period, by their numbers.

    period: (begin, end) [s since 1970 UTC], None = all.  A segment none of
    whose records has a known time belongs to no period but to all.
    """
    marks = ", ".join("?" * len(streams))
    found = shelf.read(
        "SELECT life, stream, rowid, first_seq, last_seq, first_boot, first_uptime_ds, last_boot,"
        f" last_uptime_ds FROM segments WHERE rig_id = ? AND stream IN ({marks})"
        " AND first_boot IS NOT NULL ORDER BY life, first_seq, stream", rig_id, *streams)
    lives = set(shelf.generations(rig_id))
    found = [row for row in found if row[0] in lives]
    # Totals alone have no number of their own: they count as before every row.
    held = [Held(*row[:3], row[3] or 0, row[4] or 0, row[5:7], row[7:]) for row in found]
    if period is None or not found:
        return held
    table = np.array([(row[0], *row[5:]) for row in found]).T
    begins_s = clock.utc(table[0], table[1], table[2])
    ends_s = clock.utc(table[0], table[3], table[4])
    inside = (ends_s >= period[0]) & (begins_s <= period[1])
    return [one for one, keep in zip(held, inside, strict=True) if keep]


def reach(shelf: Shelf, rig_id: int) -> tuple[float, float] | None:
    """Return (first, last) moment of a rig's rows on the shelf [s since 1970 UTC].

    None if there is none whose time is known.
    """
    clock = shelf.clock(rig_id)
    held = segments_between(shelf, rig_id, clock)
    if not held:
        return None
    table = np.array([(one.generation, *one.first, *one.last) for one in held]).T
    begins_s = clock.utc(table[0], table[1], table[2])
    ends_s = clock.utc(table[0], table[3], table[4])
    known = np.isfinite(begins_s) & np.isfinite(ends_s)
    return (float(begins_s[known].min()), float(ends_s[known].max())) if known.any() else None


def parts(shelf: Shelf, rig_id: int, period: tuple[float, float] | None = None,
          life: int | None = None) -> Iterator[Part]:
    """Yield the rows of a period in parts of about PART_SEGMENTS segments.

    period: (begin, end) [s since 1970 UTC]: rows that end at begin or later
    and before end; None = all.  life: one journal alone, None = one after the other.
    Memory is bounded by one part, however many years there are.
    """
    clock = shelf.clock(rig_id)
    found = [one for one in segments_between(shelf, rig_id, clock, period)
             if life is None or one.generation == life]
    done = 0
    for group in grouped(found, PART_SEGMENTS):
        done += len(group)
        journal = decode(_blobs(shelf, group), group[0].generation)
        rows = journal.rows
        times = clock.times(rows.generation, rows.boot, rows.uptime_ds)
        if period is not None:
            inside = (times.utc_s >= period[0]) & (times.utc_s < period[1])
            rows, times = rows.take(inside), Times(*[each[inside] for each in times])
        yield Part(rows, times, journal.findings, done, len(found))


def grouped(found: list[Held], most: int) -> Iterator[list[Held]]:
    """Yield `most` segments or a few more: none holds a number of an other group.

    found: in the order of `segments_between`; a tail overlaps the blocks of its time.
    """
    group: list[Held] = []
    last = 0
    for one in found:
        new_generation = group and one.generation != group[0].generation
        if new_generation or (len(group) >= most and one.first_seq > last):
            yield group
            group, last = [], 0
        group.append(one)
        last = max(last, one.last_seq)
    if group:
        yield group


def _blobs(shelf, group):
    for one in group:
        yield shelf.read("SELECT data FROM segments WHERE rowid = ?", one.rowid)[0][0]


def series(shelf: Shelf, rig_id: int, names: str,
           period: tuple[float, float] | None = None) -> dict[str, np.ndarray]:
    """Return columns of the rows of a period by name.

    names: of `forebay.shelf.columns.ROW_COLUMNS`, with commas; units and what
    is not known as told there.  Raises InputError for a name that is none.
    """
    columns = chosen(ROW_COLUMNS, names)
    had = fitted_of(shelf, rig_id)
    found = []
    for part in parts(shelf, rig_id, period):
        absent = had.absent(part.rows.generation, part.rows.boot)
        found.append({column.name: column.values(part.rows, part.times, absent)
                      for column in columns})
    empty = Rows.empty(0)
    found.append({column.name: column.values(empty, Times(*[np.empty(0)] * 3),
                                             np.empty(0, np.int64)) for column in columns})
    return {column.name: np.concatenate([part[column.name] for part in found])
            for column in columns}


def fitted_of(shelf: Shelf, rig_id: int) -> Fitted:
    """Return which instruments the boards of a rig had, start by start."""
    return Fitted(journal_between(shelf, rig_id, None, (records.EVENTS,)).events)


def events_between(shelf: Shelf, rig_id: int, period: tuple[float, float] | None = None,
                   codes: tuple[int, ...] | None = None) -> tuple[np.ndarray, Times]:
    """Return the events of a period, or those of some codes [-], in order, with their times."""
    table = journal_between(shelf, rig_id, period, (records.EVENTS,)).events
    times = shelf.clock(rig_id).times(table["generation"], table["boot"], table["uptime_ds"])
    inside = np.ones(len(table), bool)
    if period is not None:
        inside &= (times.utc_s >= period[0]) & (times.utc_s < period[1])
    if codes is not None:
        inside &= np.isin(table["code"], codes)
    return table[inside], Times(*[each[inside] for each in times])


def totals_between(shelf: Shelf, rig_id: int, period: tuple[float, float] | None = None
                   ) -> tuple[np.ndarray, Times]:
    """Return the totals that no event carries, in order, each once, with their times.

    They stand between rows and at the quarter hours; `forebay.shelf.rows` has their fields.
    """
    clock = shelf.clock(rig_id)
    found = []
    for streams in (ROW_STREAMS, (records.SUMMARY,)):
        for group in grouped(segments_between(shelf, rig_id, clock, period, streams),
                             PART_SEGMENTS):
            journal = decode(_blobs(shelf, group), group[0].generation)
            found += [table[["generation", *(TOTALS_RECORD.names or ())]]
                      for table in (journal.totals, journal.summaries)]
    table = np.concatenate(found) if found else np.empty(0, TOTALS_RECORD)
    if len(table):
        key = np.stack([table["generation"], table["boot"], table["uptime_ds"]]).astype(np.int64)
        table = table[np.unique(key, axis=1, return_index=True)[1]]
    times = Times(*[np.empty(0)] * 3)
    if len(table):
        times = clock.times(table["generation"], table["boot"], table["uptime_ds"])
    inside = np.ones(len(table), bool)
    if period is not None:
        inside &= (times.utc_s >= period[0]) & (times.utc_s < period[1])
    return table[inside], Times(*[each[inside] for each in times])


def journal_between(shelf: Shelf, rig_id: int, period: tuple[float, float] | None = None,
                    streams=tuple(range(records.STREAMS))) -> Journal:
    """Return the journal of the segments that reach into a period, decoded.

    It holds at least all records of the period: who wants no others selects
    by time (`forebay.balance.compute.within`).
    """
    found = segments_between(shelf, rig_id, shelf.clock(rig_id), period, streams)
    generations = sorted({one.generation for one in found})
    journal = Journal.joined([
        decode(_blobs(shelf, [one for one in found if one.generation == generation]), generation)
        for generation in generations])
    journal.findings.not_pulled = shelf.not_pulled(rig_id)
    return journal


def unreadable_records(shelf: Shelf, rig_id: int, streams) -> int:
    """Return how many records of some streams do not follow the format, in bounded memory."""
    found = segments_between(shelf, rig_id, shelf.clock(rig_id), None, streams)
    return sum(decode(_blobs(shelf, group), group[0].generation).findings.unreadable_records
               for group in grouped(found, PART_SEGMENTS))


def no_rows(shelf: Shelf, rig_id: int, zone: tzinfo = UTC, what: str = "rows") -> ShelfError:
    """Return the error that a period holds no rows of a rig: it names the local days held.

    what: what was looked for, rows or events.
    """
    held: set[date] = set()
    rows = 0
    for part in parts(shelf, rig_id):
        rows += len(part.rows)
        place, days = local_days(part.times.utc_s, zone)
        held |= {days[at] for at in np.unique(place).tolist() if at != UNKNOWN_DAY}
    ranges = day_ranges(sorted(held))
    if not ranges:
        found = "no row whose time is known" if rows else "no rows of that rig: pull again"
        return ShelfError(f"the shelf {shelf.path} holds {found}")
    left = len(ranges) - MOST_RANGES
    more = f" and {left} more stretches" if left > 0 else ""
    return ShelfError(f"the shelf holds no {what} of that rig in that time; days held:"
                      f" {', '.join(ranges[:MOST_RANGES])}{more}")

