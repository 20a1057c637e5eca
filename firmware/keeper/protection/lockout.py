"""Lockout (86): trips counted by element, and what ends a lockout.

An element that trips too often within its window, or that locks at once,
turns both modes off until a person resets.  Nothing resets while an element
that trips still acts; some lockouts are reset only at the rig.
"""

from keeper.settings import index as at
from keeper.clock import PERIODS_PER_S
from keeper.protection.elements import (
    AT_RIG, BOTH, J_RETRIES, J_WHERE, LOCK, NO_ELEMENT, ROWS, column, limit_of)
from keeper.events import LOCKOUT, LOCKOUT_RESET

LOOK_PERIODS = 10 * PERIODS_PER_S  # how often the windows are looked at
MOST_TRIPS = 250  # a count stops here: the journal keeps it in a byte


class Lockout:
    """Counts of trips, and the lockout.  `sides` is what may not start: none or both."""

    def __init__(self, settings, events):
        """Take settings [list in table order]; post to `events`."""
        self.events = events
        self.window_periods = settings[at("trip_window_s")] * PERIODS_PER_S
        self.retries = [limit_of(number, settings) for number in column(J_RETRIES)]
        self.where = bytes(column(J_WHERE))  # each is reset
        self.trips = [0] * ROWS    # trips of each element within its window
        self.since_periods = [0] * ROWS  # periods since the last of them
        self.counted = 0           # elements with trips
        self.waited_periods = 0            # periods that `since_periods` does not know yet
        self.sides = 0             # 0 = free, BOTH = locked out
        self.element = NO_ELEMENT  # that locked out; none while locked = memory unreadable

    def pass_time(self, periods):
        """Let `periods` [0.1 s] pass; a window without a trip clears the count."""
        self.waited_periods += periods
        if self.waited_periods < LOOK_PERIODS:
            return
        periods, self.waited_periods = self.waited_periods, 0
        for index in range(ROWS):
            if self.trips[index]:
                self.since_periods[index] += periods
                if self.since_periods[index] >= self.window_periods:
                    self.trips[index] = 0
                    self.counted -= 1

    def count(self, protection):
        """Take the elements that tripped in this scan; allocates nothing."""
        for index in range(ROWS):
            if protection.struck[index]:
                self.strike(index, protection.action[index])

    def strike(self, index, action):
        """Count a trip of an element by its place, with its action; allocates nothing."""
        if not self.trips[index]:
            self.counted += 1
        self.trips[index] = min(MOST_TRIPS, self.trips[index] + 1)
        self.since_periods[index] = 0
        if action == LOCK or self.trips[index] > self.retries[index]:
            self._lock(index)

    def _lock(self, index):
        # One that chatters on while it locks out is no news.
        if not self.sides or self.trips[index] == self.retries[index] + 1:
            self.events.post(LOCKOUT, index + 1, self.trips[index])
        # A cause that only the rig can reset is never covered by another one.
        if not self.sides or self.where[index] == AT_RIG:
            self.element = index + 1
        self.sides = BOTH

    def only_at_rig(self):
        """Return whether this lockout may be reset only at the rig [bool]."""
        if self.element == NO_ELEMENT:
            return True  # what was before the restart is not known
        return self.where[self.element - 1] == AT_RIG

    def reset(self):
        """End the lockout and count trips anew; the caller has asked `cause_present`."""
        for index in range(ROWS):
            self.trips[index] = 0
        self.counted = 0
        if self.sides:
            self.sides = 0
            self.events.post(LOCKOUT_RESET, self.element, 0)
            self.element = NO_ELEMENT
