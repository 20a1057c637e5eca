"""A plain reader of the journal, written from its specification alone.

It shares no code and no constant with the writer: the two check each other.
"""

import dataclasses
import functools
import pathlib
import re
import struct
import zlib

STREAM_OF_LETTER = {"d": 0, "e": 1, "s": 2, "t": 3}
ROW, BLOCK, EVENT, TOTALS, SUMMARY, SUMMARY_BLOCK = 1, 2, 3, 4, 5, 6
UPTIME_COLUMN = 1
COLUMNS = 19
CHANNELS = 14
TOTALS_COLUMNS = 10
NAME = re.compile("[dest][0-9]{5}")
VERSION = 1
NUMBER_MOST = 16383


@dataclasses.dataclass
class Segment:
    """What one file holds: (type, seq, payload), and the (offset, bytes) that are damaged."""

    stream: int
    number: int
    rig: int
    records: list[tuple[int, int, bytes]]
    damaged: list[tuple[int, int]]
    newer: int = 0


@dataclasses.dataclass
class Content:
    """A whole journal, or one file of it.

    rows: seq -> the 19 numbers; by_event, by_summary: seq -> its fields;
    conflicts: seqs found twice, unequal; newer: names of segments of a version
    that this reader does not know, unread.
    """

    segments: list[Segment] = dataclasses.field(default_factory=list)
    rows: dict[int, tuple[int, ...]] = dataclasses.field(default_factory=dict)
    blocked: set[int] = dataclasses.field(default_factory=set)
    tail: set[int] = dataclasses.field(default_factory=set)
    conflicts: list[int] = dataclasses.field(default_factory=list)
    by_event: dict[int, tuple] = dataclasses.field(default_factory=dict)
    totals: list[tuple] = dataclasses.field(default_factory=list)
    by_summary: dict[int, tuple] = dataclasses.field(default_factory=dict)
    newer: list[str] = dataclasses.field(default_factory=list)

    @property
    def events(self) -> list[tuple]:
        """The events in order, each with its number in front."""
        return [(seq, *self.by_event[seq]) for seq in sorted(self.by_event)]

    @property
    def summaries(self) -> list[tuple]:
        """The summaries in order, each with its number in front."""
        return [(seq, *self.by_summary[seq]) for seq in sorted(self.by_summary)]

    @property
    def damaged(self) -> int:
        """Bytes that belong to no record [-]."""
        return sum(count for segment in self.segments for _, count in segment.damaged)


def read_segment(data: bytes, name: str) -> Segment:
    """Reads one file's bytes; `name` as on the board."""
    stream, number = STREAM_OF_LETTER[name[0]], int(name[1:])
    if len(data) < 16:
        return Segment(stream, number, 0, [], [(0, len(data))] if data else [])
    magic, version, stream_in, number_in, rig, crc = struct.unpack("<4sBBHII", data[:16])
    records: list[tuple[int, int, bytes]] = []
    damaged: list[tuple[int, int]] = []
    fits = magic == b"fbyj" and zlib.crc32(data[:12]) == crc
    if not fits or (stream_in, number_in) != (stream, number):
        rig = 0
        damaged.append((0, 16))  # the records behind it speak for themselves
    elif version > VERSION:
        return Segment(stream, number, rig, [], [], newer=version)
    at = 16
    bad_from = None
    while at < len(data):
        found = _record(data, at)
        if found is None:
            bad_from = at if bad_from is None else bad_from
            at += 1
            continue
        if bad_from is not None:
            damaged.append((bad_from, at - bad_from))
            bad_from = None
        records.append(found[:3])
        at = found[3]
    if bad_from is not None:
        damaged.append((bad_from, len(data) - bad_from))
    return Segment(stream, number, rig, records, damaged)


def _record(data: bytes, at: int) -> tuple[int, int, bytes, int] | None:
    if data[at] != 0xA7 or len(data) < at + 12:
        return None
    kind, length, seq = struct.unpack("<BHI", data[at + 1 : at + 8])
    end = at + 8 + length
    if kind == 0 or length > 4096 or len(data) < end + 4:
        return None
    if zlib.crc32(data[at + 1 : end]) != int.from_bytes(data[end : end + 4], "little"):
        return None
    return kind, seq, data[at + 8 : end], end + 4


class Bits:
    """Reads numbers from a run of bits, least significant bit first."""

    def __init__(self, data: bytes):
        self.left = int.from_bytes(data, "little")
        self.used = 0

    def take(self, width: int) -> int:
        number = self.left & ((1 << width) - 1)
        self.left >>= width
        self.used += width
        return number

    def signed(self, width: int) -> int:
        code = self.take(width)
        return code >> 1 if code % 2 == 0 else -(code >> 1) - 1

    def stepped(self, rows: int) -> list[int]:
        """A first value, then differences."""
        values = [self.signed(self.take(6))]
        width = self.take(6)
        for _ in range(rows - 1):
            values.append(values[-1] + self.signed(width))
        return values

    def plain(self, rows: int) -> list[int]:
        width = self.take(6)
        return [self.take(width) for _ in range(rows)]


