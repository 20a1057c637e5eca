"""What the journal says happened: codes, declared once.

Numbers are part of the journal's format: append, never renumber.
"""

from array import array

from keeper.modes import SAFE_STATE

EVENT_CODES = range(1, 15)
(BOOT, STATE, ACTED, LET_GO, LOCKOUT, LOCKOUT_RESET, JOURNAL_LOST, HELD_OFF, ORDER,
 LIGHT_PLANNED, LIGHT_LASTS, CLOCK_SET, CLOCK_UNKNOWN, READING_BAD) = EVENT_CODES


class EventQueue:
    """Events that the scan has posted and the journal has not yet written.

    A ring of fixed slots; posting allocates nothing.  When it is full the
    newest event is counted as lost, so that the first cause is kept.  Events
    of one scan share one copy of its values.

    What every event says of its scan the queue knows: `values`, the list that
    each scan fills; `state` of operation and `uptime_ds` [0.1 s], which whoever
    runs the scan sets.  Between two scans they are those of the newest.
    """

    def __init__(self, size, values, width):
        """Make `size` slots [-], and as many copies of the first `width` of a scan's values."""
        self.values = values
        self.state = SAFE_STATE
        self.uptime_ds = 0
        self.slots = [[0, 0, 0, 0, 0, None] for _ in range(size)]
        self.copies = [array("i", [0] * width) for _ in range(size)]
        self.copy = 0            # place of the newest; as many slots as copies: none is in use
        self.is_copied = False   # the newest copy is of this scan
        self.size = size
        self.width = width
        self.first = 0
        self.count = 0
        self.lost = 0

    def begin_scan(self, state, uptime_ds):
        """A scan begins, in a state of operation, at an uptime [0.1 s]; allocates nothing."""
        self.state = state
        self.uptime_ds = uptime_ds
        self.is_copied = False

    def post(self, code, argument, argument2):
        """Keep an event of the newest scan; allocates nothing."""
        if self.count == self.size:
            self.lost += 1
            return
        if not self.is_copied:
            self._copy()
        slot = self.slots[(self.first + self.count) % self.size]
        slot[0] = code
        slot[1] = argument
        slot[2] = argument2
        slot[3] = self.state
        slot[4] = self.uptime_ds
        slot[5] = self.copies[self.copy]
        self.count += 1

    def _copy(self):
        self.is_copied = True
        values = self.values
        self.copy = (self.copy + 1) % self.size
        copied = self.copies[self.copy]
        for index in range(self.width):
            copied[index] = values[index]

    def oldest(self):
        """Return the oldest slot [code, argument, argument2, state, uptime_ds, values]."""
        return self.slots[self.first]

    def drop(self):
        """Forget the oldest event."""
        self.first = (self.first + 1) % self.size
        self.count -= 1
