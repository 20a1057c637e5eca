"""The journal's writer: what is written when.

Contract: `slack` does at most one sync a call, no more arithmetic than fits
between two scans, and never lets a filesystem error out; rows are on flash at
most one sync interval after they began, events at once.  It knows the keeper
by its attributes only.  Format and hand-over: the journal's specification.
"""

from keeper.journal import closing as cl
from keeper.journal.blocks import ROWS_MOST, HeldRows, RowPacker
from keeper.events import JOURNAL_LOST
from keeper.journal.outgoing import Events, Tail
from keeper.journal.records import DETAIL, EVENTS, SUMMARY, TAIL
from keeper.journal.segments import number_of
from keeper.journal.summary import MOST as SUMMARIES_MOST
from keeper.journal.summary import HeldSummaries, SummaryPacker

DS_PER_S = 10
# What the smaller board leaves beside its code is less: see segments.py.
BUDGET_BYTES = 1130496
# Rows held in RAM: a block, and what ends while it is packed or retried.
HELD_MOST = ROWS_MOST + 48
RETRY_DS = 50          # pause after a failed write
# A sync stops the processor for some erases: not while something quick is
# under way, but no longer than this after the last.
FORCED_DS = 500

# Work that waits, one bit each.
SYNC, BLOCK_OUT, NEW_TAIL, OLD_TAIL, SUMMARY_OUT, RETAIN, PACK, PACK_SUMMARY = [
    1 << i for i in range(8)]
ON_FLASH = SYNC | BLOCK_OUT | NEW_TAIL | OLD_TAIL | SUMMARY_OUT | RETAIN


