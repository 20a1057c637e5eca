"""The board's own light: how the program is doing, for whoever looks into the box.

On without a break while a start is under way; then short blinks, one group
every CYCLE_PERIODS periods: one blink, all is well; two, the rig runs but no journal is
kept; three, the keeper stands in its safe mode.  Dark: no program runs.  Long blinks without
a break: whoever proves the rig is told that a step is accepted.
"""

WELL, NO_JOURNAL, STANDS_SAFE = 1, 2, 3
CYCLE_PERIODS = 20      # periods of a scan: two seconds
EVERY_PERIODS = 3       # periods from one blink of a group to the next, on in the first
HALF_PERIODS = 2        # of a long blink, on and off


class Lamp:
    """One light that blinks."""

    def __init__(self, pin):
        """Take the output that it hangs on, and light it: the start begins."""
        self.pin = pin
        pin.value(1)
        self.end_period = 0      # period of the cycle at which the group is over
        self.at_period = 0       # period of the cycle
        self.left_periods = 0    # of long blinks

    def show(self, blinks):
        """Blink in groups of `blinks` from now on."""
        self.end_period = EVERY_PERIODS * blinks

    def say(self, blinks):
        """Blink so many times long, without a break, then in groups as before."""
        self.left_periods = 2 * HALF_PERIODS * blinks

    def step(self):
        """Take one period; allocates nothing."""
        if self.left_periods:
            self.left_periods -= 1
            self.pin.value(self.left_periods // HALF_PERIODS & 1)
            return
        at = self.at_period
        self.pin.value(1 if at < self.end_period and at % EVERY_PERIODS == 0 else 0)
        self.at_period = (at + 1) % CYCLE_PERIODS

    def off(self):
        """Go dark."""
        self.pin.value(0)
