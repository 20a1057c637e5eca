"""The journal's records: how they are framed, filled, and found again.

Layouts are those of the journal's specification, sections 2 to 4.  Knows
nothing of which file a record goes to.
"""

import binascii
import struct

from keeper.channels import CHANNELS, COLUMNS, CONTACTS, TOTALS
from keeper.rows import stored_value

DETAIL, EVENTS, SUMMARY, TAIL = range(4)
STREAMS = 4
LETTERS = "dest"

ROW, BLOCK, EVENT, TOTALS_KEPT, QUARTER = range(1, 6)  # types of record

MAGIC = b"fbyj"
FORMAT_VERSION = 1
SEGMENT_HEAD = 16
MARK = 0xA7
HEAD = 8   # mark, type, length, seq
TRAILER = 4  # CRC-32
PAYLOAD_MOST = 4096
RECORD_MOST = HEAD + PAYLOAD_MOST + TRAILER

_SUMS = "%dI" % (2 * len(TOTALS))
ROW_LAYOUT = "<HIHBB%dhH" % COLUMNS
EVENT_LAYOUT = "<HIBBBBi%dh%s" % (COLUMNS, _SUMS)
TOTALS_LAYOUT = "<HI%s" % _SUMS
SUMMARY_LAYOUT = "<HIH%dh%s" % (3 * len(CHANNELS), _SUMS)
ROW_RECORD = HEAD + struct.calcsize(ROW_LAYOUT) + TRAILER
EVENT_RECORD = HEAD + struct.calcsize(EVENT_LAYOUT) + TRAILER
TOTALS_RECORD = HEAD + struct.calcsize(TOTALS_LAYOUT) + TRAILER
SUMMARY_RECORD = HEAD + struct.calcsize(SUMMARY_LAYOUT) + TRAILER


def segment_head(stream, number, rig_id):
    """Return the 16 bytes at the start of a segment."""
    head = MAGIC + struct.pack("<BBHI", FORMAT_VERSION, stream, number, rig_id)
    return head + struct.pack("<I", binascii.crc32(head))


def segment_head_fits(data, stream, number):
    """Return whether the first bytes of `data` are the head of that segment."""
    if len(data) < SEGMENT_HEAD:
        return False
    if struct.unpack_from("<I", data, SEGMENT_HEAD - 4)[0] != binascii.crc32(
            data[:SEGMENT_HEAD - 4]):
        return False
    magic, version, found_stream, found_number = struct.unpack_from("<4sBBH", data, 0)
    return (magic == MAGIC and version == FORMAT_VERSION and found_stream == stream
            and found_number == number)


def seal(out, at, kind, seq, length):
    """Complete the record at out[at:] whose payload has `length` bytes; return its end."""
    struct.pack_into("<BBHI", out, at, MARK, kind, length, seq)
    end = at + HEAD + length
    struct.pack_into("<I", out, end, binascii.crc32(memoryview(out)[at + 1:end]))
    return end + TRAILER


def put_row(out, at, seq, row):
    """Write a row [list of the columns that `keeper.blocks` names]; return the end."""
    struct.pack_into(ROW_LAYOUT, out, at + HEAD, *row, 0)
    return seal(out, at, ROW, seq, ROW_RECORD - HEAD - TRAILER)


def _limbs(low, high):
    limbs = []
    for index in range(len(TOTALS)):
        limbs.append(low[index])
        limbs.append(high[index])
    return limbs


def put_totals(out, at, seq, boot, kept):
    """Write totals [rows.KeptTotals] that include rows up to `seq`; return the end."""
    struct.pack_into(TOTALS_LAYOUT, out, at + HEAD, boot, kept.uptime_ds,
                     *_limbs(kept.low, kept.high))
    return seal(out, at, TOTALS_KEPT, seq, TOTALS_RECORD - HEAD - TRAILER)


def put_event(out, at, seq, boot, slot, low, high):
    """Write an event from a slot of `keeper.events.EventQueue`; return the end."""
    code, argument, argument2, state, uptime_ds, values = slot
    contacts = 0
    for index in range(len(CONTACTS)):
        if values[COLUMNS + index]:
            contacts |= 1 << index
    means = [stored_value(values[index], index) for index in range(COLUMNS)]
    struct.pack_into(EVENT_LAYOUT, out, at + HEAD, boot, uptime_ds, code,
                     min(max(argument, 0), 255), state, contacts, argument2, *means,
                     *_limbs(low, high))
    return seal(out, at, EVENT, seq, EVENT_RECORD - HEAD - TRAILER)


def put_summary(out, at, seq, boot, seconds, marks, kept):
    """Write a summary of `seconds` [s] that ends with totals [rows.KeptTotals]; return the end.

    marks: 14 x (least, mean, greatest).
    """
    struct.pack_into(SUMMARY_LAYOUT, out, at + HEAD, boot, kept.uptime_ds, seconds, *marks,
                     *_limbs(kept.low, kept.high))
    return seal(out, at, QUARTER, seq, SUMMARY_RECORD - HEAD - TRAILER)


def record_end(data, at, end):
    """Return the end of the record at data[at:end]: 0 if none fits, -1 if it ends later."""
    if data[at] != MARK:
        return 0
    if end - at < HEAD:
        return -1
    length = data[at + 2] | data[at + 3] << 8
    if length > PAYLOAD_MOST:
        return 0
    crc_at = at + HEAD + length
    if crc_at + TRAILER > end:
        return -1
    crc = binascii.crc32(memoryview(data)[at + 1:crc_at])
    if struct.unpack_from("<I", data, crc_at)[0] != crc:
        return 0
    return crc_at + TRAILER


def read_segment(path, stream, number, buffer, take):
    """Find every record of one segment; return whether its end fits, so that it may grow.

    Calls take(kind, seq, buffer, at, length) with the payload's place.
    `buffer` [at least RECORD_MOST bytes] is overwritten.  Raises OSError.
    """
    with open(path, "rb") as file:
        head = file.read(SEGMENT_HEAD)
        if not segment_head_fits(head, stream, number):
            return False
        return _read_records(file, buffer, take)


def _read_records(file, buffer, take):
    view = memoryview(buffer)
    held = 0        # bytes in the buffer
    whole = True    # nothing behind the last record so far
    while True:
        got = file.readinto(view[held:])
        held += got
        last = not got
        at = 0
        while at < held:
            end = record_end(buffer, at, held)
            if end > 0:
                kind, length, seq = struct.unpack_from("<BHI", buffer, at + 1)
                take(kind, seq, buffer, at + HEAD, length)
                at = end
                whole = True
            elif end < 0 and not last:
                break
            else:
                at += 1
                whole = False
        if last:
            return whole
        # What is left is the start of a record: move it to the front.
        view[:held - at] = bytes(view[at:held])
        held -= at
