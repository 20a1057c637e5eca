"""Opens the journal at a start: what an earlier run left goes back to where a run keeps it.

Nothing of this is needed afterwards: the journal that comes back knows
nothing of it.
"""

import os

from keeper.journal.blocks import ROWS_MOST
from keeper.journal.again import HeldAgain, append_at_start
from keeper.channels import ALL_FITTED, COLUMNS, CONTACTS, INVALID
from keeper.events import BOOT, JOURNAL_LOST, NOT_FITTED
from keeper.journal.journal import BUDGET_BYTES, Journal
from keeper.modes import SAFE_STATE
from keeper.journal.outgoing import EVENTS_AT_ONCE
from keeper.journal.records import DETAIL, EVENTS, SUMMARY
from keeper.journal.recovery import Recovery
from keeper.journal.segments import Segments
from keeper.journal.summary import MOST as SUMMARIES_MOST

BOOT_MOST = 65535
COLD_START = 0         # reason of the boot event: none was handed over
SCRATCH = "scratch"
SCRATCH_BYTES = 1024   # more than a file of 512 bytes, which takes no block


def open_journal(root, rig_id, settings_version, budget_bytes=BUDGET_BYTES, fitted=ALL_FITTED):
    """Open or make the journal in folder `root`, within a budget [bytes]; return it.

    Reads what is there, takes the next boot number and writes the boot event, and what the
    rig lacks.  fitted: what it has, as the setting.
    A filesystem that fails is counted in `lost`, not raised.  MemoryError is:
    then what is on flash is as a power cut at that moment would leave it.
    """
    segments = Segments(root, rig_id, budget_bytes)
    journal = Journal(segments)
    past = Recovery(segments, HeldAgain(journal.packer, segments, DETAIL, ROWS_MOST),
                    HeldAgain(journal.summary_packer, segments, SUMMARY, SUMMARIES_MOST),
                    journal.tail.buffer)
    past.read()
    journal.go_on(min(past.boot + 1, BOOT_MOST), past.event_seq, past.rows.newest,
                  past.summaries.newest, past.low, past.high)
    freed = make_room(segments)
    blocks_lost = past.hold()
    gone = past.damaged + freed
    journal.lost = blocks_lost + len(gone)
    _write_events(journal, settings_version, ALL_FITTED & ~fitted, gone)
    return journal


def make_room(segments):
    """Give up the oldest until there is room; return the (stream, number) that went."""
    gone = []
    while True:
        stream = segments.surplus_stream()
        if stream < 0:
            if warm_up(segments) or not segments.full:
                return gone
            stream = segments.expendable_stream()
        if stream < 0:
            return gone
        gone.append((stream, segments.remove_oldest(stream)))


def warm_up(segments):
    """Write and remove a file of one block; return whether there was room.

    After a mount the first allocation searches the whole filesystem for free
    blocks: here, before anything is armed, rather than in a sync.
    """
    if not segments.usable:
        return False
    path = "%s/%s" % (segments.root, SCRATCH)
    written = False
    try:
        with open(path, "wb") as file:
            file.write(bytes(SCRATCH_BYTES))
            file.flush()
        written = True
    except OSError as error:
        segments.count(error)
    try:
        os.remove(path)
    except OSError:
        pass  # it is not there, or the next start writes over it
    return written


def _write_events(journal, settings_version, absent, gone):
    """Write that there was a start, what the rig lacks, and which segments went or are damaged.

    absent: bits of what is not there, 0 = nothing; gone: (stream, number) of segments.
    """
    _put(journal, BOOT, COLD_START, settings_version)
    if absent:
        _put(journal, NOT_FITTED, 0, absent)
    for stream, number in gone[:EVENTS_AT_ONCE - 2]:
        _put(journal, JOURNAL_LOST, stream, number)
    events = journal.events
    if append_at_start(journal.segments, EVENTS, events.buffer, events.used):
        events.used = 0


def _put(journal, code, argument, argument2):
    """Put an event before the first scan: nothing was measured."""
    values = [INVALID] * COLUMNS + [0] * len(CONTACTS)
    journal.events.put([code, argument, argument2, SAFE_STATE, 0, values],
                       journal.restored_low, journal.restored_high)
