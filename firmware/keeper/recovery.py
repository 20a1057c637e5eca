"""What an earlier run left in the journal: counters, totals and unpacked rows.

Reads the newest segments at start; writes nothing but blocks of rows that the
tail held.
"""

import struct

from keeper.blocks import COLUMN_HEAD, ROW_COLUMNS, ROWS_MOST
from keeper.channels import TOTALS
from keeper.records import (
    BLOCK, DETAIL, EVENT, EVENT_LAYOUT, QUARTER, RECORD_MOST, ROW, ROW_LAYOUT,
    STREAMS, SUMMARY_LAYOUT, TAIL, TOTALS_KEPT, TOTALS_LAYOUT, read_segment)

WITH_TOTALS = {EVENT: EVENT_LAYOUT, TOTALS_KEPT: TOTALS_LAYOUT, QUARTER: SUMMARY_LAYOUT}


class Recovery:
    """The state of a journal after `read`.

    Attributes: boot, highest boot number; row_seq, event_seq, summary_seq,
    highest numbers; low, high, the newest totals; rows, (seq, row) of the
    tail that are in no block, in order; errors, segments that could not be read.
    """

    def __init__(self):
        self.boot = 0
        self.row_seq = 0
        self.event_seq = 0
        self.summary_seq = 0
        self.low = [0] * len(TOTALS)
        self.high = [0] * len(TOTALS)
        self.totals_boot = 0   # boot number of the totals
        self.packed_seq = 0    # last row of the newest block
        self.rows = []
        self.errors = 0
        self.found = 0         # records of the segment being read

    def read(self, segments):
        """Read the newest segment of each stream, and all of the tail.

        A segment without a record says nothing: then the one before is read.
        Sets segments.open for the streams whose newest segment may grow.
        """
        buffer = bytearray(RECORD_MOST)
        for stream in range(STREAMS):
            rows = segments.table[stream]
            for place in range(len(rows) - 1, -1, -1):
                self.found = 0
                whole = self._read_one(segments, stream, rows[place][0], buffer)
                if place == len(rows) - 1:
                    segments.open[stream] = whole
                if self.found and stream != TAIL:
                    break
        self._sort_rows()

    def _read_one(self, segments, stream, number, buffer):
        try:
            return read_segment(segments.path(stream, number), stream, number, buffer, self._take)
        except OSError:
            self.errors += 1
            return False

    def _take(self, kind, seq, data, at, length):
        self.found += 1
        if kind in WITH_TOTALS and length >= struct.calcsize(WITH_TOTALS[kind]):
            self._take_totals(kind, data, at)
        if kind == ROW and length >= struct.calcsize(ROW_LAYOUT):
            row = list(struct.unpack_from(ROW_LAYOUT, data, at))[:ROW_COLUMNS]
            self.boot = max(self.boot, row[0])
            self.row_seq = max(self.row_seq, seq)
            self.rows.append((seq, row))
        elif kind == BLOCK and length > COLUMN_HEAD:
            # Version and count of rows come first, then the boot number of the first.
            self.boot = max(self.boot, struct.unpack_from("<i", data, at + 2)[0])
            self.packed_seq = max(self.packed_seq, seq + data[at + 1] - 1)
            self.row_seq = max(self.row_seq, self.packed_seq)
        elif kind == EVENT:
            self.event_seq = max(self.event_seq, seq)
        elif kind == QUARTER:
            self.summary_seq = max(self.summary_seq, seq)
        elif kind == TOTALS_KEPT:
            self.row_seq = max(self.row_seq, seq)

    def _take_totals(self, kind, data, at):
        fields = struct.unpack_from(WITH_TOTALS[kind], data, at)
        boot = fields[0]
        self.boot = max(self.boot, boot)
        if boot < self.totals_boot:
            return
        first = len(fields) - 2 * len(TOTALS)
        for index in range(len(TOTALS)):
            low = fields[first + 2 * index]
            high = fields[first + 2 * index + 1]
            # Within a boot a total never falls: the highest is the newest.
            if boot > self.totals_boot or (high, low) > (self.high[index], self.low[index]):
                self.low[index] = low
                self.high[index] = high
        self.totals_boot = boot

    def _sort_rows(self):
        self.rows.sort(key=lambda pair: pair[0])
        kept = []
        last = self.packed_seq
        for seq, row in self.rows:
            if seq > last:
                kept.append((seq, row))
                last = seq
        self.rows = kept


def hold_again(past, held, packer, segments):
    """Put the rows of an earlier run back into `held`; return how many blocks were lost.

    A block holds rows without a gap: what lies before one is packed at once,
    as is a full block.  Only at start, where time is free.
    """
    lost = 0
    for seq, row in past.rows:
        if held.count == ROWS_MOST or held.count and seq != held.first_seq + held.count:
            lost += _pack_now(held, packer, segments)
        if not held.count:
            held.first_seq = seq
        held.add(row)
    if held.count and held.first_seq + held.count != past.row_seq + 1:
        lost += _pack_now(held, packer, segments)
    if not held.count:
        held.first_seq = past.row_seq + 1
    return lost


def _pack_now(held, packer, segments):
    packer.begin(held.first_seq, held.count)
    while not packer.step(held.columns):
        pass
    written = segments.append(DETAIL, packer.buffer, packer.size)
    held.drop(held.count)
    return 0 if written else 1
