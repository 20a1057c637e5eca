"""Records that wait for a sync: events; rows and summaries in full, for the tail.

Owns the buffers that one append each writes; does not know when that is.
"""

from keeper.blocks import ROW_COLUMNS
from keeper.channels import COLUMNS, CONTACTS, INVALID
from keeper.modes import SAFE_STATE
from keeper.records import (
    EVENT_RECORD, ROW_RECORD, SUMMARY_RECORD, TOTALS_RECORD, put_event, put_row, put_totals)
from keeper.summary import MOST as SUMMARIES_MOST

ROWS_AT_ONCE = 2    # rows that one slice copies
EVENTS_AT_ONCE = 8  # events of one append


class Tail:
    """Records that wait for a sync.  Attributes: buffer; used, bytes that wait.

    When the tail begins anew, it is filled again with all that is in no block:
    `begin_refill`, then `refill` until it returns True.
    """

    def __init__(self, rows_most):
        """Make room for `rows_most` rows [-] and all summaries that can be held."""
        self.buffer = bytearray(
            rows_most * ROW_RECORD + SUMMARIES_MOST * SUMMARY_RECORD + TOTALS_RECORD)
        self.used = 0
        self.refilling = False
        self.refilled = 0  # rows copied by the refill so far
        self.row = [0] * ROW_COLUMNS

    def add_row(self, seq, row):
        """Take a row; while refilling the refill will come to it."""
        if self.refilling:
            return
        self._make_room(ROW_RECORD)
        self.used = put_row(self.buffer, self.used, seq, row)

    def add_summary(self, summaries):
        """Take the newest of the held summaries; a refill takes all of them at its end."""
        if self.refilling:
            return
        self._make_room(SUMMARY_RECORD)
        end = summaries.bytes_held()
        self._copy(memoryview(summaries.records)[end - SUMMARY_RECORD:end])

    def _make_room(self, count):
        if self.used + count + TOTALS_RECORD > len(self.buffer):
            self.used = 0  # syncs fail: what waited is held for the blocks

    def _copy(self, data):
        self.buffer[self.used:self.used + len(data)] = data
        self.used += len(data)

    def begin_refill(self):
        """Start to fill the buffer with what is held."""
        self.used = 0
        self.refilled = 0
        self.refilling = True

    def refill(self, held, summaries):
        """Copy a few more of the held rows; return whether all that is held is there."""
        end = min(self.refilled + ROWS_AT_ONCE, held.count)
        for place in range(self.refilled, end):
            held.copy(place, self.row)
            self.used = put_row(self.buffer, self.used, held.first_seq + place, self.row)
        self.refilled = end
        if end < held.count:
            return False
        self._copy(memoryview(summaries.records)[:summaries.bytes_held()])
        self.refilling = False
        return True

    def close(self, seq, boot, kept):
        """Put totals [rows.KeptTotals] of rows up to `seq` behind what waits; return the end."""
        return put_totals(self.buffer, self.used, seq, boot, kept)


class Events:
    """Events that wait.  Attributes: buffer; used, bytes that wait; seq, the newest number."""

    def __init__(self, seq, boot):
        """Go on after number `seq`, in boot number `boot`."""
        self.buffer = bytearray(EVENTS_AT_ONCE * EVENT_RECORD)
        self.used = 0
        self.seq = seq
        self.boot = boot
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
        self._put(keeper.events.oldest(), totals.low, totals.high)
        keeper.events.drop()

    def put_at_start(self, code, argument, argument2, low, high):
        """Put an event before the first scan: nothing was measured; limbs `low` and `high`."""
        values = [INVALID] * COLUMNS + [0] * len(CONTACTS)
        self._put([code, argument, argument2, SAFE_STATE, 0, values], low, high)

    def _put(self, slot, low, high):
        self.seq += 1
        self.used = put_event(self.buffer, self.used, self.seq, self.boot, slot, low, high)
