"""What each segment on the shelf holds, noted when it arrives.

So a pull can say what is new, and a question about one day find its segments,
without decoding years of them.  All of it follows from the segments' bytes
and is filled again from them if need be.
"""

import sqlite3
from typing import NamedTuple

import numpy as np

from forebay.shelf.decode import Journal, decode
from keeper.journal import records

KEY = "(rig_id, life, stream, number, turn) = (?, ?, ?, ?, ?)"


class Gain(NamedTuple):
    """Rows, events and segments of a newer version [-] that the shelf did not hold before."""

    rows: int = 0
    events: int = 0
    newer_segments: int = 0

    def plus(self, other: "Gain") -> "Gain":
        """Return both together."""
        return Gain(*[one + two for one, two in zip(self, other, strict=True)])


def note(db: sqlite3.Connection, key: tuple[int, int, int, int, int], data: bytes) -> Gain:
    """Note what a segment's bytes hold; key: (rig_id, generation, stream, number, revision) [-].

    Runs inside the caller's transaction.  Returns what is new by it.
    """
    journal = decode([data])
    numbers = {records.ROW: journal.rows.seq, records.EVENT: journal.events["seq"],
               records.QUARTER_SUMMARY: journal.summaries["seq"]}
    # Each kind counts for itself; a tail holds rows and a few summaries: its rows count.
    seqs = next((seq for seq in numbers.values() if len(seq)), journal.rows.seq)
    span = _span(journal)
    if len(seqs):
        span = (int(seqs.min()), int(seqs.max()), *span[2:])
    db.execute("UPDATE segments SET first_seq = ?, last_seq = ?, first_boot = ?,"
               f" first_uptime_ds = ?, last_boot = ?, last_uptime_ds = ? WHERE {KEY}",
               (*span, *key))
    rig_id, generation = key[:2]
    _lengthen(db, rig_id, generation, journal)
    new = {kind: _hold(db, rig_id, generation, kind, seq) for kind, seq in numbers.items()}
    return Gain(new[records.ROW], new[records.EVENT], journal.findings.newer_segments)


def fill(db: sqlite3.Connection) -> None:
    """Note every segment anew; runs inside the caller's transaction."""
    db.execute("DELETE FROM held")
    db.execute("DELETE FROM boots")
    keys = db.execute("SELECT rig_id, life, stream, number, turn FROM segments").fetchall()
    for key in keys:
        note(db, key, db.execute(f"SELECT data FROM segments WHERE {KEY}", key).fetchone()[0])


def moments_of(journal: Journal) -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Return (generation, boot, uptime [0.1 s]) of the rows and of each kind of record."""
    rows = journal.rows
    return [(rows.generation, rows.boot, rows.uptime_ds)] + [
        (table["generation"], table["boot"], table["uptime_ds"])
        for table in (journal.events, journal.totals, journal.summaries)]


def _moments(journal):
    """Return boot and uptime of everything as one rising number [-]."""
    return np.concatenate([boot.astype(np.int64) << 32 | uptime.astype(np.int64)
                           for _, boot, uptime in moments_of(journal)])


def _span(journal):
    moments = _moments(journal)
    if not len(moments):
        return (None,) * 6
    first, last = int(moments.min()), int(moments.max())
    return None, None, first >> 32, first & 0xFFFFFFFF, last >> 32, last & 0xFFFFFFFF


def _lengthen(db, rig_id, generation, journal):
    """Note the last uptime of each boot."""
    moments = np.sort(_moments(journal))
    last = np.append(np.diff(moments >> 32) != 0, True)[: len(moments)]
    db.executemany(
        "INSERT INTO boots VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE"
        " SET last_uptime_ds = max(last_uptime_ds, excluded.last_uptime_ds)",
        [(rig_id, generation, moment >> 32, moment & 0xFFFFFFFF)
         for moment in moments[last].tolist()])


def _hold(db, rig_id, generation, kind, seqs):
    """Add numbers to the ranges that are held; return how many are new."""
    if not len(seqs):
        return 0
    mine = (rig_id, generation, kind)
    where = "WHERE (rig_id, life, kind) = (?, ?, ?)"
    held = db.execute(f"SELECT first, last FROM held {where} ORDER BY first", mine).fetchall()
    joined = joined_ranges(held + ranges_of(seqs))
    if joined == held:
        return 0
    db.execute(f"DELETE FROM held {where}", mine)
    db.executemany("INSERT INTO held VALUES (?, ?, ?, ?, ?)",
                   [(*mine, first, last) for first, last in joined])
    return size_of(joined) - size_of(held)


def size_of(ranges: list[tuple[int, int]]) -> int:
    """Return how many numbers [-] ranges (first, last) hold."""
    return sum(last - first + 1 for first, last in ranges)


def ranges_of(seqs: np.ndarray) -> list[tuple[int, int]]:
    """Return the ranges (first, last) [-] without a gap that numbers form."""
    seqs = np.unique(seqs.astype(np.int64))
    edges = np.flatnonzero(np.diff(seqs) > 1)
    first = seqs[np.concatenate([[0], edges + 1])] if len(seqs) else seqs
    last = seqs[np.concatenate([edges, [len(seqs) - 1]])] if len(seqs) else seqs
    return list(zip(first.tolist(), last.tolist(), strict=True))


def joined_ranges(ranges: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return ranges (first, last) [-] in order, those that touch as one."""
    joined: list[tuple[int, int]] = []
    for first, last in sorted(ranges):
        if joined and first <= joined[-1][1] + 1:
            joined[-1] = (joined[-1][0], max(joined[-1][1], last))
        else:
            joined.append((first, last))
    return joined
