"""The journal's records: how they are framed, filled, and found again.

Layouts are those of the journal's specification, sections 2 to 4.  Knows
nothing of which file a record goes to.
"""

import binascii
import struct

from keeper.channels import CHANNELS, COLUMNS, CONTACTS, TOTALS
from keeper.journal.rows import stored_values

DETAIL, EVENTS, SUMMARY, TAIL = range(4)
STREAMS = 4
LETTERS = "dest"

# Types of record.
ROW, BLOCK, EVENT, TOTALS_AT_ROW, QUARTER_SUMMARY, SUMMARY_BLOCK = range(1, 7)

MAGIC = b"fbyj"
FORMAT_VERSION = 1
SEGMENT_HEAD = 16
MARK = 0xA7
HEAD = 8   # mark, type, length, seq
TRAILER = 4  # CRC-32
PAYLOAD_MOST = 4096
RECORD_MOST = HEAD + PAYLOAD_MOST + TRAILER
# CRC-32 of anything with its own CRC-32 behind it.
CRC_RESIDUE = 0x2144DF1C

_SUMS = "%dI" % (2 * len(TOTALS))
# Columns of a row, as a record and an array hold them.  Uptime is at most
# 2**30 - 1: its u32 is read as signed, which an array gives back without memory.
ROW_TYPES = "HiHBB" + COLUMNS * "h"
ROW_FIELDS = "<" + ROW_TYPES
ROW_LAYOUT = ROW_FIELDS + "H"
EVENT_LAYOUT = "<HIBBBBi%dh%s" % (COLUMNS, _SUMS)
TOTALS_LAYOUT = "<HI%s" % _SUMS
SUMMARY_LAYOUT = "<HIH%dh%s" % (3 * len(CHANNELS), _SUMS)
ROW_RECORD = HEAD + struct.calcsize(ROW_LAYOUT) + TRAILER
EVENT_RECORD = HEAD + struct.calcsize(EVENT_LAYOUT) + TRAILER
TOTALS_RECORD = HEAD + struct.calcsize(TOTALS_LAYOUT) + TRAILER
SUMMARY_RECORD = HEAD + struct.calcsize(SUMMARY_LAYOUT) + TRAILER
FIXED_PAYLOAD = {kind: size - HEAD - TRAILER for kind, size in (
    (ROW, ROW_RECORD), (EVENT, EVENT_RECORD), (TOTALS_AT_ROW, TOTALS_RECORD),
    (QUARTER_SUMMARY, SUMMARY_RECORD))}


def segment_head(stream, number, rig_id):
    """Return the 16 bytes at the start of a segment."""
    head = MAGIC + struct.pack("<BBHI", FORMAT_VERSION, stream, number, rig_id)
    return head + struct.pack("<I", binascii.crc32(head))


def head_version(data, stream, number):
    """Return the version of the segment whose head is `data`; 0 if it is not that segment's."""
    if len(data) < SEGMENT_HEAD:
        return 0
    if struct.unpack_from("<I", data, SEGMENT_HEAD - 4)[0] != binascii.crc32(
            data[:SEGMENT_HEAD - 4]):
        return 0
    magic, version, found_stream, found_number = struct.unpack_from("<4sBBH", data, 0)
    if magic == MAGIC and found_stream == stream and found_number == number:
        return version
    return 0


def seal(out, at, kind, seq, length):
    """Complete the record at out[at:] whose payload has `length` bytes; return its end."""
    struct.pack_into("<BBHI", out, at, MARK, kind, length, seq)
    end = at + HEAD + length
    struct.pack_into("<I", out, end, binascii.crc32(memoryview(out)[at + 1:end]))
    return end + TRAILER


def put_row(out, at, seq, row):
    """Write a row [list of the columns that `keeper.journal.blocks` names]; return the end."""
    struct.pack_into(ROW_LAYOUT, out, at + HEAD, *row, 0)
    return seal(out, at, ROW, seq, ROW_RECORD - HEAD - TRAILER)


def _limbs(low, high):
    limbs = []
    for index in range(len(TOTALS)):
        limbs.append(low[index])
        limbs.append(high[index])
    return limbs


def put_totals(out, at, seq, boot, totals):
    """Write totals [rows.FrozenTotals] that include rows up to `seq`; return the end."""
    struct.pack_into(TOTALS_LAYOUT, out, at + HEAD, boot, totals.uptime_ds,
                     *_limbs(totals.low, totals.high))
    return seal(out, at, TOTALS_AT_ROW, seq, TOTALS_RECORD - HEAD - TRAILER)


