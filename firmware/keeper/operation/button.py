"""The push button: a short press, a long one, and what counts as none.

Pressed at the start, or held too long, it is not heard until it lets go.
"""

from keeper.clock import PERIODS_PER_S

LONGEST_PERIODS = 1 << 28
NONE, SHORT, LONG = 0, 1, 2
OPEN_SCANS = 20          # more than the most scans that a contact is debounced for
LATE_MOST_PERIODS = 2    # periods that one scan may count for
# A press that may reset a lockout: long enough to be meant, short enough not
# to be a jammed button; measured between two releases.
LONG_LEAST_PERIODS, LONG_MOST_PERIODS = 1 * PERIODS_PER_S, 10 * PERIODS_PER_S


class Button:
    """Tells presses once they are over."""

    def __init__(self):
        self.released = False    # the button has been seen open since the start
        self.open_scans = 0      # scans in a row that it is open, until it counts as released
        self.held_periods = 0    # periods that it is pressed

    def follow(self, closed, periods):
        """Take one scan [contact: 1 = pressed]; return NONE, SHORT or LONG at its release."""
        if closed:
            # A scan after a stall shows one moment, not all the time before it.
            held_periods = self.held_periods + min(periods, LATE_MOST_PERIODS)
            self.held_periods = min(LONGEST_PERIODS, held_periods)
            self.open_scans = 0
            return NONE
        held_periods, self.held_periods = self.held_periods, 0
        if not self.released:
            # A contact reads open until it has been looked at a few times.
            self.open_scans += 1
            self.released = self.open_scans >= OPEN_SCANS
            return NONE
        if not held_periods or held_periods > LONG_MOST_PERIODS:
            return NONE
        return LONG if held_periods >= LONG_LEAST_PERIODS else SHORT
