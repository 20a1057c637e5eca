"""When a start that lacks something ends by itself, so that the next may do better.

A safe mode that nobody has to end waits FIRST_DS, doubled for each further
round of quick restarts; a rig that runs without a journal waits LACKING_DS, and
for a day at rest in which nobody wants anything that a restart would forget.
"""

from keeper.health import NO_BOARD, NO_FILES, RESTARTING
from keeper.modes import STANDSTILL

FIRST_DS = 6000         # ten minutes
MOST_DS = 432000        # twelve hours
LACKING_DS = 36000      # an hour
QUICK_RESTARTS = 3      # in a row make a round: its last start is a safe one
NEVER_DS = 0
# Safe modes that nobody has to end: another start may do better.
ENDING = (RESTARTING, NO_FILES, NO_BOARD)


def is_safe_start(restarts):
    """Return whether a start after so many quick restarts in a row is a safe one [bool]."""
    return restarts > 0 and restarts % QUICK_RESTARTS == 0


def safe_wait_ds(restarts):
    """Return how long a safe mode after so many quick restarts lasts [0.1 s]."""
    wait_ds = FIRST_DS
    for _ in range(restarts // QUICK_RESTARTS - 1):
        wait_ds = min(MOST_DS, 2 * wait_ds)
    return wait_ds


class Retry:
    """Attribute: restarts, the quick restarts that the next start is to count on from [-]."""

    def __init__(self, keeper, wait_ds=NEVER_DS, restarts=0):
        """Take the keeper, and after what uptime [0.1 s] to try again; NEVER_DS: not at all."""
        self.keeper = keeper
        self.wait_ds = wait_ds
        self.restarts = restarts

    def is_due(self):
        """Return whether now is the time to start anew [bool]."""
        keeper = self.keeper
        if self.wait_ds == NEVER_DS or keeper.uptime_ds < self.wait_ds:
            return False
        return keeper.safe_reason != 0 or self._rests()

    def _rests(self):
        """Return whether a restart would neither stop nor forget anything [bool]."""
        sequence = self.keeper.core.sequence
        light = sequence.light
        if sequence.state != STANDSTILL or sequence.drain_periods or light.dark or light.due():
            return False
        # Of these wishes nothing is retained over a restart.
        held = light.ordered_periods or light.ends_periods or light.off_periods
        return not held and not (light.clock_known and light.clock_on_min >= 0)
