"""The governor (65/90): holds the lamps' power at the setpoint through the valve, and rests.

It judges the mean power of three seconds, once the wheel has settled, and moves the
valve only when that lies outside its band: each move costs energy and wears the gear.
How far a step of the valve changes the light depends on where it stands; a short
table says it, d ln P / d x by travel.  A setpoint that changes moves the valve at
once by what another table says, the travel for a power under a full tank.

Integers: errors in permille of the power, positions in millionths of the travel.
"""

from keeper.settings import index as at
from keeper.channels import INVALID
from keeper.clock import PERIOD_MS, PERIODS_PER_S
from keeper.operation.positioner import MILLIONTHS, PERMILLE

STEPS = 8                # of travel and of power in the tables
LOOK_PERIODS = PERIODS_PER_S      # a large error is answered after one of these ...
LOOKS = 3                         # ... a small one after so many
LARGE_PERMILLE = 150
# The promise is 5 % of ten-second means; half of it lets the valve rest; a guess that
# the random nights bear out.
BAND_PERMILLE = 25
# The least step of the valve cannot do better than half its effect.  More, so that noise
# and the meter's last digit do not call the next: with six tenths up to nine moves an
# hour, with seven two, at 0.3 to 0.45 W of the demo's rig.
BAND_TENTHS = 7
MOST_ERROR_PERMILLE = 500  # a larger error is answered in several moves: the tables are rough
MOST_MOVE = 80 * PERMILLE  # likewise
PER_CENTI = 100000       # millionths of travel a permille of power, by a slope in hundredths


class Governor:
    """One valve, one setpoint."""

    learns = False  # its table of travels

    def __init__(self, settings, positioner):
        """Take the settings [list in table order] that concern the light, and the positioner."""
        self.positioner = positioner
        first = at("slope_0_centi")
        self.slopes = settings[first:first + STEPS + 1]
        first = at("travel_1_permille")
        self.travels = [0] + settings[first:first + STEPS]
        self.full_mW = settings[at("night_full_mW")]
        self.settle_periods = settings[at("settle_ms")] // PERIOD_MS
        self.setpoint_mW = 0
        self.wait_periods = 0    # until the wheel has settled
        self.sum_mW = 0          # of the powers since
        self.count = 0           # of them

    def start(self, setpoint_mW):
        """Begin from a shut valve: open to where a full tank would give the setpoint [mW]."""
        self.setpoint_mW = setpoint_mW
        self.positioner.go(self._travel(setpoint_mW))
        self._settle()

    def hold(self, power_mW, setpoint_mW):
        """Pass one period: take the lamps' power [mW], INVALID if unknown, and the setpoint [mW].

        Allocates nothing.
        """
        if setpoint_mW != self.setpoint_mW:
            self.change(setpoint_mW)
            return
        positioner = self.positioner
        if positioner.aim != positioner.goal or not positioner.idle_periods:
            self._settle()
        elif self.wait_periods > 0:
            self.wait_periods -= 1
        elif power_mW != INVALID:
            self.sum_mW += power_mW
            self.count += 1
            if self.count % LOOK_PERIODS == 0:
                self._judge()

    def change(self, setpoint_mW):
        """Take another setpoint [mW] while there is light."""
        change = self._travel(setpoint_mW) - self._travel(self.setpoint_mW)
        self.setpoint_mW = setpoint_mW
        self.positioner.go(self.positioner.goal + change)
        self._settle()

    def least_band(self):
        """Return the narrowest band [permille]."""
        return BAND_PERMILLE

    def band_permille(self):
        """Return how far the power may stray before the valve moves [permille of it]."""
        # By tenths: least step of the valve, times its effect.
        effect = BAND_TENTHS * self.positioner.least // 10 * self._slope() // PER_CENTI
        return max(self.least_band(), effect)

    def _judge(self):
        error = self._error(self.sum_mW // self.count)
        wide = max(self.band_permille(), LARGE_PERMILLE)
        if error > wide or error < -wide:
            self._correct(error)
        elif self.count >= LOOKS * LOOK_PERIODS:
            band = self.band_permille()
            if error > band or error < -band:
                self._correct(error)
            else:
                self._rest()

    def _rest(self):
        """The light is as it should be."""
        self.sum_mW = self.count = 0

    def _error(self, power_mW):
        """Return by how much the power is too small [permille of the mean of both]."""
        middle = max(1, (self.setpoint_mW + power_mW) // 2)
        return (self.setpoint_mW - power_mW) * PERMILLE // middle

    def _correct(self, error):
        error = max(-MOST_ERROR_PERMILLE, min(MOST_ERROR_PERMILLE, error))
        change = error * PER_CENTI // self._slope()
        least = self.positioner.least
        if -least < change < least:
            change = least if error > 0 else -least
        self.positioner.step_by(max(-MOST_MOVE, min(MOST_MOVE, change)))
        self._settle()

    def _settle(self):
        self.wait_periods = self.settle_periods
        self.sum_mW = self.count = 0

    def _slope(self):
        """Return d ln P / d x [1/100] where the valve stands."""
        return between(self.slopes, self.positioner.goal, MILLIONTHS)

    def _travel(self, power_mW):
        """Return the travel for a power [mW] under a full tank [millionths]."""
        return between(self.travels, min(power_mW, self.full_mW), self.full_mW) * PERMILLE


def between(points, place, full):
    """Return the value on straight lines through STEPS + 1 points at a place of 0 to `full`."""
    step = min(STEPS - 1, place * STEPS // full)
    low = points[step]
    # Permille of the step: at most 10**6 * 10**3, within 31 bits.
    along = (place * STEPS - step * full) * PERMILLE // full
    return low + (points[step + 1] - low) * along // PERMILLE
