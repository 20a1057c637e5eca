"""What a rig with less retains besides: the bounds of its water, the travels that it learned.

A rig that reads its level and its valve does not load this.
"""

import binascii

from keeper.operation.governor import STEPS
from keeper.operation.night import UNKNOWN
from keeper.retained import MARK_MASK, Retained
from keeper.settings import index as at

# The numbers that are added: low and high bound [mL], a mark, the table of travels.
LOW, HIGH, MARK, TRAVELS = range(4)


def travel_mark(settings):
    """Return a mark [-] of the rig that a learned table of travels belongs to."""
    first = at("travel_1_permille")
    own = settings[first:first + STEPS] + [settings[at("rig_id")], settings[at("valve_run_ms")]]
    return binascii.crc32(repr(own).encode()) & MARK_MASK


class RetainedMore(Retained):
    """What `Retained` retains, and the numbers above."""

    def __init__(self, keeper, memory):
        """Bring back what `memory` holds, as `Retained`."""
        self.mark = travel_mark(keeper.settings)
        Retained.__init__(self, keeper, memory)

    def _restore_more(self, more):
        if len(more) < TRAVELS + STEPS:
            return  # of a program or a rig that knows nothing of them
        tank = self.keeper.budget.tank
        if tank and self.is_own_night:
            tank.restore(more[LOW], more[HIGH])
        governor = self.keeper.core.governor
        if governor.learns and more[MARK] == self.mark:
            for point in range(1, STEPS + 1):
                governor.restore(point, more[TRAVELS + point - 1])

    def _more(self):
        """Return the bounds of the water [mL] that hold without power, the mark, the travels."""
        tank = self.keeper.budget.tank
        bounds = list(tank.kept(self.keeper.core.sequence)) if tank else [UNKNOWN, UNKNOWN]
        return bounds + [self.mark] + self.keeper.core.governor.travels[1:]

    def _urgent(self):
        tank = self.keeper.budget.tank
        moves = tank is not None and tank.moves(self.keeper.core.sequence)
        return Retained._urgent(self) + [moves]

    def _slow(self):
        return Retained._slow(self) + self.keeper.core.governor.travels
