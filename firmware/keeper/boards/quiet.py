"""Stands for the journal where none is kept: reads what is there, writes nothing.

Why there is none is `why_quiet`, one of `keeper.health`; what is not kept shows
as events that found no room.
"""

import gc

from keeper.channels import TOTALS
from keeper.health import NOT_EVEN_READ
from keeper.journal.segments import Segments


class NoSegments:
    """Stands for the segments where there is no memory even to list them."""

    errors = 0
    budget_blocks = 0
    blocks = ()

    def files(self):
        """Return no file."""
        return []

    def size_of(self, file_number):
        """Return -1: there is none."""
        return -1

    def read_file(self, file_number, offset_bytes, buffer):
        """Return 0: nothing was read."""
        return 0


class QuietJournal:
    """What keeper and link read of a `keeper.journal.journal.Journal`; and why_quiet."""

    boot = 0
    newest_row = 0

    def __init__(self, root, rig_id, why_quiet):
        """Look at what is in the folder; why_quiet: a reason of `keeper.health`."""
        self.why_quiet = why_quiet
        self.restored_low = [0] * len(TOTALS)
        self.restored_high = [0] * len(TOTALS)
        try:
            self.segments = Segments(root, rig_id, 0)
        except MemoryError:
            self.segments = NoSegments()
            self.why_quiet = NOT_EVEN_READ
        gc.collect()
        self.lost = self.segments.errors  # files of it that could not be looked at

    def slack(self, keeper, now_ms):
        """Do nothing."""

    def sync_is_due(self):
        """Return False: nothing is ever written."""
        return False

    def files(self):
        """Return (Modbus file number, bytes) of every segment."""
        return self.segments.files()

    def size_of(self, file_number):
        """Return the bytes of a file, -1 if there is none."""
        return self.segments.size_of(file_number)

    def read_file(self, file_number, offset_bytes, buffer):
        """Fill `buffer` from an offset of a file; return the bytes read.  Raises OSError."""
        return self.segments.read_file(file_number, offset_bytes, buffer)
