"""Packs rows into a self-contained block: differences of columns, bit by bit.

One column a call, so that the work fits between two scans.  The format is the
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
# Widest codes of the fields: 17 bits for 16-bit fields, 9 for bytes, 32 for
# uptime below 2**30; each column may lose a byte to rounding.
PAYLOAD_BYTES_MOST = (BLOCK_HEAD + ROW_COLUMNS * (COLUMN_HEAD + 1)
                      + (ROWS_MOST - 1) * ((2 + COLUMNS) * 17 + 2 * 9 + 32) // 8)


class Packer:
    """Turns the first rows of a set of columns into one block record.

    `begin`, then `step` until it returns True; then the record is
    buffer[:size].
    """

    def __init__(self):
        self.buffer = bytearray(HEAD + PAYLOAD_BYTES_MOST + TRAILER)
        self.codes = [0] * (ROWS_MOST - 1)
        self.size = 0     # bytes written so far
        self.rows = 0     # rows of the block
        self.seq = 0      # number of its first row
        self.column = 0   # next column to pack

    def begin(self, seq, rows):
        """Start a block of `rows` rows [1 to 64], the first of which has number `seq`."""
        self.seq = seq
        self.rows = rows
        self.column = 0
        self.buffer[HEAD] = VERSION
        self.buffer[HEAD + 1] = rows
        self.size = HEAD + BLOCK_HEAD

    def step(self, columns):
        """Pack one more of the `columns` [lists]; return whether the record is complete."""
        column = columns[self.column]
        width = self._encode(column, self.column == UPTIME)
        struct.pack_into("<iB", self.buffer, self.size, column[0], width)
        self.size += COLUMN_HEAD
        if width:
            self._put(width)
        self.column += 1
        if self.column < len(columns):
            return False
        self.size = seal(self.buffer, 0, BLOCK, self.seq, self.size - HEAD)
        return True

    def _encode(self, column, twice):
        """Fill `codes` with the zigzag forms of the differences; return the width [bits].

        twice: differences of differences, for a column that grows evenly.
        """
        codes = self.codes
        before = column[0]
        slope = 0
        widest = 0
        for index in range(1, self.rows):
            value = column[index]
            step = value - before - slope
            if twice:
                slope = value - before
            before = value
            code = 2 * step if step >= 0 else -2 * step - 1
            codes[index - 1] = code
            widest |= code
        width = 0
        while widest:
            widest >>= 1
            width += 1
        return width

    def _put(self, width):
        """Write the codes with `width` bits each, least significant bit first."""
        out = self.buffer
        at = self.size
        waiting = 0  # bits that do not fill a byte yet
        bits = 0
        for index in range(self.rows - 1):
            waiting |= self.codes[index] << bits
            bits += width
            while bits >= 8:
                out[at] = waiting & 0xFF
                at += 1
                waiting >>= 8
                bits -= 8
        if bits:
            out[at] = waiting
            at += 1
        self.size = at


class HeldRows:
    """Closed rows that are not in a block yet, as columns.

    Attributes: columns; count, rows held; first_seq, number of the first one.
    """

    def __init__(self, most):
        """Make room for `most` rows [at least ROWS_MOST]."""
        self.most = most
        self.columns = [[0] * most for _ in range(ROW_COLUMNS)]
        self.count = 0
        self.first_seq = 1

    def add(self, row):
        """Take a row [list of ROW_COLUMNS numbers]; there must be room."""
        for index in range(ROW_COLUMNS):
            self.columns[index][self.count] = row[index]
        self.count += 1

    def copy(self, place, row):
        """Put the row at `place` into the list `row`."""
        for index in range(ROW_COLUMNS):
            row[index] = self.columns[index][place]

    def drop(self, rows):
        """Forget the first `rows` rows."""
        for column in self.columns:
            for place in range(rows, self.count):
                column[place - rows] = column[place]
        self.count -= rows
        self.first_seq += rows
