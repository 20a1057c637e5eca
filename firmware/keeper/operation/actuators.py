"""Minimum run and rest times, as a wrapper round one switch; rests that grow."""

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


class GrowingRest:
    """A rest after each stop, twice as long as the one before, till a run was long and steady."""

    # Doublings up to the longest: six starts at most in the first hour, if that is half an hour.
    DOUBLINGS = 5

    def __init__(self, least_s, longest_s):
        """Take the first rest, if it is not too short, and the longest [s]."""
        self.longest_periods = longest_s * 1000 // PERIOD_MS
        self.first_periods = max(least_s * 1000 // PERIOD_MS,
                                 self.longest_periods >> self.DOUBLINGS)
        self.next_periods = self.first_periods
        self.left_periods = 0    # periods until the rest is over
        self.is_longest = False  # the next one is, whatever ran

    def tick(self, periods):
        """Let time pass [periods of 0.1 s]."""
        self.left_periods = max(0, self.left_periods - periods)

    def lengthen(self):
        """Another start is of no use for long: the next rest is the longest, whatever ran."""
        self.next_periods = max(self.longest_periods, self.first_periods)
        self.is_longest = True

    def begin(self, ran_periods):
        """Rest after a run of so long [periods] that was stopped; return how long [periods].

        A run as long as the longest rest was steady: the rests begin anew.
        """
        if ran_periods >= self.longest_periods and not self.is_longest:
            self.next_periods = self.first_periods
        self.is_longest = False
        self.left_periods = self.next_periods
        self.next_periods = min(2 * self.next_periods, max(self.longest_periods,
                                                           self.first_periods))
        return self.left_periods

    def end(self):
        """A person wants a start: this rest is over, the next will be no shorter."""
        self.left_periods = 0
