"""The governor of a valve that nobody reads: by time alone, it learns where each light is held.

What is reckoned of such a valve drifts.  So the effect of a step is taken where the setpoint
is held and not where the valve is believed to be, a band whose steps undo each other widens,
a wheel that begins from rest is waited for, and the table of travels is learned: each first
rest tells how far off it was.  A rig with a position sensor does not load this.
"""

from keeper.operation.governor import BAND_PERMILLE, STEPS, Governor, between
from keeper.operation.positioner import PERMILLE

# A step that the next one undoes is too coarse for its band, or a meter's digit is: it
# widens by the one up to the other, well within the promise.
WIDER_PERMILLE, MOST_WIDE_PERMILLE = 5, 15
# A wheel that begins from rest takes so much longer to follow than one that turns; a guess
# that the twin bears out.  A table that was learned is not moved away from before.
START_SETTLES = 4
# How far the table of travels may be learned away from the rig's figures: in a valve of equal
# percentage, 50 to 1, a flow coefficient that is off by a third to a half; a guess.
MOST_LEARNT_PERMILLE = 100


class LearningGovernor(Governor):
    """One valve without a position, one setpoint."""

    learns = True

    def __init__(self, settings, positioner):
        """Take the settings [list in table order] that concern the light, and the positioner."""
        Governor.__init__(self, settings, positioner)
        self.told = list(self.travels)  # as the rig's figures have them
        self.wide_permille = 0   # beyond the band, where each step was undone by the next
        self.error = 0           # that was answered last [permille]
        self.shift = 0           # of this run's rests against the table, as the head falls
        self.is_started = False  # the wheel began from rest, and was not judged yet
        self.is_fresh = False    # the setpoint is new: its first rest teaches

    def start(self, setpoint_mW):
        """Begin from a shut valve: open to where a full tank would give the setpoint [mW]."""
        self.shift = self.wide_permille = self.error = 0
        self.is_fresh = self.is_started = True
        Governor.start(self, setpoint_mW)

    def change(self, setpoint_mW):
        """Take another setpoint [mW] while there is light."""
        if not self.is_fresh:
            self.shift = self.positioner.goal - self._travel(self.setpoint_mW)
        self.is_fresh = True
        self.wide_permille = self.error = 0
        Governor.change(self, setpoint_mW)

    def least_band(self):
        """Return the narrowest band [permille]."""
        return BAND_PERMILLE + self.wide_permille

    def _judge(self):
        self.is_started = False
        Governor._judge(self)

    def _rest(self):
        Governor._rest(self)
        if self.is_fresh:
            self.is_fresh = False
            self._learn(self.positioner.goal - self.shift)

    def _learn(self, travel):
        """Let the table say that the setpoint is held at a travel [millionths] by a full tank.

        Both points beside it move by what it was off: it lies between them.  Allocates nothing.
        """
        place = min(self.setpoint_mW, self.full_mW) * STEPS
        low = place // self.full_mW
        off = (travel - self._travel(self.setpoint_mW)) // PERMILLE
        self._move(low, off)
        if place > low * self.full_mW:
            self._move(low + 1, off)

    def restore(self, point, travel):
        """Take a point of the table that was learned before [permille]."""
        self._move(point, travel - self.travels[point])

    def _move(self, point, off):
        """Move a point of the table [permille], within its bounds."""
        if point > 0:
            told = self.told[point]
            most = min(PERMILLE, told + MOST_LEARNT_PERMILLE)
            self.travels[point] = min(most, max(1, told - MOST_LEARNT_PERMILLE,
                                                self.travels[point] + off))

    def _correct(self, error):
        if error * self.error < 0 and self.wide_permille < MOST_WIDE_PERMILLE:
            self.wide_permille += WIDER_PERMILLE
        self.error = error
        Governor._correct(self, error)

    def _settle(self):
        Governor._settle(self)
        if self.is_started:
            self.wait_periods *= START_SETTLES

    def _slope(self):
        """Return d ln P / d x [1/100] where the setpoint is held."""
        travel = between(self.told, min(self.setpoint_mW, self.full_mW), self.full_mW)
        return between(self.slopes, travel, PERMILLE)
