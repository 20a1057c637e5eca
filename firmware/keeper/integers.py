"""Files of integers: a mark, a version, a count, the values, a CRC.

Settings and wiring are such files.  What each value means, and its name, is
the business of the table it belongs to; a board needs only the limits.
"""

import binascii
import struct

MARK_BYTES = 4
HEAD_BYTES = 8    # mark, version, count
VALUE_BYTES = 4
CRC_BYTES = 4


def packed(mark, version, values):
    """Return values [integers of 32 bits] as the bytes of a file."""
    body = mark + struct.pack("<HH", version, len(values))
    for value in values:
        body += struct.pack("<i", value)
    return body + struct.pack("<I", binascii.crc32(body))


def unpacked(mark, version, data):
    """Return the values of a file.

    Raises ValueError if it is another file, damaged, or of another version.
    """
    if len(data) < HEAD_BYTES + CRC_BYTES or data[:MARK_BYTES] != mark:
        raise ValueError("another kind of file")
    if struct.unpack("<I", data[-CRC_BYTES:])[0] != binascii.crc32(data[:-CRC_BYTES]):
        raise ValueError("damaged: the CRC does not fit")
    found, count = struct.unpack("<HH", data[MARK_BYTES:HEAD_BYTES])
    end = HEAD_BYTES + VALUE_BYTES * count
    if found != version or len(data) != end + CRC_BYTES:
        raise ValueError("version %d, expected %d" % (found, version))
    return [struct.unpack("<i", data[at:at + VALUE_BYTES])[0]
            for at in range(HEAD_BYTES, end, VALUE_BYTES)]


def lie_within(values, lowest, highest, ordered):
    """Return whether each value lies within its limits [lists], and pairs of places in order."""
    if len(values) != len(lowest):
        return False
    for place in range(len(values)):
        if not lowest[place] <= values[place] <= highest[place]:
            return False
    for lower, upper in ordered:
        if values[lower] >= values[upper]:
            return False
    return True