def put_event(out, at, seq, boot, slot, low, high):
    """Write an event from a slot of `keeper.events.EventQueue`; return the end."""
    code, argument, argument2, state, uptime_ds, values = slot
    contacts = 0
    for index in range(len(CONTACTS)):
        if values[COLUMNS + index] > 0:  # one that the rig lacks is INVALID
            contacts |= 1 << index
    struct.pack_into(EVENT_LAYOUT, out, at + HEAD, boot, uptime_ds, code,
                     min(max(argument, 0), 255), state, contacts, argument2,
                     *stored_values(values), *_limbs(low, high))
    return seal(out, at, EVENT, seq, EVENT_RECORD - HEAD - TRAILER)


def put_summary(out, at, seq, boot, seconds, marks, totals):
    """Write a summary of `seconds` [s] that ends with totals [rows.FrozenTotals]; return the end.

    marks: 14 x (least, mean, greatest).
    """
    struct.pack_into(SUMMARY_LAYOUT, out, at + HEAD, boot, totals.uptime_ds, seconds, *marks,
                     *_limbs(totals.low, totals.high))
    return seal(out, at, QUARTER_SUMMARY, seq, SUMMARY_RECORD - HEAD - TRAILER)


class SegmentReader:
    """Finds every record of one segment after another.

    After `read`: version, of the segment, 0 if its head does not fit; between,
    bytes before a valid record that belong to none [bytes]; behind, such
    bytes after the last valid record [bytes]; torn, whether those are the
    start of one record whose writing was cut, so that it never counted.
    """

    def __init__(self, take, buffer):
        """take: called as take(version, kind, seq, buffer, at, length) with each payload's place.

        The version is at least 1: records are also sought behind a head that
        does not fit.  buffer: a bytearray of RECORD_MOST or more to read into.
        """
        self.take = take
        self.buffer = buffer
        self.view = memoryview(buffer)
        self.version = 0
        self.between = 0
        self.behind = 0
        self.torn = False

    def read(self, path, stream, number):
        """Read the segment at `path`.  Raises OSError."""
        self.between = 0
        self.behind = 0
        self.torn = False
        with open(path, "rb") as file:
            self.version = head_version(file.read(SEGMENT_HEAD), stream, number)
            held = 0  # bytes in the buffer
            last = False
            while not last:
                got = file.readinto(self.view[held:])
                last = not got
                held += got
                done = self._search(held, last)
                # What is left is the start of a record: move it to the front.
                self.view[:held - done] = self.view[done:held]
                held -= done

    def _search(self, held, last):
        """Take the records in the first `held` bytes; return the bytes that are done with."""
        buffer = self.buffer
        at = 0
        while at < held:
            end = self._record_end(at, held) if buffer[at] == MARK else 0
            if end > 0:
                kind, length, seq = struct.unpack_from("<BHI", buffer, at + 1)
                self.take(max(self.version, 1), kind, seq, buffer, at + HEAD, length)
                at = end
                self.between += self.behind
                self.behind = 0
                self.torn = False
            elif end < 0 and not last:
                break
            else:
                if not self.behind:
                    self.torn = end < 0 and self._is_start(at, held)
                at += 1
                self.behind += 1
        return at

    def _record_end(self, at, held):
        """Return the end of the record whose mark is at `at`: 0 if none fits, -1 if it ends later.
        """
        if held - at < HEAD:
            return -1
        data = self.buffer
        length = data[at + 2] | data[at + 3] << 8
        if length > PAYLOAD_MOST or not data[at + 1]:
            return 0
        end = at + HEAD + length + TRAILER
        if end > held:
            return -1
        return end if binascii.crc32(self.view[at + 1:end]) == CRC_RESIDUE else 0

    def _is_start(self, at, held):
        """Return whether a record that ends beyond the file can have begun at `at`.

        Of a block one cannot know: its length, which says so, may be what is
        damaged.  Its rows are in the tail as long as that matters.
        """
        if held - at < HEAD:
            return True
        kind = self.buffer[at + 1]
        length = self.buffer[at + 2] | self.buffer[at + 3] << 8
        return kind == BLOCK or FIXED_PAYLOAD.get(kind) == length
