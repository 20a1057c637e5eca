"""What the journal says happened: codes, declared once.

Numbers are part of the journal's format: append, never renumber.
"""

# code, name, meaning of argument, meaning of argument 2
EVENTS = (
    (1, "boot", "reason", "settings version"),
    (2, "state", "state left", "cause"),
    (3, "element acted", "number of the element", "action"),
    (4, "element let go", "number of the element", "scans beyond its pickup"),
    (5, "lockout", "number of the element", "trips in a row"),
    (6, "lockout reset", "number of the element", "0"),
    (7, "journal lost", "stream", "segment removed or not written"),
    (8, "held off", "side", "seconds until the next try"),
    (9, "order", "number of the order", "0 = done, else number of the refusal"),
    (10, "light planned", "1 = lasts till dawn", "lamp power [mW]"),
    (11, "light lasts", "0 = at the wanted power, 1 = at the least useful", "minutes"),
    (12, "clock set", "0", "minute of the day, UTC"),
    (13, "clock unknown", "0", "minute of the day that was to switch the light"),
    (14, "reading bad", "number of the channel", "reason"),
)
(BOOT, STATE, ACTED, LET_GO, LOCKOUT, LOCKOUT_RESET, JOURNAL_LOST, HELD_OFF, ORDER,
 LIGHT_PLANNED, LIGHT_LASTS, CLOCK_SET, CLOCK_UNKNOWN, READING_BAD) = range(1, 15)


class EventQueue:
    """Events that the scan has posted and the journal has not yet written.

    A ring of fixed slots; posting allocates nothing.  When it is full the
    newest event is counted as lost, so that the first cause is kept.
    """

    def __init__(self, size, width):
        """Make `size` slots [-] that each keep `width` values of a scan [-]."""
        self.slots = [[0, 0, 0, 0, 0, [0] * width] for _ in range(size)]
        self.size = size
        self.width = width
        self.first = 0
        self.count = 0
        self.lost = 0

    def post(self, code, argument, argument2, state, uptime_ds, values):
        """Keep an event with the first `width` values of its scan; allocates nothing."""
        if self.count == self.size:
            self.lost += 1
            return
        slot = self.slots[(self.first + self.count) % self.size]
        slot[0] = code
        slot[1] = argument
        slot[2] = argument2
        slot[3] = state
        slot[4] = uptime_ds
        kept = slot[5]
        for index in range(self.width):
            kept[index] = values[index]
        self.count += 1

    def oldest(self):
        """Return the oldest slot [code, argument, argument2, state, uptime_ds, values]."""
        return self.slots[self.first]

    def drop(self):
        """Forget the oldest event."""
        self.first = (self.first + 1) % self.size
        self.count -= 1
