"""The journal's writer: what is written when.

Contract: `slack` does at most one sync a call and never lets a filesystem
error out; rows are on flash at most one sync interval after they ended,
events at once.  It knows the keeper by its attributes only.  Format and
hand-over: the journal's specification.
"""

from keeper.blocks import (
    BOOT, CONTACTS, FIRST_VALUE, ROW_COLUMNS, ROWS_MOST, SCANS, STATE, UPTIME, HeldRows, Packer)
from keeper.channels import COLUMNS, INVALID, VALUES
from keeper.clock import PERIODS_PER_S
from keeper.events import BOOT as BOOT_EVENT
from keeper.events import JOURNAL_LOST
from keeper.modes import SAFE_STATE, STANDSTILL
from keeper.records import (
    DETAIL, EVENT_RECORD, EVENTS, ROW_RECORD, SUMMARY, SUMMARY_RECORD, TAIL, TOTALS_RECORD,
    put_event, put_row, put_summary, put_totals)
from keeper.recovery import Recovery, hold_again
from keeper.rows import KeptTotals
from keeper.segments import Segments
from keeper.summary import QUARTER_DS, Quarter

DS_PER_S = 10
BUDGET_BYTES = 800000
# Rows held in RAM: a block, and what ends while it is packed or retried.
HELD_MOST = ROWS_MOST + 32
EVENTS_AT_ONCE = 8
RETRY_DS = 50          # pause after a failed write
UPTIME_MOST = (1 << 30) - 1
U16_MOST = 65535
NO_STATE = -1
COLD_START = 0  # reason of the boot event: none was handed over

# Work that waits, one bit each, in the order in which it is done.
SYNC, BLOCK_OUT, NEW_TAIL, OLD_TAIL, PACK, QUARTER_OUT, RETAIN = [1 << i for i in range(7)]


