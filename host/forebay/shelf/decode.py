"""From the segments of one journal to rows, events, totals and summaries.

Owns the merging: rows that stand both in a block and in the tail count once,
gaps in the numbers and damage are measured and reported, never filled.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, fields

import numpy as np

from forebay.shelf import blocks, segments, summaries
from forebay.shelf.rows import EVENT_RECORD, ROW_RECORD, SUMMARY_RECORD, TOTALS_RECORD, Rows
from keeper.journal import records

PLAIN = {
    records.EVENT: EVENT_RECORD,
    records.TOTALS_AT_ROW: TOTALS_RECORD,
    records.QUARTER_SUMMARY: SUMMARY_RECORD,
}
MOST_NAMES = 6  # of files, in a sentence for a person


def said_not_pulled(names: list[str]) -> str:
    """Return a sentence on files, by name, of which the board has more than the shelf."""
    more = ", ..." if len(names) > MOST_NAMES else ""
    return f"Not wholly pulled: pull again ({', '.join(names[:MOST_NAMES])}{more})."


@dataclass
class Findings:
    """What the reader of a journal dropped, skipped or missed.

    damaged_bytes lie between valid records, torn_bytes after the last record
    of a segment (normal for the newest); conflicts lists the numbers of rows
    that exist twice and differ, conflicting_records counts such events and
    summaries; missing_rows lists (first, last) numbers that no segment holds,
    among the rows that are there; not_pulled: names of files of which the
    board has more than the shelf.
    """

    segments: int = 0
    damaged_bytes: int = 0
    torn_bytes: int = 0
    damaged_headers: int = 0
    newer_segments: int = 0
    unreadable_records: int = 0
    unknown_records: int = 0
    duplicate_rows: int = 0
    conflicting_rows: int = 0
    conflicting_records: int = 0
    conflicts: list[int] = field(default_factory=list)
    missing_rows: list[tuple[int, int]] = field(default_factory=list)
    not_pulled: list[str] = field(default_factory=list)

    def add(self, other: "Findings") -> None:
        """Add the counts and lists of another journal's findings."""
        for item in fields(self):
            setattr(self, item.name, getattr(self, item.name) + getattr(other, item.name))

    def lines(self) -> list[str]:
        """Return one plain sentence for each thing that a person should know."""
        missing = sum(last - first + 1 for first, last in self.missing_rows)
        said = (
            (missing, "{} rows are missing in {} places", len(self.missing_rows)),
            (self.damaged_bytes, "{} bytes of the journal are damaged and were left out", 0),
            (self.damaged_headers, "{} segments have a damaged header", 0),
            (self.newer_segments, "{} segments are of a newer version: kept, not read", 0),
            (self.unreadable_records, "{} records do not follow the format", 0),
            (self.conflicting_rows, "{} rows exist twice with different contents", 0),
            (self.conflicting_records, "{} events or summaries exist twice with different"
             " contents", 0),
        )
        found = [text.format(count, more) for count, text, more in said if count]
        return found + ([said_not_pulled(self.not_pulled)] if self.not_pulled else [])


@dataclass
class Journal:
    """All that a journal holds, in order.

    events, totals, summaries: structured arrays of the record types in
    `forebay.shelf.rows`, with the fields generation and seq in front.
    """

    rows: Rows
    events: np.ndarray
    totals: np.ndarray
    summaries: np.ndarray
    findings: Findings

    @classmethod
    def joined(cls, parts: list["Journal"]) -> "Journal":
        """Return the journals of several generations as one."""
        findings = Findings()
        for part in parts:
            findings.add(part.findings)
        if not parts:
            return decode([])
        return cls(
            Rows.joined([part.rows for part in parts]),
            np.concatenate([part.events for part in parts]),
            np.concatenate([part.totals for part in parts]),
            np.concatenate([part.summaries for part in parts]),
            findings,
        )


def decode(blobs: Iterable[bytes], generation: int = 0) -> Journal:
    """Return what the segments of one journal hold, in any order of segments.

    blobs: the bytes of each segment as the board has them; generation: the number
    [-] to mark rows and records with.  Nothing in the bytes raises.
    """
    data, found, findings = _collect(blobs)
    rows, refused = _rows(data, found)
    findings.unreadable_records += refused
    rows = _in_order(rows, findings)
    rows.generation[:] = generation
    plain = {kind: _plain(data, found, kind, generation, findings) for kind in PLAIN}
    known = np.isin(found["kind"], [records.ROW, records.BLOCK, records.SUMMARY_BLOCK, *PLAIN])
    findings.unknown_records += int(np.count_nonzero(~known))
    return Journal(
        rows, plain[records.EVENT], plain[records.TOTALS_AT_ROW],
        plain[records.QUARTER_SUMMARY], findings
    )


