"""What an earlier run left in the journal: counters, totals, and what is in no block yet.

Reads the newest segments at a start, through a buffer that is there anyway.
Writes nothing but blocks of what the tail held.  Rules: the journal's
specification, section 6.
"""

import struct

from keeper.journal.blocks import COLUMN_BITS_LEAST, ROW_COLUMNS, ROWS_MOST
from keeper.channels import TOTALS
from keeper.journal.packing import BLOCK_HEAD, WIDTH_BITS
from keeper.journal.records import (
    BLOCK, DETAIL, EVENT, EVENT_LAYOUT, EVENT_RECORD, EVENTS, FORMAT_VERSION, HEAD,
    QUARTER_SUMMARY, ROW, ROW_FIELDS, ROW_RECORD, SEGMENT_HEAD, STREAMS, SUMMARY,
    SUMMARY_BLOCK, SUMMARY_LAYOUT, SUMMARY_RECORD, TAIL, TOTALS_AT_ROW, TOTALS_LAYOUT,
    TRAILER, SegmentReader)
from keeper.journal.segments import bytes_of, number_of
from keeper.journal.summary import BLOCK_COLUMNS
from keeper.journal.summary import MOST as SUMMARIES_MOST

WITH_TOTALS = {EVENT: EVENT_LAYOUT, TOTALS_AT_ROW: TOTALS_LAYOUT, QUARTER_SUMMARY: SUMMARY_LAYOUT}
BEGINS_WITH_BOOT = (ROW, EVENT, TOTALS_AT_ROW, QUARTER_SUMMARY)
ROW_PAYLOAD = ROW_RECORD - HEAD - TRAILER
SUMMARY_PAYLOAD = SUMMARY_RECORD - HEAD - TRAILER
# The shortest that a block can be: as many numbers as it can hold may be lost with it.
LEAST_BLOCK = HEAD + BLOCK_HEAD + ROW_COLUMNS * COLUMN_BITS_LEAST // 8 + TRAILER
LEAST_SUMMARY_BLOCK = HEAD + BLOCK_HEAD + BLOCK_COLUMNS * WIDTH_BITS // 8 + TRAILER


