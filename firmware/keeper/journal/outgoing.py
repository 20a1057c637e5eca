"""Records that wait for a sync: events; rows and summaries in full, for the tail.

Owns the buffers that one append each writes; does not know when that is.
"""

from keeper.journal.blocks import ROW_COLUMNS
from keeper.journal.records import (
    EVENT_RECORD, RECORD_MOST, ROW_RECORD, SUMMARY_RECORD, TOTALS_RECORD, put_event, put_row,
    put_totals)

ROWS_AT_ONCE = 2    # rows that one slice copies
EVENTS_AT_ONCE = 8  # events of one append


class Tail:
    """Records that wait for a sync.  Attributes: buffer; used, bytes that wait.

    When the tail begins anew, it is filled again with all that is in no block,
    one buffer after another: `begin_refill`, then `refill` until it is
    `filled`; what waits is written, and the same again as long as `refilling`.
    """

    def __init__(self):
        # Room for the rows of a minute, the longest sync interval, if each lasts
        # a second.  At a start, while nothing waits, segments are read through it.
        self.buffer = bytearray(RECORD_MOST)
        self.used = 0
        self.refilling = False
        self.filled = False
        self.refilled = 0  # rows copied by the refill so far
        self.refilled_summaries = 0
        self.row = [0] * ROW_COLUMNS

    def has_room(self, count):
        """Return whether `count` more bytes can wait, and the totals behind them."""
        return self.used + count + TOTALS_RECORD <= len(self.buffer)

    def is_full(self):
        """Return whether the next row may find no room."""
        return not self.has_room(ROW_RECORD + SUMMARY_RECORD)

    def add_row(self, seq, row):
        """Take a row; while refilling the refill will come to it."""
        if self._takes(ROW_RECORD):
            self.used = put_row(self.buffer, self.used, seq, row)

    def add_summary(self, summaries):
        """Take the newest of the held summaries; a refill takes all of them at its end."""
        if self._takes(SUMMARY_RECORD):
            self._copy(summaries, summaries.count - 1, 1)

    def _takes(self, count):
        """Return whether `count` more bytes are to be added now."""
        if not self.refilling and not self.has_room(count):
            if self.filled:
                self.begin_refill()  # in two parts, then
            else:
                self.used = 0  # syncs fail: what waited is held for the blocks
        return not self.refilling

    def _copy(self, summaries, first, count):
        size = count * SUMMARY_RECORD
        at = first * SUMMARY_RECORD
        self.buffer[self.used:self.used + size] = memoryview(summaries.records)[at:at + size]
        self.used += size

    def begin_refill(self):
        """Start to fill the buffer with what is held."""
        self.used = 0
        self.refilled = 0
        self.refilled_summaries = 0
        self.refilling = True
        self.filled = False

    def refill(self, held, summaries):
        """Copy a little more of what is held; it is filled when all is there, or no room left."""
        end = min(self.refilled + ROWS_AT_ONCE, held.count)
        for place in range(self.refilled, end):
            if not self.has_room(ROW_RECORD):
                self.filled = True
                return
            held.copy(place, self.row)
            self.used = put_row(self.buffer, self.used, held.first_seq + place, self.row)
            self.refilled = place + 1
        if end < held.count:
            return
        left = summaries.count - self.refilled_summaries
        room = (len(self.buffer) - TOTALS_RECORD - self.used) // SUMMARY_RECORD
        self._copy(summaries, self.refilled_summaries, min(left, room))
        self.refilled_summaries += min(left, room)
        self.refilling = left > room
        self.filled = True

    def close(self, seq, boot, totals):
        """Put totals [rows.FrozenTotals] of rows up to `seq` behind what waits; return the end."""
        return put_totals(self.buffer, self.used, seq, boot, totals)


class Events:
    """Events that wait.  Attributes: buffer; used, bytes that wait; seq, the newest number."""

    def __init__(self):
        self.buffer = bytearray(EVENTS_AT_ONCE * EVENT_RECORD)
        self.used = 0
        self.seq = 0
        self.boot = 0
        self.settled = False  # the totals are up to date for the next event

    def has_room(self):
        """Return whether one more can be put."""
        return self.used + EVENT_RECORD <= len(self.buffer)

    def put_oldest(self, keeper):
        """Take the oldest event of the keeper's queue, with the totals as they are now.

        In two calls: the first brings the totals up to date.
        """
        totals = keeper.totals
        if not self.settled:
            totals.settle()
            self.settled = True
            return
        self.settled = False
        self.put(keeper.events.oldest(), totals.low, totals.high)
        keeper.events.drop()

    def put(self, slot, low, high):
        """Take an event [slot of `keeper.events.EventQueue`] with limbs `low` and `high`."""
        self.seq += 1
        self.used = put_event(self.buffer, self.used, self.seq, self.boot, slot, low, high)
