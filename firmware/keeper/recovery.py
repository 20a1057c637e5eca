"""What an earlier run left in the journal: counters, totals, and what is in no block yet.

Reads the newest segments at start; writes nothing but blocks of what the tail
held.  Rules: the journal's specification, section 5.
"""

import struct

from keeper.blocks import BLOCK_HEAD, COLUMN_BITS_LEAST, ROW_COLUMNS, ROWS_MOST
from keeper.channels import TOTALS
from keeper.records import (
    BLOCK, DETAIL, EVENT, EVENT_LAYOUT, EVENT_RECORD, EVENTS, FORMAT_VERSION, HEAD, QUARTER, ROW,
    ROW_LAYOUT, ROW_RECORD, SEGMENT_HEAD, STREAMS, SUMMARY, SUMMARY_BLOCK, SUMMARY_LAYOUT,
    SUMMARY_RECORD, TAIL, TOTALS_KEPT, TOTALS_LAYOUT, TRAILER, SegmentReader)
from keeper.summary import BLOCK_COLUMNS, WIDTH_BITS
from keeper.summary import BLOCK_HEAD as SUMMARY_BLOCK_HEAD
from keeper.summary import MOST as SUMMARIES_MOST

WITH_TOTALS = {EVENT: EVENT_LAYOUT, TOTALS_KEPT: TOTALS_LAYOUT, QUARTER: SUMMARY_LAYOUT}
BEGINS_WITH_BOOT = (ROW, EVENT, TOTALS_KEPT, QUARTER)
# The shortest that a block can be: as many numbers as it can hold may be lost with it.
LEAST_BLOCK = HEAD + BLOCK_HEAD + ROW_COLUMNS * COLUMN_BITS_LEAST // 8 + TRAILER
LEAST_SUMMARY_BLOCK = (
    HEAD + SUMMARY_BLOCK_HEAD + BLOCK_COLUMNS * WIDTH_BITS // 8 + TRAILER)


class Recovery:
    """The state of a journal after `read`.

    Attributes: boot, row_seq, event_seq, summary_seq, numbers that have been
    used, or may have been, at most; low, high, the newest totals; rows,
    (seq, row) of the tail that are in no block, in order; summaries, (seq,
    record) likewise; damaged, (stream, number) of segments with damage;
    errors, segments that could not be read.
    """

    def __init__(self):
        self.boot = 0
        self.row_seq = 0
        self.event_seq = 0
        self.summary_seq = 0
        self.low = [0] * len(TOTALS)
        self.high = [0] * len(TOTALS)
        self.totals_boot = 0     # boot number of the totals
        self.packed_seq = 0      # last row of the newest block
        self.packed_summary = 0  # last summary of the newest block
        self.rows = []
        self.summaries = []
        self.damaged = []
        self.errors = 0
        self.found = 0           # records of the segment being read
        # Bytes in which records newer than the newest that was read may have been.
        self.unknown_bytes = [0] * STREAMS
        self.tail_between = 0    # and such bytes of the tail with later records behind them
        self.reader = SegmentReader(self._take)

    def read(self, segments):
        """Read the newest segment of each stream, and all of the tail.

        A segment without a record says nothing: then the one before is read.
        Sets segments.open for the streams whose newest segment may grow.
        """
        tail_says = False
        for stream in range(STREAMS):
            rows = list(segments.table[stream])
            for place in range(len(rows) - 1, -1, -1):
                self.found = 0
                grows = self._read_one(segments, stream, rows[place])
                if place == len(rows) - 1:
                    segments.open[stream] = grows
                if stream == TAIL:
                    tail_says = tail_says or self.found > 0
                elif self.found:
                    break
        self._skip_unknown(tail_says)
        self.rows = _after(self.rows, self.packed_seq)
        self.summaries = _after(self.summaries, self.packed_summary)

    def _read_one(self, segments, stream, row):
        """Read a segment; return whether it may grow."""
        number, size = row
        reader = self.reader
        try:
            reader.read(segments.path(stream, number), stream, number)
        except OSError:
            self.errors += 1
            self.damaged.append((stream, number))
            self._count_unknown(stream, size - SEGMENT_HEAD)
            if stream == TAIL:
                segments.set_aside(number)
            return False
        if reader.behind and not (reader.torn and stream != DETAIL):
            self._count_unknown(stream, reader.behind)
        if stream == TAIL:
            self.tail_between += reader.between
        newer = reader.version > FORMAT_VERSION
        if newer and stream == TAIL:
            segments.set_aside(number)
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
        self.summary_seq += (unknown[SUMMARY] // LEAST_SUMMARY_BLOCK * SUMMARIES_MOST
                             + in_tail // SUMMARY_RECORD)
        if unknown[TAIL]:  # else its last record says which row was the newest
            self.row_seq += in_tail // ROW_RECORD
        if not tail_says:  # the tail knows the newest row that any block holds
            self.row_seq += unknown[DETAIL] // LEAST_BLOCK * ROWS_MOST

    def _take(self, version, kind, seq, data, at, length):
        self.found += 1
        if kind in BEGINS_WITH_BOOT and length >= 2:
            self.boot = max(self.boot, struct.unpack_from("<H", data, at)[0])
        if kind == ROW or kind == TOTALS_KEPT:
            self.row_seq = max(self.row_seq, seq)
        elif kind == EVENT:
            self.event_seq = max(self.event_seq, seq)
        elif kind == QUARTER:
            self.summary_seq = max(self.summary_seq, seq)
        elif kind == BLOCK and length >= BLOCK_HEAD:
            self.packed_seq = max(self.packed_seq, seq + data[at + 1] - 1)
            self.row_seq = max(self.row_seq, self.packed_seq)
        elif kind == SUMMARY_BLOCK and length >= SUMMARY_BLOCK_HEAD:
            self.packed_summary = max(self.packed_summary, seq + data[at + 1] - 1)
            self.summary_seq = max(self.summary_seq, self.packed_summary)
        if version == FORMAT_VERSION:
            self._take_content(kind, seq, data, at, length)

    def _take_content(self, kind, seq, data, at, length):
        if kind in WITH_TOTALS and length == struct.calcsize(WITH_TOTALS[kind]):
            self._take_totals(kind, data, at)
        if kind == ROW and length == struct.calcsize(ROW_LAYOUT):
            row = list(struct.unpack_from(ROW_LAYOUT, data, at))[:ROW_COLUMNS]
            self.rows.append((seq, row))
        elif kind == QUARTER and length == struct.calcsize(SUMMARY_LAYOUT):
            self.summaries.append((seq, bytes(data[at - HEAD:at + length + TRAILER])))

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


def _after(numbered, packed):
    """Return the (seq, thing) pairs beyond `packed`, by number, each once."""
    numbered.sort(key=lambda pair: pair[0])
    kept = []
    for seq, thing in numbered:
        if seq > packed:
            kept.append((seq, thing))
            packed = seq
    return kept


def hold_again(past, held, packer, segments):
    """Put the rows of an earlier run back into `held`; return how many blocks were lost.

    A block holds rows without a gap: what lies before one is packed at once,
    as is a full block.  Only at start, where time is free.
    """
    lost = 0
    for seq, row in past.rows:
        if held.count == ROWS_MOST or held.count and seq != held.first_seq + held.count:
            lost += _pack_rows(held, packer, segments)
        if not held.count:
            held.first_seq = seq
        held.add(row)
    if held.count and held.first_seq + held.count != past.row_seq + 1:
        lost += _pack_rows(held, packer, segments)
    if not held.count:
        held.first_seq = past.row_seq + 1
    return lost


def _pack_rows(held, packer, segments):
    packer.begin(held.first_seq, held.count, held.first)
    while not packer.step(held.columns):
        pass
    held.drop(held.count)
    return 0 if append_at_start(segments, DETAIL, packer) else 1


def hold_summaries_again(past, held, packer, segments):
    """Put the summaries of an earlier run back into `held`, as `hold_again` does with rows."""
    lost = 0
    for seq, record in past.summaries:
        if held.count and (held.count == SUMMARIES_MOST or seq != held.first_seq + held.count):
            lost += _pack_summaries(held, packer, segments)
        held.add_record(seq, record)
    if held.count and (held.count == SUMMARIES_MOST
                       or held.first_seq + held.count != past.summary_seq + 1):
        lost += _pack_summaries(held, packer, segments)
    return lost


def _pack_summaries(held, packer, segments):
    packer.begin(held.first_seq, held.count)
    while not packer.step(held):
        pass
    held.count = 0
    return 0 if append_at_start(segments, SUMMARY, packer) else 1


def append_at_start(segments, stream, packer):
    """Append a packer's record, in a new segment if the newest fails; return whether it is."""
    return (segments.append(stream, packer.buffer, packer.size)
            or segments.append_new(stream, packer.buffer, packer.size))
