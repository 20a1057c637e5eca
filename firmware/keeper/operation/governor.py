"""The governor (65/90): holds the lamps' power at the setpoint through the valve.

A PI controller acts on u, the wanted share of full jet power; a short table
turns u into a valve position, so that the loop sees a nearly straight valve.
The command never moves faster than the penstock's surge allows.

Integers: u is kept in units of 10 micro-permille (full = 10**8); the error is
bounded so that no product leaves 2**29.
"""

from keeper.settings import index as at
from keeper.clock import PERIOD_MS, PERIODS_PER_S

FULL_U = 100000000
U_PER_PERMILLE = 100000
CURVE_STEPS = 8
# Inside this share of the setpoint the valve rests: it saves the gear.
REST_DIVISOR = 100


class Governor:
    """One valve, one setpoint.  `position` [permille] is what is commanded."""

    def __init__(self, settings):
        """Take the settings [list in table order] that concern the valve."""
        self.gain = settings[at("governor_gain_upermille_mW")] // 10
        self.reset_periods = settings[at("governor_reset_ms")] // PERIOD_MS
        self.rate = settings[at("valve_rate_permille_s")] // PERIODS_PER_S
        self.curve = [settings[at("valve_first_permille")]]
        first = at("curve_1_permille")
        self.curve += settings[first:first + CURVE_STEPS - 1]
        self.curve.append(1000)
        self.error_limit = (1 << 28) // self.gain
        self.integral = 0
        self.position = 0

    def start(self):
        """Begin from a shut valve."""
        self.integral = 0

    def follow(self, position_permille):
        """Take over a valve that stands at a position [permille], for example after a boot."""
        self.position = min(1000, max(0, position_permille))

    def hold(self, power_mW, setpoint_mW):
        """Move one period towards the setpoint; return the position [permille].

        power_mW is the measured lamp power [mW], setpoint_mW the wanted one.
        Allocates nothing.
        """
        error = setpoint_mW - power_mW
        if -setpoint_mW < error * REST_DIVISOR < setpoint_mW:
            return self.position
        limit = self.error_limit
        if error > limit:
            error = limit
        elif error < -limit:
            error = -limit
        part = error * self.gain
        integral = self.integral + part // self.reset_periods
        share = integral + part
        # Anti-windup: the integral stands still while the output is at its end.
        if share > FULL_U:
            share = FULL_U
        elif share < 0:
            share = 0
        else:
            self.integral = integral
        return self._move(self._valve(share))

    def open(self):
        """Move one period towards fully open at the safe rate; return the position [permille]."""
        return self._move(1000)

    def shut(self):
        """Move one period towards shut at the fastest safe rate; return it [permille]."""
        return self._move(0)

    def _valve(self, share):
        """Return the valve position [permille] for a share of full jet power [10 upermille]."""
        permille = share // U_PER_PERMILLE
        step = permille * CURVE_STEPS // 1000
        if step >= CURVE_STEPS:
            return self.curve[CURVE_STEPS]
        low = self.curve[step]
        return low + (self.curve[step + 1] - low) * (permille * CURVE_STEPS - step * 1000) // 1000

    def _move(self, wanted):
        """Let the position follow `wanted` [permille], one period at the safe rate."""
        if wanted > self.position + self.rate:
            self.position += self.rate
        elif wanted < self.position - self.rate:
            self.position -= self.rate
        else:
            self.position = wanted
        return self.position