class Recovery:
    """The state of a journal after `read`.

    Attributes: boot, event_seq, and the `newest` of rows and summaries,
    numbers that have been used, or may have been, at most; low, high, the
    newest totals; damaged, (stream, number) of segments with damage; errors,
    segments that could not be read.
    """

    def __init__(self, segments, rows, summaries, buffer):
        """rows, summaries: each a `HeldAgain`; buffer: for the reader, of RECORD_MOST bytes."""
        self.segments = segments
        self.boot = 0
        self.event_seq = 0
        self.rows = rows
        self.summaries = summaries
        self.low = [0] * len(TOTALS)
        self.high = [0] * len(TOTALS)
        self.totals_boot = 0     # boot number of the totals
        self.damaged = []
        self.errors = 0
        self.stream = DETAIL     # of the segment being read
        self.found = 0           # its records
        # Bytes in which records newer than the newest that was read may have been.
        self.unknown_bytes = [0] * STREAMS
        self.tail_between = 0    # and such bytes of the tail with later records behind them
        self.reader = SegmentReader(self._take, buffer)

    def read(self):
        """Read the newest segment of each stream, and then all of the tail.

        A segment without a record says nothing: then the one before is read.
        Sets segments.open for the streams whose newest segment may grow.
        """
        segments = self.segments
        tail_says = False
        for stream in (DETAIL, EVENTS, SUMMARY, TAIL):
            if stream == TAIL:
                self.rows.begin()
                self.summaries.begin()
            table = list(segments.table[stream])  # the tail's may be left aside meanwhile
            for place in range(len(table) - 1, -1, -1):
                grows = self._read_one(stream, number_of(table[place]), bytes_of(table[place]))
                if place == len(table) - 1:
                    segments.open[stream] = grows
                if stream == TAIL:
                    tail_says = tail_says or self.found > 0
                elif self.found:
                    break
        self._skip_unknown(tail_says)

    def hold(self):
        """Put what the tail holds and no block has back where a run keeps it.

        Return how many blocks were lost.  Only at start, where time is free.
        """
        for again in (self.rows, self.summaries):
            while again.settle():
                self._read_tail_again()
        return self.rows.lost + self.summaries.lost

    def _read_tail_again(self):
        for one in list(self.segments.table[TAIL]):
            try:
                self._read_records(TAIL, number_of(one))
            except OSError:
                self._unreadable(TAIL, number_of(one))

    def _read_records(self, stream, number):
        self.stream = stream
        self.found = 0
        self.reader.read(self.segments.path(stream, number), stream, number)

    def _unreadable(self, stream, number):
        self.errors += 1
        self.damaged.append((stream, number))
        if stream == TAIL:
            self.segments.set_aside(number)

    def _read_one(self, stream, number, size):
        """Read a segment of so many bytes; return whether it may grow."""
        reader = self.reader
        try:
            self._read_records(stream, number)
        except OSError:
            self._unreadable(stream, number)
            self._count_unknown(stream, size - SEGMENT_HEAD)
            return False
        if reader.behind and not (reader.torn and stream != DETAIL):
            self._count_unknown(stream, reader.behind)
        if stream == TAIL:
            self.tail_between += reader.between
        newer = reader.version > FORMAT_VERSION
        if newer and stream == TAIL:
            self.segments.set_aside(number)
        headless = not reader.version and size >= SEGMENT_HEAD
        if reader.between or reader.behind and not reader.torn or headless:
            self.damaged.append((stream, number))
        return reader.version == FORMAT_VERSION and not reader.behind

    def _count_unknown(self, stream, count):
        # In the tail all segments are read: what is older than a record that
        # was found only makes the numbers skip further.
        self.unknown_bytes[stream] += max(count, 0)

    def _skip_unknown(self, tail_says):
        """Let every counter pass the numbers that damaged records may have used."""
        unknown = self.unknown_bytes
        self.event_seq += unknown[EVENTS] // EVENT_RECORD
        # A start writes its event before anything else.
        self.boot += unknown[EVENTS] // EVENT_RECORD + (1 if unknown[TAIL] else 0)
        # The tail mixes types: behind a lost one there may be others.
        in_tail = unknown[TAIL] + self.tail_between
        self.summaries.newest += (unknown[SUMMARY] // LEAST_SUMMARY_BLOCK * SUMMARIES_MOST
                                  + in_tail // SUMMARY_RECORD)
        if unknown[TAIL]:  # else its last record says which row was the newest
            self.rows.newest += in_tail // ROW_RECORD
        if not tail_says:  # the tail knows the newest row that any block holds
            self.rows.newest += unknown[DETAIL] // LEAST_BLOCK * ROWS_MOST

    def _take(self, version, kind, seq, data, at, length):
        self.found += 1
        if kind in BEGINS_WITH_BOOT and length >= 2:
            self.boot = max(self.boot, data[at] | data[at + 1] << 8)
        if kind == ROW or kind == TOTALS_AT_ROW:
            self.rows.note(seq)
        elif kind == EVENT:
            self.event_seq = max(self.event_seq, seq)
        elif kind == QUARTER_SUMMARY:
            self.summaries.note(seq)
        elif kind == BLOCK and length >= BLOCK_HEAD:
            self.rows.note_block(seq + data[at + 1] - 1)
        elif kind == SUMMARY_BLOCK and length >= BLOCK_HEAD:
            self.summaries.note_block(seq + data[at + 1] - 1)
        if version == FORMAT_VERSION:
            self._take_content(kind, seq, data, at, length)

    def _take_content(self, kind, seq, data, at, length):
        if kind in WITH_TOTALS and length == struct.calcsize(WITH_TOTALS[kind]):
            self._take_totals(kind, data, at)
        if self.stream != TAIL:
            return
        if kind == ROW and length == ROW_PAYLOAD:
            self.rows.put(seq, struct.unpack_from(ROW_FIELDS, data, at))
        elif kind == QUARTER_SUMMARY and length == SUMMARY_PAYLOAD:
            self.summaries.put(seq, memoryview(data)[at - HEAD:at + length + TRAILER])

    def _take_totals(self, kind, data, at):
        fields = struct.unpack_from(WITH_TOTALS[kind], data, at)
        boot = fields[0]
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