def _collect(blobs):
    """Return (all bytes, table of the records in them, findings so far)."""
    findings = Findings()
    data = []
    base = 0
    table = []
    for blob in blobs:
        segment = segments.read(blob)
        findings.segments += 1
        findings.damaged_bytes += sum(size for _, size in segment.damaged)
        findings.torn_bytes += segment.torn
        findings.damaged_headers += segment.header_damaged
        findings.newer_segments += bool(segment.newer)
        table += [(kind, seq, base + at, size) for kind, seq, at, size in segment.records]
        data.append(blob)
        base += len(blob)
    places = [("kind", "u1"), ("seq", "<u4"), ("start", "<i8"), ("length", "<i8")]
    return b"".join(data), np.array(table, dtype=places), findings


def _rows(data, found):
    """Return (rows of blocks and of plain records, blocks and rows that were refused)."""
    packed = found[found["kind"] == records.BLOCK]
    from_blocks, refused = blocks.decode(data, packed["start"], packed["length"], packed["seq"])
    plain, payloads, bad = _payloads(data, found, records.ROW, ROW_RECORD.itemsize)
    from_tail = Rows.from_records(plain["seq"], payloads)
    return Rows.joined([from_blocks, from_tail]), refused + bad


def _payloads(data, found, kind, size):
    """Return (records of one kind, their payloads joined, how many have another size)."""
    mine = found[found["kind"] == kind]
    fits = mine["length"] == size
    mine = mine[fits]
    payloads = b"".join([data[start : start + size] for start in mine["start"].tolist()])
    return mine, payloads, int(np.count_nonzero(~fits))


def _in_order(rows, findings):
    """Return the rows by number, each once; note duplicates, conflicts and gaps."""
    # Stable: a block stands before the tail's copy of its rows and is the one kept.
    if (np.diff(rows.seq.astype(np.int64)) < 0).any():
        rows = rows.take(np.argsort(rows.seq, kind="stable"))
    again = np.flatnonzero(np.diff(rows.seq.astype(np.int64)) == 0) + 1
    findings.duplicate_rows += len(again)
    differ = again[_differ(rows, again)]
    findings.conflicting_rows += len(differ)
    findings.conflicts += rows.seq[differ].tolist()
    rows = rows.take(np.delete(np.arange(len(rows)), again)) if len(again) else rows
    numbers = rows.seq.astype(np.int64)
    after = np.flatnonzero(np.diff(numbers) > 1)
    findings.missing_rows += [(int(numbers[i]) + 1, int(numbers[i + 1]) - 1) for i in after]
    return rows


def _differ(rows, places):
    """Return for each place whether that row and the one before it are unlike."""
    one, other = rows.take(places), rows.take(places - 1)
    unlike = np.any(one.stored != other.stored, axis=0)
    for name in ("boot", "uptime_ds", "scans", "state", "contacts"):
        unlike |= getattr(one, name) != getattr(other, name)
    return unlike


def _plain(data, found, kind, generation, findings):
    """Return the records of a kind with generation and seq in front, each once, in order."""
    layout = PLAIN[kind]
    mine, payloads, bad = _payloads(data, found, kind, layout.itemsize)
    findings.unreadable_records += bad
    seqs, content = mine["seq"], np.frombuffer(payloads, dtype=layout)
    if kind == records.QUARTER_SUMMARY:
        packed = found[found["kind"] == records.SUMMARY_BLOCK]
        more, summed, bad = summaries.decode(
            data, packed["start"], packed["length"], packed["seq"])
        findings.unreadable_records += bad
        seqs, content = np.concatenate([more, seqs]), np.concatenate([summed, content])
    full = np.dtype([("generation", "<u2"), ("seq", "<u4"), *_fields(layout)])
    plain = np.zeros(len(content), dtype=full)
    for name in layout.names or ():
        plain[name] = content[name]
    plain["generation"] = generation
    plain["seq"] = seqs
    if kind == records.TOTALS_AT_ROW:
        # Their seq is that of a row, so two records may share one: uptime decides.
        return plain[np.lexsort((plain["uptime_ds"], plain["boot"]))]
    return _once(plain, findings)


def _once(plain, findings):
    """Return records by number, each once: the first that was found of it."""
    plain = plain[np.argsort(plain["seq"], kind="stable")]
    again = np.flatnonzero(np.diff(plain["seq"].astype(np.int64)) == 0) + 1
    findings.conflicting_records += int(np.count_nonzero(plain[again] != plain[again - 1]))
    return np.delete(plain, again)


def _fields(layout):
    return [(name, *_field(layout[name])) for name in layout.names]


def _field(kind):
    return (kind.base, kind.shape) if kind.shape else (kind,)