class Journal:
    """The journal of one rig.

    Attributes: boot, number of this start; restored_low and restored_high,
    totals to go on from; newest_row, number of the newest row; lost, segments
    removed or damaged and writes or blocks given up since the start.
    """

    def __init__(self, segments):
        """Make its parts; `keeper.journal.opening` lets it `go_on` from what there is."""
        self.boot = 0
        self.newest_row = 0
        self.summary_seq = 0     # number of the newest summary
        self.restored_low = []
        self.restored_high = []
        self.lost = 0
        self.segments = segments
        self.events = Events()
        self.held = HeldRows(HELD_MOST)
        self.packer = RowPacker(self.held)
        self.packing = False     # a block is being packed or waits to be written
        self.summaries = HeldSummaries()
        self.summary_packer = SummaryPacker(self.summaries)
        self.tail = Tail()
        self.tail_begun = False  # a part of the tail anew is written, and another follows
        self.tail_from = 0       # number of the segment with which it last began anew
        self.events_went_first = False
        self.jobs = RETAIN
        self.hold_ds = 0         # no writes before this uptime
        self.sync_at_ds = 0      # uptime at which the tail must be synced
        self.synced_ds = 0       # uptime at which it was
        self.held_back = False   # a sync waits for a quiet time
        self.closing = cl.Closing()

    def go_on(self, boot, event_seq, row_seq, summary_seq, low, high):
        """Go on as start number `boot`, after the newest numbers, from totals of limbs [lists]."""
        self.boot = boot
        self.events.boot = boot
        self.events.seq = event_seq
        self.newest_row = row_seq
        self.summary_seq = summary_seq
        self.restored_low = low
        self.restored_high = high
        self.closing.totals.restore(low, high)

    # Between scans

    def slack(self, keeper, now_ms):
        """Do the next piece of work, if any, at `now_ms` [ticks]; keeper: see `keeper.keeper`.

        Whoever calls answers requests first: a sync would delay them.
        """
        if self.closing.stage != cl.IDLE:
            self._close_on(keeper)
        elif self.closing.is_due(keeper) or keeper.uptime_ds >= self.sync_at_ds:
            if self.closing.state == cl.NO_STATE:
                self.sync_at_ds = keeper.tail_sync_s * DS_PER_S
            self.closing.begin(keeper, self.boot)
        elif keeper.events.count and self.events.has_room():
            self.events.put_oldest(keeper)
        elif (self.events.used or self.jobs & ON_FLASH) and self._may_write(keeper):
            self._write(keeper)
        elif self.jobs & PACK:
            if self.packer.step():
                self.jobs ^= PACK | BLOCK_OUT
        elif self.jobs & PACK_SUMMARY and self.summary_packer.step():
            self.jobs ^= PACK_SUMMARY | SUMMARY_OUT

    def sync_is_due(self):
        """Return whether rows go to flash next: then the link answers "busy"."""
        return bool(self.jobs & SYNC) and not self.held_back

    def _close_on(self, keeper):
        stage = self.closing.stage
        if stage == cl.TAKE_ROW:
            self._hold_row(keeper)
        elif stage == cl.TAKE_SUMMARY:
            self._hold_summary(keeper)
        self.closing.step(keeper)

    def _hold_row(self, keeper):
        """Take the row that has ended: for its block and for the tail."""
        closing = self.closing
        if self.held.count == HELD_MOST:
            self._give_up_block(keeper)
        self.held.add(closing.row)
        self.newest_row += 1
        self.tail.add_row(self.newest_row, closing.row)
        if closing.totals.uptime_ds >= self.sync_at_ds or self.tail.is_full():
            self.jobs |= SYNC
            self.sync_at_ds = cl.UPTIME_MOST  # until it is done
        if self.held.count >= ROWS_MOST and not self.packing:
            self.packer.begin(ROWS_MOST)
            self.packing = True
            self.jobs |= PACK

    def _hold_summary(self, keeper):
        summaries = self.summaries
        if summaries.count == SUMMARIES_MOST:  # writing has failed for hours
            summaries.count = 0
            self.jobs &= ~(PACK_SUMMARY | SUMMARY_OUT)
            self._report_loss(keeper, SUMMARY, self.segments.next_number(SUMMARY))
        seconds, marks = self.closing.marks
        self.summary_seq += 1
        summaries.add(self.summary_seq, self.boot, seconds, marks, self.closing.totals)
        self.tail.add_summary(summaries)
        if summaries.count == SUMMARIES_MOST:
            self.summary_packer.begin(SUMMARIES_MOST)
            self.jobs |= PACK_SUMMARY

    def _give_up_block(self, keeper):
        """Writing has failed for so long that the oldest rows must go."""
        self.held.drop(ROWS_MOST)
        if self.tail.refilling:
            self.tail.begin_refill()
        self.packing = False
        self.jobs &= ~(PACK | BLOCK_OUT)
        self._report_loss(keeper, DETAIL, self.segments.next_number(DETAIL))

    # To flash, one sync a call

    def _may_write(self, keeper):
        """Return whether now is a time for a sync, or the last one is too long ago."""
        uptime_ds = keeper.uptime_ds
        if uptime_ds < self.hold_ds:
            return False
        self.held_back = keeper.busy
        if self.held_back:
            forced_ds = min(FORCED_DS, keeper.tail_sync_s * DS_PER_S)
            if uptime_ds - self.synced_ds < forced_ds:
                return False
            if self.tail.used:
                self.jobs |= SYNC
            return bool(self.events.used or self.jobs & SYNC)
        return True

    def _write(self, keeper):
        if self.events.used and not (self.events_went_first and self.jobs & ON_FLASH):
            # One turn, so that a fault that chatters does not hold up the rows.
            self.events_went_first = True
            if self._append(keeper, EVENTS, self.events.buffer, self.events.used):
                self.events.used = 0
            return
        self.events_went_first = False
        jobs = self.jobs
        if self.tail.filled:
            self._begin_tail(keeper)
        elif self.tail.refilling:
            self.tail.refill(self.held, self.summaries)
        elif jobs & SYNC:
            self._sync_tail(keeper)
        elif jobs & BLOCK_OUT:
            self._write_block(keeper)
        elif jobs & NEW_TAIL:
            self.tail.begin_refill()
        elif jobs & OLD_TAIL:
            self._remove_tail()
        elif jobs & SUMMARY_OUT:
            self._write_summaries(keeper)
        elif jobs & RETAIN:
            self._retain(keeper)

    def _sync_tail(self, keeper):
        count = self.tail.close(self.newest_row, self.boot, self.closing.totals)
        if not self.tail.used or self._append(keeper, TAIL, self.tail.buffer, count):
            self._synced(keeper)

    def _synced(self, keeper):
        """All closed rows are on flash: set the time of the next sync."""
        self.tail.used = 0
        self.jobs &= ~SYNC
        self.synced_ds = keeper.uptime_ds
        # A row that is longer than the interval is waited for; a scan lasts 0.1 s.
        interval_ds = max(keeper.tail_sync_s * DS_PER_S, self.closing.due_scans)
        self.sync_at_ds = self.closing.totals.uptime_ds + interval_ds

    def _write_block(self, keeper):
        if self._append(keeper, DETAIL, self.packer.buffer, self.packer.size):
            self.held.drop(self.packer.count)
            self.packing = False
            self.jobs = self.jobs & ~BLOCK_OUT | NEW_TAIL

    def _begin_tail(self, keeper):
        """Start the tail anew with what is in no block, or go on with that."""
        tail = self.tail
        tail.filled = False
        count = tail.used
        if not tail.refilling:
            count = tail.close(self.newest_row, self.boot, self.closing.totals)
        append = self.segments.append if self.tail_begun else self.segments.append_new
        if not self._on_flash(append, TAIL, tail.buffer, count):
            self.tail_begun = tail.refilling = False  # another refill comes, of all
            self._failed(keeper, TAIL)
            return
        if not self.tail_begun:
            self.tail_from = number_of(self.segments.table[TAIL][-1])
        tail.used = 0
        self.tail_begun = tail.refilling
        if not self.tail_begun:
            self.jobs = self.jobs & ~NEW_TAIL | OLD_TAIL | RETAIN
            self._synced(keeper)

    def _remove_tail(self):
        """Remove the oldest segment of the tail, up to that with which it began anew."""
        table = self.segments.table[TAIL]
        if number_of(table[0]) != self.tail_from:
            self.segments.remove_oldest(TAIL)
        if number_of(table[0]) == self.tail_from:
            self.jobs &= ~OLD_TAIL

    def _write_summaries(self, keeper):
        if self._append(keeper, SUMMARY, self.summary_packer.buffer, self.summary_packer.size):
            self.summaries.count = 0
            self.jobs &= ~SUMMARY_OUT

    def _append(self, keeper, stream, data, count):
        """Append and sync; on failure report.  Return whether it is on flash."""
        if self._on_flash(self.segments.append, stream, data, count):
            self.jobs |= RETAIN
            return True
        self._failed(keeper, stream)
        return False

    def _on_flash(self, append, stream, data, count):
        try:
            return append(stream, data, count)
        except MemoryError:
            return False  # counted by the segments, and reported by `_failed`

    def _failed(self, keeper, stream):
        if not self.segments.fresh:
            return  # the next call tries a segment of its own
        self.hold_ds = keeper.uptime_ds + RETRY_DS
        number = self.segments.next_number(stream)
        if self.segments.full:
            self.jobs |= RETAIN
            self._give_up_oldest(keeper, self.segments.expendable_stream())
        if stream == EVENTS:
            self.lost += 1  # an event about an event that cannot be written is no help
        else:
            self._report_loss(keeper, stream, number)

    def _retain(self, keeper):
        """Remove one segment that is over the budget."""
        stream = self.segments.surplus_stream()
        if stream < 0:
            self.jobs &= ~RETAIN
        else:
            self._give_up_oldest(keeper, stream)

    def _give_up_oldest(self, keeper, stream):
        if stream >= 0:
            self._report_loss(keeper, stream, self.segments.remove_oldest(stream))

    def _report_loss(self, keeper, stream, number):
        self.lost += 1
        keeper.events.post(JOURNAL_LOST, stream, number)

    # For the link

    def files(self):
        """Return (Modbus file number, bytes) of every segment."""
        return self.segments.files()

    def size_of(self, file_number):
        """Return the bytes of a file, -1 if there is none."""
        return self.segments.size_of(file_number)

    def read_file(self, file_number, offset_bytes, buffer):
        """Fill `buffer` from an offset of a file; return the bytes read.  Raises OSError."""
        return self.segments.read_file(file_number, offset_bytes, buffer)
