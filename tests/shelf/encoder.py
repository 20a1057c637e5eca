"""Writes journal bytes straight from the specification, one value at a time.

Shares nothing with the firmware's writer or the host's reader: a misreading
of the format by either of them must show as a difference.
"""

import struct
import zlib

INVALID = -32768


def header(stream: int, number: int, rig_id: int = 7, version: int = 1) -> bytes:
    """Returns the 16 bytes at the start of a segment."""
    head = b"fbyj" + struct.pack("<BBHI", version, stream, number, rig_id)
    return head + struct.pack("<I", zlib.crc32(head))


def record(kind: int, seq: int, payload: bytes) -> bytes:
    """Returns one record."""
    body = struct.pack("<BHI", kind, len(payload), seq) + payload
    return b"\xa7" + body + struct.pack("<I", zlib.crc32(body))


def row(seq, boot, uptime_ds, scans=100, state=0, contacts=0, values=(0,) * 14) -> bytes:
    """Returns a plain row as a record of the tail."""
    head = struct.pack("<HIHBB", boot, uptime_ds, scans, state, contacts)
    return record(1, seq, head + struct.pack("<14h", *values) + b"\0\0")


def block(first_seq: int, rows: list[tuple]) -> bytes:
    """Returns a block; each row is (boot, uptime_ds, scans, state, contacts, 14 values)."""
    flat = [(*row[:5], *row[5]) for row in rows]
    run = ""  # of bits, the first one last
    for index in range(19):
        run = _column([row[index] for row in flat], index == 1) + run
    body = int(run, 2).to_bytes((len(run) + 7) // 8, "little")
    return record(2, first_seq, bytes([2, len(flat)]) + body)


def _column(values, twice):
    """Returns the bits of a column as text, the first one last."""
    steps = [b - a for a, b in zip(values, values[1:], strict=False)]
    if twice:
        steps = [b - a for a, b in zip([0, *steps], steps, strict=False)]
    steps = [_zigzag(step) for step in steps]
    levels = [value - min(values) for value in values]
    if not any(steps):
        return _number(_zigzag(values[0])) + "00"
    if not twice and _cost(levels) < _cost(steps):
        return _groups(levels) + _number(_zigzag(min(values))) + "01"
    return _groups(steps) + _number(_zigzag(values[0])) + "10"


def _zigzag(number):
    return 2 * number if number >= 0 else -2 * number - 1


def _number(number):
    """Returns a width of 6 bits and a number."""
    width = number.bit_length()
    return (f"{number:0{width}b}" if width else "") + f"{width:06b}"


def _cost(numbers):
    return sum(len(numbers[at : at + 16]) * max(numbers[at : at + 16]).bit_length()
               for at in range(0, len(numbers), 16))


def _groups(numbers):
    groups = [numbers[at : at + 16] for at in range(0, len(numbers), 16)]
    widest = max(numbers).bit_length()
    run, heads = "", f"{widest:06b}"
    for group in groups:
        narrower = min(widest - max(group).bit_length(), 7)
        heads = f"{narrower:03b}" + heads
        for number in group:
            if widest > narrower:
                run = f"{number:0{widest - narrower}b}" + run
    return run + heads


def totals_bytes(totals=(0,) * 10) -> bytes:
    """Returns ten totals as limbs."""
    return b"".join(struct.pack("<II", t % 10**9, t // 10**9) for t in totals)


def event(seq, boot, uptime_ds, code, argument=0, argument2=0, state=0, contacts=0,
          values=(0,) * 14, totals=(0,) * 10) -> bytes:
    """Returns an event record."""
    head = struct.pack("<HIBBBBi", boot, uptime_ds, code, argument, state, contacts, argument2)
    return record(3, seq, head + struct.pack("<14h", *values) + totals_bytes(totals))


def totals(seq, boot, uptime_ds, totals=(0,) * 10) -> bytes:
    """Returns a totals record."""
    return record(4, seq, struct.pack("<HI", boot, uptime_ds) + totals_bytes(totals))


def summary_bytes(boot, uptime_ds, seconds, marks, totals=(0,) * 10) -> bytes:
    """Returns the payload of a summary; marks: 14 x (least, mean, greatest)."""
    flat = [value for three in marks for value in three]
    return struct.pack("<HIH42h", boot, uptime_ds, seconds, *flat) + totals_bytes(totals)


def summary(seq, *content) -> bytes:
    """Returns a summary as a record of its own; content: as for `summary_bytes`."""
    return record(5, seq, summary_bytes(*content))


class _BitRun:
    def __init__(self):
        self.value = self.length = 0

    def put(self, code, width):
        self.value |= code << self.length
        self.length += width

    def codes(self, codes):
        width = max((code.bit_length() for code in codes), default=0)
        self.put(width, 6)
        for code in codes:
            self.put(code, width)

    def stepped(self, values):
        steps = [b - a for a, b in zip([0, *values], values, strict=False)]
        codes = [2 * d if d >= 0 else -2 * d - 1 for d in steps]
        self.codes(codes[:1])
        self.codes(codes[1:])


def summary_block(first_seq, summaries) -> bytes:
    """Returns a block of summaries, each (boot, uptime_ds, seconds, marks, totals)."""
    run = _BitRun()
    for field in range(3):
        run.stepped([one[field] for one in summaries])
    for channel in range(14):
        marks = [one[3][channel] for one in summaries]
        run.stepped([mean for _, mean, _ in marks])
        run.codes([mean - least for least, mean, _ in marks])
        run.codes([greatest - mean for _, mean, greatest in marks])
    for total in range(10):
        run.stepped([one[4][total] for one in summaries])
    bits = run.value.to_bytes((run.length + 7) // 8, "little")
    return record(6, first_seq, bytes([1, len(summaries)]) + bits)
