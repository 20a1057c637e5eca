"""The protection pass: loops plainly over the table of elements.

Integers only, no allocation, bounded time.  It knows values, elements and
which modes arm them; it does not know how a mode starts or ends.
"""

from keeper import settings as st
from keeper.channels import INVALID
from keeper.clock import PERIOD_MS
from keeper.elements import (
    E_ACTION, E_ARMED, E_DELAY, E_PICKUP, E_RESET, E_SENSE, E_TARGET, E_VALUE, ELEMENTS, STOP,
    TRIP)
from keeper.events import ACTED, LET_GO

UP, DOWN = 2, 1  # steps of the delay count, see keeper.elements
ROWS = len(ELEMENTS)
MOST_BEYOND = 1 << 28  # a count of scans stops here: 310 days


class Protection:
    """State of all elements.  After `judge`: `hold`, `tripped`, `acting`, `first`."""

    def __init__(self, settings, events):
        """Compile the table with settings [list in table order]; post to `events`."""
        self.events = events
        # Each row as the loop reads it: index, value, sign, pickup, reset, delay
        # count, armed in.  '<' elements are mirrored: the loop only knows 'above'.
        self.rows = tuple([(
            index, int(row[E_VALUE]), 1 if row[E_SENSE] == ">" else -1,
            _limit(row, E_PICKUP, settings), _limit(row, E_RESET, settings),
            UP * (settings[st.index(row[E_DELAY])] // PERIOD_MS), int(row[E_ARMED]),
        ) for index, row in enumerate(ELEMENTS)])
        self.action = [int(row[E_ACTION]) for row in ELEMENTS]
        self.target = [int(row[E_TARGET]) for row in ELEMENTS]
        self.count = [0] * ROWS    # progress of each delay
        self.beyond = [0] * ROWS   # scans beyond the pickup in this spell, for the record
        self.acting = 0            # bit i = element i acts
        self.hold = 0              # sides that an acting stop or trip holds off
        self.tripped = 0           # sides that a trip struck in this scan
        self.tripper = [0, 0, 0]   # by side: number of the element that struck it last
        self.first = 0             # first-out: number of the first element of this run
        self.first_values = [0] * events.width  # the inputs of its scan, filled in place

    def judge(self, values, mode_bit, state, uptime_ds):
        """Judge one scan: `values` in channel order, `mode_bit` = 1 << mode; allocates nothing."""
        self.tripped = 0
        count = self.count
        for index, place, sign, pickup, reset, delay, armed in self.rows:
            value = values[place]
            if not armed & mode_bit:
                if count[index]:
                    count[index] = DOWN
                    self._ease(index, values, state, uptime_ds)
            elif value * sign > pickup or value == INVALID:
                if self.beyond[index] < MOST_BEYOND:
                    self.beyond[index] += 1
                if count[index] <= delay:
                    count[index] += UP
                    # An element that acts and chatters does not strike again.
                    if count[index] > delay and not self.acting >> index & 1:
                        self._act(index, values, state, uptime_ds)
            elif value * sign <= reset and count[index]:
                self._ease(index, values, state, uptime_ds)
            # between reset and pickup: everything stays as it was
        self.hold = self._held() if self.acting else 0

    def _held(self):
        """Return the sides that acting elements hold off."""
        hold = 0
        for index in range(ROWS):
            if self.acting >> index & 1 and self.action[index] >= STOP:
                hold |= self.target[index]
        return hold

    def _act(self, index, values, state, uptime_ds):
        """The delay has run out: the element acts."""
        self.acting |= 1 << index
        self.events.post(ACTED, index + 1, self.action[index], state, uptime_ds, values)
        if self.action[index] == TRIP:
            target = self.target[index]
            if not self.tripped & target:  # of two in one scan the upper row is named
                self.tripper[target] = index + 1
            self.tripped |= target
        if self.first == 0 and self.action[index] >= STOP:
            self.first = index + 1
            for place in range(len(self.first_values)):
                self.first_values[place] = values[place]

    def _ease(self, index, values, state, uptime_ds):
        """One step back towards rest; at rest the element lets go."""
        self.count[index] -= DOWN
        if self.count[index] <= 0:
            self.count[index] = 0
            if self.acting >> index & 1:
                self.acting &= ~(1 << index)
                self.events.post(LET_GO, index + 1, self.beyond[index], state, uptime_ds, values)
            self.beyond[index] = 0


def _limit(row, place, settings):
    """Return a limit of a row as the loop compares it: from a setting or as written, mirrored."""
    limit = row[place]
    if isinstance(limit, str):
        limit = settings[st.index(limit)]
    return limit if row[E_SENSE] == ">" else -limit
