"""The push button: a short press, a long one, and what counts as none.

Pressed at the start, or held too long, it is not heard until it lets go.
"""

from keeper.clock import PERIODS_PER_S

LONGEST = 1 << 28
NONE, SHORT, LONG = 0, 1, 2
# A press that may reset a lockout: long enough to be meant, short enough not
# to be a jammed button; measured between two releases.
LONG_LEAST, LONG_MOST = 1 * PERIODS_PER_S, 10 * PERIODS_PER_S


class Button:
    """Tells presses once they are over."""

    def __init__(self):
        self.released = False    # the button has been seen open since the start
        self.held = 0            # periods that it is pressed

    def follow(self, closed, periods):
        """Take one scan [contact: 1 = pressed]; return NONE, SHORT or LONG at its release."""
        if closed:
            self.held = min(LONGEST, self.held + periods)
            return NONE
        held, self.held = self.held, 0
        if not self.released:
            self.released = True
            return NONE
        if not held or held > LONG_MOST:
            return NONE
        return LONG if held >= LONG_LEAST else SHORT
