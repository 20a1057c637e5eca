"""Minimum run and rest times, as a wrapper round one switch."""

from keeper.clock import PERIOD_MS


class MinimumTimes:
    """A switch that an ordinary wish moves only after its least times; protection at once."""

    def __init__(self, least_on_s, least_off_s):
        """Take the shortest run and the shortest rest [s]; begins off, rested."""
        self.least_on_periods = least_on_s * 1000 // PERIOD_MS
        self.least_off_periods = least_off_s * 1000 // PERIOD_MS
        self.is_on = 0
        self.left_periods = 0    # periods until the least time in the present position is over

    def tick(self, periods):
        """Let time pass [periods of 0.1 s]."""
        self.left_periods = max(0, self.left_periods - periods)

    def may_start(self):
        """Return whether a start is allowed now [bool]."""
        return not self.is_on and not self.left_periods

    def may_stop(self):
        """Return whether an ordinary stop is allowed now [bool]."""
        return self.is_on and not self.left_periods

    def switch(self, on):
        """Move the switch [0 or 1]; the caller has asked, or a protection commands."""
        if on != self.is_on:
            self.is_on = on
            self.left_periods = self.least_on_periods if on else self.least_off_periods
