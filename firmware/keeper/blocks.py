"""Packs rows into a self-contained block: differences of columns, bit by bit.

A few codes a call, so that the work fits between two scans.  The format is the
journal's specification, section 4 "Block".
"""

import struct

from keeper.channels import COLUMNS
from keeper.records import BLOCK, HEAD, TRAILER, seal

# Columns of a row, in the order in which a block holds them.
BOOT, UPTIME, SCANS, STATE, CONTACTS, FIRST_VALUE = range(6)
ROW_COLUMNS = FIRST_VALUE + COLUMNS

VERSION = 1
ROWS_MOST = 64
BLOCK_HEAD = 2   # version, rows
COLUMN_HEAD = 5  # first value, width
# What one slice does; measured in tests/bench/slices.py.
ENCODE_AT_ONCE = 16
PUT_AT_ONCE = 32
# Widest codes of the fields: 17 bits for 16-bit fields, 9 for bytes, 32 for
# uptime below 2**30; each column may lose a byte to rounding.
PAYLOAD_BYTES_MOST = (BLOCK_HEAD + ROW_COLUMNS * (COLUMN_HEAD + 1)
                      + (ROWS_MOST - 1) * ((2 + COLUMNS) * 17 + 2 * 9 + 32) // 8)


def width_of(bits):
    """Return how many bits a number [0 or more] takes; 0 for 0."""
    return len(bin(bits)) - len("0b") if bits else 0


class Packer:
    """Turns rows that are held as columns into one block record, a slice at a time.

    `begin`, then `step` until it returns True; then the record is
    buffer[:size].
    """

    def __init__(self):
        self.buffer = bytearray(HEAD + PAYLOAD_BYTES_MOST + TRAILER)
        self.codes = [0] * (ROWS_MOST - 1)
        self.size = 0     # bytes written so far
        self.rows = 0     # rows of the block
        self.seq = 0      # number of its first row
        self.first = 0    # where that row stands in the columns
        self.column = 0   # column being packed
        self.at = 0       # its next row
        self.before = 0   # value of the row before that
        self.slope = 0    # difference taken off the next one
        self.bits = 0     # bits that any code so far has needed, one over the other
        self.width = 0    # bits of each code once all are known
        self.put = 0      # codes of the column that are in the buffer

    def begin(self, seq, rows, first=0):
        """Start a block of `rows` rows [1 to 64]; the first has number `seq`, place `first`."""
        self.seq = seq
        self.rows = rows
        self.first = first
        self.column = 0
        self.at = 0
        self.buffer[HEAD] = VERSION
        self.buffer[HEAD + 1] = rows
        self.size = HEAD + BLOCK_HEAD

    def step(self, columns):
        """Do one slice of the work on `columns` [rings]; return whether the record is complete."""
        if self.at < self.rows:
            self._encode(columns[self.column])
            if self.at == self.rows:
                self._put_head(columns[self.column][self.first])
            return False
        if self.put < self.rows - 1 and self.width:
            self._put()
            return False
        self.column += 1
        self.at = 0
        if self.column < len(columns):
            return False
        self.size = seal(self.buffer, 0, BLOCK, self.seq, self.size - HEAD)
        return True

    def _encode(self, column):
        """Add some zigzag forms of differences to `codes`; of differences of those for uptime."""
        size = len(column)
        start = self.at
        if start == 0:
            self.before = column[self.first]
            self.slope = 0
            self.bits = 0
            start = 1
        codes = self.codes
        twice = self.column == UPTIME
        first = self.first
        before = self.before
        bits = self.bits
        end = min(start + ENCODE_AT_ONCE, self.rows)
        for at in range(start, end):
            value = column[(first + at) % size]
            step = value - before
            before = value
            if twice:
                step -= self.slope
                self.slope += step
            code = 2 * step if step >= 0 else -2 * step - 1
            codes[at - 1] = code
            bits |= code
        self.before = before
        self.bits = bits
        self.at = end

    def _put_head(self, first_value):
        width = width_of(self.bits)
        struct.pack_into("<iB", self.buffer, self.size, first_value, width)
        self.size += COLUMN_HEAD
        self.width = width
        self.put = 0

    def _put(self):
        """Write some codes with `width` bits each, least significant bit first.

        Each call but the last writes whole bytes: PUT_AT_ONCE is a multiple of 8.
        """
        codes = self.codes
        waiting = 0
        bits = 0
        start = self.put
        end = min(start + PUT_AT_ONCE, self.rows - 1)
        width = self.width
        for at in range(start, end):
            waiting |= codes[at] << bits
            bits += width
        self.put = end
        count = (bits + 7) // 8
        self.buffer[self.size:self.size + count] = waiting.to_bytes(count, "little")
        self.size += count


class HeldRows:
    """Closed rows that are not in a block yet, as columns, each a ring.

    Attributes: columns; first, where the oldest row stands in them; count,
    rows held; first_seq, number of the oldest.
    """

    def __init__(self, most):
        """Make room for `most` rows [at least ROWS_MOST]."""
        self.most = most
        self.columns = [[0] * most for _ in range(ROW_COLUMNS)]
        self.first = 0
        self.count = 0
        self.first_seq = 1

    def add(self, row):
        """Take a row [list of ROW_COLUMNS numbers]; there must be room."""
        place = (self.first + self.count) % self.most
        for index in range(ROW_COLUMNS):
            self.columns[index][place] = row[index]
        self.count += 1

    def copy(self, place, row):
        """Put the row that is `place` rows behind the oldest into the list `row`."""
        place = (self.first + place) % self.most
        for index in range(ROW_COLUMNS):
            row[index] = self.columns[index][place]

    def drop(self, rows):
        """Forget the oldest `rows` rows."""
        self.first = (self.first + rows) % self.most
        self.count -= rows
        self.first_seq += rows
