"""Rows that are in no block yet, and their block: differences of columns.

A few codes a call, so that the work fits between two scans.  The format is the
journal's specification, section 4 "Block".
"""

import struct
from array import array

from keeper.channels import COLUMNS
from keeper.journal.packing import BLOCK_HEAD, WIDTH_BITS, BlockPacker, width_of, zigzag
from keeper.journal.records import BLOCK, ROW_TYPES

# Columns of a row, in the order in which a block holds them.
ROW_BOOT, ROW_UPTIME, ROW_SCANS, ROW_STATE, ROW_CONTACTS, FIRST_VALUE = range(6)
ROW_COLUMNS = FIRST_VALUE + COLUMNS

VERSION = 2
ROWS_MOST = 64
GROUP = 16       # numbers that share a width
GROUPS = ROWS_MOST // GROUP
# How a column is held: one number for all rows; each less the least of them;
# differences to the row before.
CONSTANT, LEVELS, STEPS = range(3)
MODE_BITS = 2
NARROWER_BITS = 3  # of how much narrower a group is
NARROWER_MOST = 7
# Widest numbers: 17 bits for 16-bit fields, 9 for bytes, 33 for uptime.
PAYLOAD_BYTES_MOST = BLOCK_HEAD + 1 + (
    ROW_COLUMNS * (MODE_BITS + 2 * WIDTH_BITS + GROUPS * NARROWER_BITS)
    + (ROWS_MOST + 1) * ((2 + COLUMNS) * 17 + 2 * 9 + 33)) // 8
# The fewest bits of a column: constant 0.
COLUMN_BITS_LEAST = MODE_BITS + WIDTH_BITS
# What a slice does next to a column.
STEPPING, LEVELLING, HEADING, PUTTING = range(4)
LEVELS_AT_ONCE = 3 * GROUP  # rows of a slice; measured in tests/bench/slices.py