class Journal:
    """The journal of one rig.

    Attributes: boot, number of this start; restored_low and restored_high,
    totals to go on from; newest_row, number of the newest row; lost, segments
    removed and writes or blocks given up since the start.
    """

    def __init__(self, root, rig_id, settings_version, budget_bytes=BUDGET_BYTES):
        """Open or make the journal in folder `root`, within a budget [bytes].

        Reads what is there, takes the next boot number and writes the boot
        event.  A filesystem that fails is counted in `lost`, not raised.
        """
        self.lost = 0
        self.segments = Segments(root, rig_id, budget_bytes)
        self.held = HeldRows(HELD_MOST)
        self.packer = Packer()
        self.quarter = Quarter()
        self.row = [0] * ROW_COLUMNS
        self.tail = bytearray(HELD_MOST * ROW_RECORD + TOTALS_RECORD)
        self.tail_used = 0       # bytes of rows that wait for a sync
        self.event_bytes = bytearray(EVENTS_AT_ONCE * EVENT_RECORD)
        self.event_used = 0      # bytes of events that wait for a sync
        self.summary_bytes = bytearray(SUMMARY_RECORD)
        self.jobs = RETAIN
        self.packing = False     # a block is being packed or waits to be written
        self.events_had_turn = False
        self.hold_ds = 0         # no writes before this uptime
        self.row_state = NO_STATE
        self.row_scans = 0       # length of the row being gathered
        self.sync_at_ds = 0      # uptime at which the tail must be synced
        self.quarter_at_ds = QUARTER_DS
        self._recover()
        self._write_boot(settings_version)

    def _recover(self):
        past = Recovery()
        past.read(self.segments)
        self.lost += past.errors
        self.boot = min(past.boot + 1, U16_MOST)
        self.event_seq = past.event_seq
        self.summary_seq = past.summary_seq
        self.newest_row = past.row_seq
        self.restored_low = past.low
        self.restored_high = past.high
        self.kept = KeptTotals(past.low, past.high)
        self.lost += hold_again(past, self.held, self.packer, self.segments)

    def _write_boot(self, settings_version):
        slot = [BOOT_EVENT, COLD_START, settings_version, SAFE_STATE, 0,
                [INVALID] * COLUMNS + [0] * (VALUES - COLUMNS)]
        self.event_seq += 1
        self.event_used = put_event(self.event_bytes, 0, self.event_seq, self.boot, slot,
                                    self.restored_low, self.restored_high)
        if self.segments.append(EVENTS, self.event_bytes, self.event_used):
            self.event_used = 0

    # Between scans

    def slack(self, keeper, now_ms):
        """Do the next piece of work, if any, at `now_ms` [ticks]; keeper: see `keeper.keeper`."""
        rows = keeper.rows
        if rows.scans >= self.row_scans or keeper.state != self.row_state or (
                keeper.uptime_ds >= self.sync_at_ds):
            self._end_row(keeper, rows)
        if self.jobs or self.event_used or keeper.events.count:
            self._work(keeper)

    def sync_is_due(self):
        """Return whether rows must go to flash now: then the link answers "busy"."""
        return bool(self.jobs & SYNC)

    def _end_row(self, keeper, rows):
        if self.row_state != NO_STATE and rows.scans:
            self._close_row(keeper, rows)
        state = keeper.state
        if state != self.row_state or not self.row_scans:
            running = state != STANDSTILL
            length_s = keeper.row_running_s if running else keeper.row_standstill_s
            if self.row_state == NO_STATE:
                self.sync_at_ds = keeper.tail_sync_s * DS_PER_S
            self.row_state = state
            self.row_scans = length_s * PERIODS_PER_S

    def _close_row(self, keeper, rows):
        """Move the gathered row to the held ones and to what waits for the tail."""
        row = self.row
        scans = rows.scans
        uptime_ds = min(keeper.uptime_ds, UPTIME_MOST)
        rows.close(row, FIRST_VALUE)
        row[BOOT] = self.boot
        row[UPTIME] = uptime_ds
        row[SCANS] = min(scans, U16_MOST)
        row[STATE] = self.row_state
        row[CONTACTS] = keeper.contact_bits()
        if self.held.count == HELD_MOST:
            self._give_up_block(keeper)
        self.held.add(row)
        self.newest_row += 1
        if self.tail_used + ROW_RECORD + TOTALS_RECORD > len(self.tail):
            self.tail_used = 0  # syncs fail: these rows are held for the block
        self.tail_used = put_row(self.tail, self.tail_used, self.newest_row, row)
        self.kept.take(keeper.totals, uptime_ds)
        if keeper.uptime_ds >= self.sync_at_ds:
            self.jobs |= SYNC
            self.sync_at_ds = UPTIME_MOST  # until it is done
        if self.held.count >= ROWS_MOST and not self.packing:
            self.packer.begin(self.held.first_seq, ROWS_MOST)
            self.packing = True
            self.jobs |= PACK
        self.quarter.add(row, FIRST_VALUE, scans)
        if keeper.uptime_ds >= self.quarter_at_ds:
            self._close_quarter(uptime_ds)

    def _close_quarter(self, uptime_ds):
        self.quarter_at_ds = (uptime_ds // QUARTER_DS + 1) * QUARTER_DS
        seconds, marks = self.quarter.close()
        self.summary_seq += 1
        put_summary(self.summary_bytes, 0, self.summary_seq, self.boot, seconds, marks, self.kept)
        self.jobs |= QUARTER_OUT

    def _give_up_block(self, keeper):
        """Writing has failed for so long that the oldest rows must go."""
        self.held.drop(ROWS_MOST)
        self.packing = False
        self.jobs &= ~(PACK | BLOCK_OUT)
        self._report_loss(keeper, DETAIL, self.segments.next_number(DETAIL))

    # One piece of work

    def _work(self, keeper):
        if keeper.uptime_ds < self.hold_ds:
            return
        if (self.event_used or keeper.events.count) and not (self.events_had_turn and self.jobs):
            self._events(keeper)
            return
        self.events_had_turn = False
        jobs = self.jobs
        if jobs & SYNC:
            self._sync_tail(keeper)
        elif jobs & BLOCK_OUT:
            self._write_block(keeper)
        elif jobs & NEW_TAIL:
            self._begin_tail(keeper)
        elif jobs & OLD_TAIL:
            self._remove_tail()
        elif jobs & PACK:
            if self.packer.step(self.held.columns):
                self.jobs ^= PACK | BLOCK_OUT
        elif jobs & QUARTER_OUT:
            if self._append(keeper, SUMMARY, self.summary_bytes, SUMMARY_RECORD):
                self.jobs &= ~QUARTER_OUT
        elif jobs & RETAIN:
            self._retain(keeper)

    def _events(self, keeper):
        """Encode the oldest event; write what is encoded when no other waits."""
        queue = keeper.events
        if queue.count and self.event_used + EVENT_RECORD <= len(self.event_bytes):
            self.event_seq += 1
            totals = keeper.totals
            totals.settle()
            self.event_used = put_event(self.event_bytes, self.event_used, self.event_seq,
                                        self.boot, queue.oldest(), totals.low, totals.high)
            queue.drop()
            if queue.count and self.event_used + EVENT_RECORD <= len(self.event_bytes):
                return
        self.events_had_turn = True  # so that a fault that chatters does not hold up the rows
        if self._append(keeper, EVENTS, self.event_bytes, self.event_used):
            self.event_used = 0

    def _sync_tail(self, keeper):
        if not self.tail_used or self._append(
                keeper, TAIL, self.tail, self._put_totals(self.tail_used)):
            self._synced(keeper)

    def _put_totals(self, at):
        return put_totals(self.tail, at, self.newest_row, self.boot, self.kept)

    def _synced(self, keeper):
        """All closed rows are on flash: set the time of the next sync."""
        self.tail_used = 0
        self.jobs &= ~SYNC
        # A row that is longer than the interval is waited for; a scan lasts 0.1 s.
        interval_ds = max(keeper.tail_sync_s * DS_PER_S, self.row_scans)
        self.sync_at_ds = self.kept.uptime_ds + interval_ds

    def _write_block(self, keeper):
        if self._append(keeper, DETAIL, self.packer.buffer, self.packer.size):
            self.held.drop(self.packer.rows)
            self.packing = False
            self.jobs = self.jobs & ~BLOCK_OUT | NEW_TAIL

    def _begin_tail(self, keeper):
        """Start the tail anew with the rows that are in no block."""
        at = 0
        held = self.held
        for place in range(held.count):
            held.copy(place, self.row)
            at = put_row(self.tail, at, held.first_seq + place, self.row)
        self.tail_used = at
        if self.segments.append_new(TAIL, self.tail, self._put_totals(at)):
            self.jobs = self.jobs & ~NEW_TAIL | OLD_TAIL | RETAIN
            self._synced(keeper)
        else:
            self._failed(keeper, TAIL)

    def _remove_tail(self):
        if len(self.segments.table[TAIL]) > 1:
            self.segments.remove_oldest(TAIL)
        if len(self.segments.table[TAIL]) <= 1:
            self.jobs &= ~OLD_TAIL

    def _append(self, keeper, stream, data, count):
        """Append and sync; on failure pause and report.  Return whether it is on flash."""
        if self.segments.append(stream, data, count):
            self.jobs |= RETAIN
            return True
        self._failed(keeper, stream)
        return False

    def _failed(self, keeper, stream):
        self.hold_ds = keeper.uptime_ds + RETRY_DS
        number = self.segments.next_number(stream)
        if self.segments.full:
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
        keeper.events.post(JOURNAL_LOST, stream, number, keeper.state, keeper.uptime_ds,
                           keeper.values)

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
