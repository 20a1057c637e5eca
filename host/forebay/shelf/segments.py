"""Segments of the journal: from the bytes of one file to its records.

Owns the framing of `host/docs/journal.md`, sections 2 and 3.  It must not
know what a payload means.  Contract: nothing that stands in a file raises; a
torn end is normal, damage in the middle is confined, measured and passed by.
"""

import struct
import zlib
from dataclasses import dataclass, field
from typing import NamedTuple

from keeper.journal import records
from keeper.journal.segments import STREAM_FILES

HEADER = struct.Struct("<4sBBHII")
HEADER_CRC_SPAN = records.SEGMENT_HEAD - records.TRAILER
RECORD_HEAD = struct.Struct("<BBHI")
CRC = struct.Struct("<I")
SHORTEST_RECORD = records.HEAD + records.TRAILER
MARK = records.MARK
STREAM_NAMES = ("detail", "events", "summary", "tail")  # by the number of a stream
assert len(STREAM_NAMES) == records.STREAMS


class Record(NamedTuple):
    """One record whose CRC fits: its type, its number and where its payload lies."""

    kind: int
    seq: int
    start: int
    length: int


@dataclass
class Segment:
    """What one file holds.

    `newer` is a version above the one that this reader knows, else 0; such a
    file is not searched for records.  `damaged` lists (offset, bytes) between
    valid records, `torn` counts the bytes after the last of them.
    """

    records: list[Record] = field(default_factory=list)
    rig_id: int | None = None
    newer: int = 0
    header_damaged: bool = False
    damaged: list[tuple[int, int]] = field(default_factory=list)
    torn: int = 0


def name_of(stream: int, number: int) -> str:
    """Return the name of a segment's file on the board."""
    return f"{records.LETTERS[stream]}{number:05d}"


def file_number(stream: int, segment: int) -> int:
    """Return the Modbus file number [-] of a segment."""
    return stream * STREAM_FILES + segment


def split_file_number(file_number: int) -> tuple[int, int]:
    """Return (stream, segment number) [-] of a Modbus file number [-]."""
    return divmod(file_number, STREAM_FILES)


def read(data: bytes) -> Segment:
    """Return the records of one segment; never raises for what the bytes hold."""
    segment = Segment()
    if len(data) < records.SEGMENT_HEAD:
        segment.torn = len(data)
        return segment
    magic, version, _, _, rig_id, crc = HEADER.unpack_from(data)
    if magic != records.MAGIC or crc != zlib.crc32(data[:HEADER_CRC_SPAN]):
        segment.header_damaged = True
    elif version > records.FORMAT_VERSION:
        segment.newer = version
        return segment
    else:
        segment.rig_id = rig_id
    _read_records(data, segment)
    return segment


def _read_records(data: bytes, segment: Segment) -> None:
    at = records.SEGMENT_HEAD
    size = len(data)
    while size - at >= SHORTEST_RECORD:
        record = maybe_record(data, at)
        if record is None:
            found = _next_record_at(data, at + 1)
            if found < 0:
                break
            segment.damaged.append((at, found - at))
            at = found
            continue
        segment.records.append(record)
        at = record.start + record.length + records.TRAILER
    segment.torn = size - at


def maybe_record(data: bytes, at: int) -> Record | None:
    """Return the record that starts at offset `at` [bytes], None if none fits there."""
    mark, kind, length, seq = RECORD_HEAD.unpack_from(data, at)
    if mark != MARK or kind == 0 or length > records.PAYLOAD_MOST:
        return None
    start = at + records.HEAD
    end = start + length
    if end + records.TRAILER > len(data):
        return None
    if CRC.unpack_from(data, end)[0] != zlib.crc32(data[at + 1 : end]):
        return None
    return Record(kind, seq, start, length)


def _next_record_at(data: bytes, at: int) -> int:
    """Return the next offset [bytes] from `at` on where a whole record fits, -1 if none."""
    last = len(data) - SHORTEST_RECORD
    at = data.find(MARK, at)
    while 0 <= at <= last:
        if maybe_record(data, at) is not None:
            return at
        at = data.find(MARK, at + 1)
    return -1
