"""How near what an element judges came to its limit, where the record cannot tell it finer.

A level is read to a millimetre; what compares two of them is known to two.  Starts of the pump
run out with time, of which the keeper passes more or less than the record where either stands.
An element that acts by less than that may have acted or not.  Runs in the simulation's process,
on any Python from 3.9.
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
    """Keeps when what an element judges was below, at the edge of, or beyond its limit.

    Of those that judge levels or starts.  `found`: by number, [ticks, BELOW, AT_EDGE or BEYOND
    from then on].
    """

    def __init__(self, starts_per_hour):
        """Take the pump's starts that an hour allows [-]; nothing is found yet."""
        self.found = {}
        self.per_hour = starts_per_hour
        self.doubts = {place: count * LEVEL_STEP_MM for place, count in LEVELS.items()}
        self.keeper = None
        self.ahead = 0            # ticks by which the record was when no start counted

    def look(self, tick, keeper):
        """Take a scan of a keeper, that of a tick of the record."""
        values = keeper.values
        self._look_at_starts(tick - keeper.uptime_ds, keeper)
        for row in keeper.core.protection.rows:
            index, place, sign, pickup = row[:4]
            doubt = self.doubts.get(place)
            if doubt is None or values[place] == ch.INVALID:
                continue
            excess = values[place] * sign - pickup
            now = BELOW if excess < -doubt else BEYOND if excess > doubt else AT_EDGE
            ticks, kinds = self.found.setdefault(index + 1, [[], []])
            if not kinds or kinds[-1] != now:
                ticks.append(tick)
                kinds.append(now)

    def _look_at_starts(self, ahead, keeper):
        """Doubt of the starts that count what runs out in the time that was leapt or stood."""
        if keeper is not self.keeper or not keeper.values[dv.STARTS_MILLI]:
            self.keeper, self.ahead = keeper, ahead
        self.doubts[dv.STARTS_MILLI] = (
            abs(ahead - self.ahead) * self.per_hour // dv.Starts.PERIODS_PER_MILLI_HOUR)