@functools.lru_cache(maxsize=5000)
def decode_block(payload: bytes) -> list[tuple[int, ...]]:
    """Returns the rows of a block as tuples of 19 numbers."""
    assert payload[0] == 2
    rows = payload[1]
    bits = Bits(payload[2:])
    columns = [_column(bits, rows, column == UPTIME_COLUMN) for column in range(COLUMNS)]
    assert bits.left == 0
    assert (bits.used + 7) // 8 == len(payload) - 2
    return list(zip(*columns, strict=True))


def _column(bits: Bits, rows: int, twice: bool) -> list[int]:
    mode = bits.take(2)
    first = bits.signed(bits.take(6))
    if mode == 0:
        return [first] * rows
    count = rows if mode == 1 else rows - 1
    widest = bits.take(6)
    widths = [max(widest - bits.take(3), 0) for _ in range((count + 15) // 16)]
    if mode == 1:
        return [first + bits.take(widths[index // 16]) for index in range(count)]
    assert mode == 2
    values = [first]
    slope = 0
    for index in range(count):
        step = bits.signed(widths[index // 16])
        if twice:
            slope += step
            step = slope
        values.append(values[-1] + step)
    return values


@functools.lru_cache(maxsize=20_000)
def decode_row(payload: bytes) -> tuple[int, ...]:
    """Returns the 19 numbers of a plain row."""
    fields = struct.unpack("<HIHBB14hH", payload)
    assert fields[-1] == 0
    return fields[:-1]


def read_files(files: dict[str, bytes]) -> Content:
    """Reads a journal given as file name -> bytes."""
    return joined([read_file(name, files[name]) for name in sorted(files)])


def read_file(name: str, data: bytes) -> Content:
    """Reads one file of a journal; of another name: nothing."""
    content = Content()
    number = int(name[1:]) if NAME.fullmatch(name) else 0
    if not 1 <= number <= NUMBER_MOST:
        return content
    segment = read_segment(data, name)
    content.segments.append(segment)
    if segment.newer:
        content.newer.append(name)
    for kind, seq, payload in segment.records:
        _take(content, kind, seq, payload)
    return content


def joined(parts: list[Content]) -> Content:
    """Puts the contents of files together: the same number twice counts once."""
    whole = Content()
    for part in parts:
        whole.segments += part.segments
        whole.newer += part.newer
        whole.totals += part.totals
        whole.blocked |= part.blocked
        whole.tail |= part.tail
        whole.conflicts += part.conflicts
        for mine, theirs in (
            (whole.rows, part.rows),
            (whole.by_event, part.by_event),
            (whole.by_summary, part.by_summary),
        ):
            twice = mine.keys() & theirs.keys()
            whole.conflicts += [seq for seq in twice if mine[seq] != theirs[seq]]
            mine.update(theirs)
    return whole


def _put_once(content: Content, into: dict, seq: int, what: tuple) -> None:
    if into.setdefault(seq, what) != what:
        content.conflicts.append(seq)


@functools.lru_cache(maxsize=5000)
def decode_summary(payload: bytes) -> tuple:
    """Returns boot, uptime, seconds, 14 x (least, mean, greatest), 10 totals."""
    fields = struct.unpack("<HIH42h20I", payload)
    limbs = fields[45:]
    totals = [low + 10**9 * high for low, high in zip(limbs[::2], limbs[1::2], strict=True)]
    return (*fields[:45], *totals)


@functools.lru_cache(maxsize=5000)
def decode_summary_block(payload: bytes) -> list[tuple]:
    """Returns the summaries of a block, each as `decode_summary` does."""
    assert payload[0] == 1
    rows = payload[1]
    bits = Bits(payload[2:])
    columns = [bits.stepped(rows) for _ in range(3)]
    for _ in range(CHANNELS):
        mean, below, above = bits.stepped(rows), bits.plain(rows), bits.plain(rows)
        columns.append([m - b for m, b in zip(mean, below, strict=True)])
        columns.append(mean)
        columns.append([m + a for m, a in zip(mean, above, strict=True)])
    columns += [bits.stepped(rows) for _ in range(TOTALS_COLUMNS)]
    assert bits.left == 0
    assert (bits.used + 7) // 8 == len(payload) - 2
    return list(zip(*columns, strict=True))


def _take(content: Content, kind: int, seq: int, payload: bytes) -> None:
    if kind == ROW:
        _put_once(content, content.rows, seq, decode_row(payload))
        content.tail.add(seq)
    elif kind == BLOCK:
        for place, row in enumerate(decode_block(payload), seq):
            _put_once(content, content.rows, place, row)
            content.blocked.add(place)
    elif kind == EVENT:
        _put_once(content, content.by_event, seq, struct.unpack("<HIBBBBi14h20I", payload))
    elif kind == TOTALS:
        content.totals.append((seq, *struct.unpack("<HI20I", payload)))
    elif kind == SUMMARY:
        _put_once(content, content.by_summary, seq, decode_summary(payload))
    elif kind == SUMMARY_BLOCK:
        for place, summary in enumerate(decode_summary_block(payload), seq):
            _put_once(content, content.by_summary, place, summary)


def folder_files(folder: pathlib.Path) -> dict[str, bytes]:
    """Returns the files of a journal folder."""
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def read_folder(folder: pathlib.Path) -> Content:
    """Reads a journal folder."""
    return read_files(folder_files(folder))