class RowPacker(BlockPacker):
    """Packs rows, which are held as columns."""

    def __init__(self, held):
        """Take the `HeldRows`."""
        super().__init__(held, VERSION, PAYLOAD_BYTES_MOST)
        self.work = STEPPING  # what the next slice does to the column
        self.at = 0       # the next row or number of that work
        self.before = 0   # value of the row before that
        self.slope = 0    # uptime: difference taken off the next one
        self.least = 0    # least value of the column
        self.codes = [0] * (ROWS_MOST - 1)  # its steps, zigzag
        # Bits that the steps or levels of each group need, one over the other.
        self.step_bits = [0] * GROUPS
        self.level_bits = [0] * GROUPS
        self.mode = CONSTANT
        self.widths = [0] * GROUPS

    def begin(self, count):
        """Start a block of the oldest `count` rows [1 to ROWS_MOST]."""
        super().begin(count)
        self.at = 0
        self.work = STEPPING

    def step(self):
        """Do one slice of the work; return whether the record is complete."""
        column = self.held.columns[self.column]
        if self.work == STEPPING:
            self._find_steps(column)
        elif self.work == LEVELLING:
            self._find_levels(column)
        elif self.work == HEADING:
            self._put_head(column[self.held.first])
        elif self._put_group(column) or self._put_group(column):
            self.at = 0
            self.work = STEPPING
            return self._end_column(ROW_COLUMNS, BLOCK)
        return False

    def _find_steps(self, column):
        """Fill `codes` with the steps of one group; of steps of steps for uptime."""
        size = len(column)
        start = self.at + 1
        if start == 1:
            self.before = column[self.held.first]
            self.slope = 0
            for group in range(GROUPS):
                self.step_bits[group] = 0
                self.level_bits[group] = 0
        codes = self.codes
        twice = self.column == ROW_UPTIME
        first = self.held.first
        before = self.before
        bits = 0
        end = min(start + GROUP, self.count)
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
        if end > start:
            self.step_bits[(start - 1) // GROUP] = bits
        self.at = end - 1
        if end == self.count:
            self.at = 0
            self.work = HEADING if twice or not max(self.step_bits) else LEVELLING

    def _find_levels(self, column):
        size = len(column)
        start = self.at
        first = self.held.first
        if not start:
            self.least = min(column[first:first + self.count])
            over = first + self.count - size
            if over > 0:  # the ring begins anew within the block
                self.least = min(self.least, min(column[:over]))
        least = self.least
        end = min(start + LEVELS_AT_ONCE, self.count)
        level_bits = self.level_bits
        for at in range(start, end):
            level_bits[at // GROUP] |= column[(first + at) % size] - least
        self.at = end
        if end == self.count:
            self.work = HEADING

    def _put_head(self, first_value):
        """Choose how the column is held and write what stands before its numbers."""
        steps = self._cost(self.step_bits, self.count - 1)
        levels = self._cost(self.level_bits, self.count)
        if not steps:
            self.mode = CONSTANT
        elif levels < steps and self.column != ROW_UPTIME:
            self.mode = LEVELS
        else:
            self.mode = STEPS
        base = zigzag(self.least if self.mode == LEVELS else first_value)
        width = width_of(base)
        self._put(self.mode, MODE_BITS)
        self._put(width, WIDTH_BITS)
        self._put(base, width)
        if self.mode != CONSTANT:
            self._put_widths(self.level_bits if self.mode == LEVELS else self.step_bits)
        self.at = 0
        self.work = PUTTING

    def _cost(self, group_bits, count):
        """Return the bits of `count` numbers whose groups need `group_bits`."""
        cost = 0
        for group in range(GROUPS):
            cost += width_of(group_bits[group]) * max(0, min(GROUP, count - group * GROUP))
        return cost

    def _put_widths(self, group_bits):
        widest = 0
        for group in range(GROUPS):
            self.widths[group] = width_of(group_bits[group])
            widest = max(widest, self.widths[group])
        self._put(widest, WIDTH_BITS)
        for group in range(self._groups()):
            narrower = min(widest - self.widths[group], NARROWER_MOST)
            self.widths[group] = widest - narrower
            self._put(narrower, NARROWER_BITS)

    def _numbers(self):
        return self.count if self.mode == LEVELS else self.count - 1

    def _groups(self):
        return (self._numbers() + GROUP - 1) // GROUP

    def _put_group(self, column):
        """Write the numbers of the next group; return whether it was the last."""
        if self.mode == CONSTANT:
            return True
        start = self.at
        end = min(start + GROUP, self._numbers())
        width = self.widths[start // GROUP]
        if self.mode == STEPS:
            self._put_all(self.codes, start, end, width)
        else:
            self._put_levels(column, start, end, width)
        self._flush()
        self.at = end
        return end == self._numbers()

    def _put_levels(self, column, start, end, width):
        """As `_put_all`, straight from the ring: copied first they would be the longest slice."""
        size = len(column)
        first = self.held.first
        least = self.least
        waiting = self.waiting
        bits = self.bits
        for at in range(start, end):
            waiting |= column[(first + at) % size] - least << bits
            bits += width
        self.waiting = waiting
        self.bits = bits


class HeldRows:
    """Closed rows that are not in a block yet, as columns, each a ring.

    Attributes: most, rows for which there is room; columns; first, where the
    oldest row stands in them; count, rows held; first_seq, number of the oldest.
    """

    def __init__(self, most):
        """Make room for `most` rows [at least ROWS_MOST]."""
        self.most = most
        self.columns = [array(kind, bytes(most * struct.calcsize(kind))) for kind in ROW_TYPES]
        self.first = 0
        self.count = 0
        self.first_seq = 1

    def add(self, row):
        """Take a row [list of ROW_COLUMNS numbers]; there must be room."""
        self.put(self.count, row)
        self.count += 1

    def put(self, place, row):
        """Write a row that is to be `place` rows behind the oldest; it does not count yet."""
        place = (self.first + place) % self.most
        for index in range(ROW_COLUMNS):
            self.columns[index][place] = row[index]

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
