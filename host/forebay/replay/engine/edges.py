"""How near what an element judges came to its limit, where the record cannot tell it finer.

A level is read to a millimetre; what compares two of them is known to two.  An element that acts
by less than that may have acted or not.  Runs in the simulation's process, on any Python from
3.9.
"""

from keeper import channels as ch
from keeper.protection import derived as dv

EVERY_SCANS = 10
BELOW, AT_EDGE, BEYOND = range(3)
_LEVEL = ch.CHANNELS[ch.LEVEL_MM]
LEVEL_STEP_MM = _LEVEL[ch.CH_STEP_NUM] // _LEVEL[ch.CH_STEP_DEN]
# Of what is worked out of levels, how many of them: each is off by a step of its reading.
LEVELS = {dv.LEVEL_MEAN: 1, dv.LEVEL_GAP: 2, dv.LEAK_MM: 2}


class Edges:
    """Keeps of each element that judges levels when it was below, at the edge of, or beyond its
    limit.  `found`: by number, [ticks, BELOW, AT_EDGE or BEYOND from then on].
    """

    def __init__(self):
        """Nothing is found yet."""
        self.found = {}

    def look(self, tick, keeper):
        """Take a scan of a keeper, that of a tick of the record."""
        values = keeper.values
        for row in keeper.core.protection.rows:
            index, place, sign, pickup = row[:4]
            if place not in LEVELS or values[place] == ch.INVALID:
                continue
            excess = values[place] * sign - pickup
            doubt = LEVELS[place] * LEVEL_STEP_MM
            now = BELOW if excess < -doubt else BEYOND if excess > doubt else AT_EDGE
            ticks, kinds = self.found.setdefault(index + 1, [[], []])
            if not kinds or kinds[-1] != now:
                ticks.append(tick)
                kinds.append(now)
