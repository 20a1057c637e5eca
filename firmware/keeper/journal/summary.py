"""Quarter-hour summaries: least, mean and greatest of each column's rows, and their blocks.

A summary first stands in full in the tail; a few of them together then make a
packed block.  Formats: the journal's specification, section 4 "Summary".
"""

import struct

from keeper.channels import COLUMNS, LIMB, TOTALS
from keeper.clock import PERIODS_PER_S
from keeper.journal.packing import BLOCK_HEAD, WIDTH_BITS, BlockPacker, width_of, zigzag
from keeper.journal.records import HEAD, SUMMARY_BLOCK, SUMMARY_RECORD, put_summary
from keeper.journal.rows import NOT_TRUSTED

QUARTER_DS = 9000  # 15 min of uptime [0.1 s]
MOST = 8           # summaries of a block
VERSION = 1
# Columns of a block: boot, uptime, seconds; mean, below, above of each channel; totals.
FIELDS = (("<H", 0), ("<I", 2), ("<H", 6))
MARKS_AT = 8       # of the payload of a summary in full: least, mean, greatest, as i16
TOTALS_AT = MARKS_AT + 6 * COLUMNS
MEANS_FROM = len(FIELDS)
TOTALS_FROM = MEANS_FROM + 3 * COLUMNS
BLOCK_COLUMNS = TOTALS_FROM + len(TOTALS)
# Widest codes: 17 bits for what has 16, 33 for uptime, 63 for totals.
PAYLOAD_BYTES_MOST = (BLOCK_HEAD + 1 + (
    BLOCK_COLUMNS * 2 * WIDTH_BITS
    + MOST * ((2 + 3 * COLUMNS) * 17 + 33 + len(TOTALS) * 63)) // 8)


class Quarter:
    """Gathers rows [stored means] until the quarter hour is over.

    Means are weighted by the scans of their rows; a row that is not trusted
    in a column does not count there.
    """

    def __init__(self):
        self.scans = 0
        self.least = [0] * COLUMNS
        self.greatest = [0] * COLUMNS
        self.weighted = [0] * COLUMNS  # sum of mean * scans
        self.weights = [0] * COLUMNS   # sum of scans

    def add(self, row, start, scans):
        """Take the stored means row[start:] of a row of `scans` scans."""
        self.scans += scans
        least = self.least
        greatest = self.greatest
        weights = self.weights
        for index in range(COLUMNS):
            mean = row[start + index]
            if mean == NOT_TRUSTED:
                continue
            if weights[index] == 0:
                least[index] = mean
                greatest[index] = mean
            elif mean < least[index]:
                least[index] = mean
            elif mean > greatest[index]:
                greatest[index] = mean
            self.weighted[index] += mean * scans
            weights[index] += scans

    def close(self):
        """Return (seconds covered, 14 x [least, mean, greatest]) and begin anew."""
        marks = []
        for index in range(COLUMNS):
            weight = self.weights[index]
            if weight:
                mean = (2 * self.weighted[index] + weight) // (2 * weight)
                marks += [self.least[index], mean, self.greatest[index]]
            else:
                marks += [NOT_TRUSTED] * 3
            self.weighted[index] = 0
            self.weights[index] = 0
        seconds = min(self.scans // PERIODS_PER_S, 65535)
        self.scans = 0
        return seconds, marks


class HeldSummaries:
    """Summaries that are in no block yet, as records in full.

    Attributes: most, for how many there is room; records, their bytes, one
    after the other; count, how many; first_seq, number of the first.
    """

    def __init__(self):
        self.most = MOST
        self.records = bytearray(MOST * SUMMARY_RECORD)
        self.count = 0
        self.first_seq = 1

    def bytes_held(self):
        """Return how many bytes of `records` count."""
        return self.count * SUMMARY_RECORD

    def add(self, seq, boot, seconds, marks, totals):
        """Take a summary [as for `records.put_summary`]; there must be room."""
        if not self.count:
            self.first_seq = seq
        put_summary(self.records, self.bytes_held(), seq, boot, seconds, marks, totals)
        self.count += 1

    def put(self, place, record):
        """Write a record that is to be the one in `place`; it does not count yet."""
        self.records[place * SUMMARY_RECORD:(place + 1) * SUMMARY_RECORD] = record

    def drop(self, count):
        """Forget the first `count`; what is behind them moves up."""
        view = memoryview(self.records)
        gone = count * SUMMARY_RECORD
        view[:len(view) - gone] = view[gone:]
        self.count -= count
        self.first_seq += count

    def value(self, place, column):
        """Return the number that a block holds of a summary in one of its columns."""
        at = place * SUMMARY_RECORD + HEAD
        if column < MEANS_FROM:
            layout, offset = FIELDS[column]
            return struct.unpack_from(layout, self.records, at + offset)[0]
        if column < TOTALS_FROM:
            channel = (column - MEANS_FROM) // 3
            least, mean, greatest = struct.unpack_from(
                "<hhh", self.records, at + MARKS_AT + 6 * channel)
            return (mean, mean - least, greatest - mean)[(column - MEANS_FROM) % 3]
        low, high = struct.unpack_from(
            "<II", self.records, at + TOTALS_AT + 8 * (column - TOTALS_FROM))
        return high * LIMB + low


class SummaryPacker(BlockPacker):
    """Packs summaries: a step either takes the numbers of a column from the records or packs them.

    Totals exceed 31 bits: they are packed in slack, where memory may be taken.
    """

    def __init__(self, held):
        """Take the `HeldSummaries`."""
        super().__init__(held, VERSION, PAYLOAD_BYTES_MOST)
        self.values = [0] * MOST  # of the column
        self.taken = False        # whether they are there

    def begin(self, count):
        """Start a block of the oldest `count` summaries [1 to MOST]."""
        super().begin(count)
        self.taken = False

    def step(self):
        """Do one slice of the work; return whether the record is complete."""
        self.taken = not self.taken
        if self.taken:
            for place in range(self.count):
                self.values[place] = self.held.value(place, self.column)
            return False
        self._pack(self.values, self.column)
        return self._end_column(BLOCK_COLUMNS, SUMMARY_BLOCK)

    def _pack(self, values, column):
        if column < MEANS_FROM or column >= TOTALS_FROM or (column - MEANS_FROM) % 3 == 0:
            for place in range(self.count - 1, 0, -1):
                values[place] = zigzag(values[place] - values[place - 1])
            values[0] = zigzag(values[0])
            self._put_run(values, 0, 1)
            self._put_run(values, 1, self.count)
        else:
            self._put_run(values, 0, self.count)
        self._flush()

    def _put_run(self, values, first, end):
        """Add a width, then values[first:end] with that many bits each, to what waits."""
        most = 0
        for place in range(first, end):
            most |= values[place]
        width = width_of(most)
        self._put(width, WIDTH_BITS)
        self._put_all(values, first, end, width)
