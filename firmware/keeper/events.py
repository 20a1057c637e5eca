"""What the journal says happened: codes, declared once.

Numbers are part of the journal's format: append, never renumber.
"""

from array import array

from keeper.modes import SAFE_STATE

EVENT_CODES = range(1, 22)
(BOOT, STATE, ACTED, LET_GO, LOCKOUT, LOCKOUT_RESET, JOURNAL_LOST, HELD_OFF, ORDER,
 LIGHT_PLANNED, LIGHT_LASTS, CLOCK_SET, CLOCK_UNKNOWN, READING_BAD, REPEATED, RESTARTED,
 SUN_UNUSED, RUN_CUT, VALVE_ZERO, NOT_FITTED, LIGHT_BETWEEN) = EVENT_CODES

# What recurs is told one by one as often as this, then counted; guesses.  Of trips more
# than the most retries before a lockout.
FIRST_TOLD, TRIPS_TOLD = 3, 12
# The counts are told after these times [0.1 s], the last of them over and over.
TOLD_AFTER_DS = (36000, 144000, 432000)
QUIET_DS = 36000         # what has not recurred for an hour is over, and news when it comes
LOOK_DS = 100            # how often it is looked whether a count is to be told
# Argument 2 of REPEATED and RESTARTED: how often, in how many minutes, and whether it
# acts, or runs, at that time.
COUNT_MASK, MINUTES_SHIFT, MINUTES_MASK, NOW_BIT = 0xFFFF, 16, 0x1FFF, 1 << 29
DS_PER_MIN = 600
# Argument 2 of LIGHT_BETWEEN: the least minutes, and above these bits the most.
MINUTES_BITS = 15
MOST_MINUTES = (1 << MINUTES_BITS - 1) - 1


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
        count = self.count
        if count == self.size:
            self.lost += 1
            return
        if not self.is_copied:
            self._copy()
        slot = self.slots[(self.first + count) % self.size]
        slot[0] = code
        slot[1] = argument
        slot[2] = argument2
        slot[3] = self.state
        slot[4] = self.uptime_ds
        slot[5] = self.copies[self.copy]
        self.count = count + 1

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


class Repeats:
    """What recurs, by topic: told the first times, then counted and told at growing intervals.

    A topic is an element that acts and lets go, or the starts of a side.
    `hidden[topic]`: what belongs to its newest occurrence is not told.
    """

    def __init__(self, events, topics):
        """Take the queue of events, and how many topics there are [-]."""
        self.events = events
        self.hidden = bytearray(topics)
        self.told = bytearray(topics)  # occurrences told one by one in this spell
        self.turn = bytearray(topics)  # place in TOLD_AFTER_DS
        self.count = array("H", [0] * topics)  # occurrences that were not told
        self.told_ds = array("i", [0] * topics)  # uptime at which one, or a count, was told
        self.newest_ds = array("i", [0] * topics)  # uptime of the newest
        self.waiting = False     # a count is to be told some day

    def occur(self, topic, most):
        """Take an occurrence; return whether it is told, as the first `most` [-] of a spell are.

        Allocates nothing.
        """
        now_ds = self.events.uptime_ds
        if now_ds - self.newest_ds[topic] >= QUIET_DS:
            self.end(topic)
        self.newest_ds[topic] = now_ds
        if self.told[topic] < most:
            self.told[topic] += 1
            self.told_ds[topic] = now_ds
            self.hidden[topic] = 0
            return True
        self.hidden[topic] = 1
        if self.count[topic] < COUNT_MASK:
            self.count[topic] += 1
        self.waiting = True
        return False

    def end(self, topic):
        """The spell is over: what comes next is news."""
        self.told[topic] = self.turn[topic] = 0

    def due(self, code, argument, now):
        """Post the counts that are to be told, as `code`, topics numbered from `argument` on.

        now: by topic, whether it acts or runs [bool]: then its end will be told too.
        """
        if not self.waiting:
            return
        self.waiting = False
        for topic in range(len(self.count)):
            if self._is_due(topic):
                self._tell(topic, code, argument + topic, now[topic])
            elif self.count[topic]:
                self.waiting = True

    def _is_due(self, topic):
        now_ds = self.events.uptime_ds
        return self.count[topic] and (
            not self.told[topic] or now_ds - self.newest_ds[topic] >= QUIET_DS
            or now_ds - self.told_ds[topic] >= TOLD_AFTER_DS[self.turn[topic]])

    def _tell(self, topic, code, argument, is_now):
        events = self.events
        minutes = (events.uptime_ds - self.told_ds[topic]) // DS_PER_MIN
        events.post(code, argument, self.count[topic]
                    | min(minutes, MINUTES_MASK) << MINUTES_SHIFT | (NOW_BIT if is_now else 0))
        self.count[topic] = self.hidden[topic] = 0
        self.told_ds[topic] = events.uptime_ds
        if self.told[topic] and self.turn[topic] < len(TOLD_AFTER_DS) - 1:
            self.turn[topic] += 1
