"""Tails and blocks of any kind, written record by record, and what must become of them."""

import random
import struct
import zlib
from collections.abc import Iterable

from keeper.records import put_row, put_summary
from keeper.rows import KeptTotals
from tests.journal.fakes import RIG_ID

ROW_BYTES, SUMMARY_BYTES = 52, 184
ROWS_OF_BLOCK, SUMMARIES_OF_BLOCK = 64, 8
Row = tuple[int, ...]


def row(seq: int) -> list[int]:
    """The row of a number: the same whenever it is asked for."""
    chance = random.Random(seq)
    return [1, 10 * seq, 10, seq % 5, seq % 32, *[chance.randint(-999, 999) for _ in range(14)]]


def head(stream: int, number: int) -> bytes:
    """The head of a segment."""
    data = b"fbyj" + struct.pack("<BBHI", 1, stream, number, RIG_ID)
    return data + struct.pack("<I", zlib.crc32(data))


def record(kind: int, seq: int, payload: bytes) -> bytes:
    """A record of any type."""
    data = struct.pack("<BHI", kind, len(payload), seq) + payload
    return b"\xa7" + data + struct.pack("<I", zlib.crc32(data))


def row_record(seq: int) -> bytes:
    """A row in full."""
    out = bytearray(ROW_BYTES)
    assert put_row(out, 0, seq, row(seq)) == ROW_BYTES
    return bytes(out)


def summary_record(seq: int) -> bytes:
    """A summary in full."""
    out = bytearray(SUMMARY_BYTES)
    kept = KeptTotals([seq] * 10, [0] * 10)
    kept.uptime_ds = 9000 * seq
    chance = random.Random(seq)
    marks = sum([sorted(chance.randint(-999, 999) for _ in range(3)) for _ in range(14)], [])
    assert put_summary(out, 0, seq, 1, 900, marks, kept) == SUMMARY_BYTES
    return bytes(out)


def tail(number: int, rows: Iterable[int], summaries: Iterable[int] = ()) -> dict[str, bytes]:
    """A segment of the tail that holds these rows and summaries, in this order."""
    data = head(3, number)
    data += b"".join(row_record(seq) for seq in rows)
    data += b"".join(summary_record(seq) for seq in summaries)
    return {f"t{number:05}": data}


def runs(numbers: Iterable[int], most: int) -> list[tuple[int, int]]:
    """Cuts numbers into (first, count) without a gap, of at most so many each."""
    found: list[tuple[int, int]] = []
    for number in sorted(set(numbers)):
        if found and number == sum(found[-1]) and found[-1][1] < most:
            found[-1] = found[-1][0], found[-1][1] + 1
        else:
            found.append((number, 1))
    return found
