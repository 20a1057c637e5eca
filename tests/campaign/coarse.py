"""A twin whose keeper scans once a second: for many days, at the price of fineness.

The firmware counts delays, the valve's rate and the light's settling in scans, so each
of these is set to the same time in seconds, whole seconds at least; the flow's window knows
by itself for how many periods a late scan stands.
What lasts less than a second cannot be seen here: times to act are judged at
10 Hz only.  The plant moves in steps of 1 s while the turbine rests, of 0.5 s
while it turns.  At standstill, with nothing disturbed and no delay running,
scan and plant step go on once in 10 s.
"""

from contextlib import contextmanager

from keeper import modes
from keeper.protection import derived
from keeper.protection.judging import R_DELAY_STEPS, UP
from tests.campaign.scene import Watched, change_rows

SLOWER = 10                # periods of 0.1 s in a scan
QUIET = 100                # the same while nothing at all goes on
TURNING_STEPS = 2
COARSE_MEAN_SHIFT = 4      # 16 scans of 1 s, against 128 of 0.1 s


def at_once(totals):
    """Lets totals take many periods at once: integers are unbounded here."""
    add = totals._add
    totals._add = lambda total, rest, more, periods: add(
        total, rest + more * (periods - 1), 0, 1)


class CoarseTwin(Watched):
    """A watched twin at 1 Hz."""

    scan_periods = SLOWER

    def _boot(self):
        keeper = super()._boot()
        core = keeper.core
        at_once(core.totals)
        # Its valve goes where it is told: pulses of a motor are finer than a scan.
        self.plant.goes_itself = True
        core.positioner.is_driven = False
        core.positioner.rate *= SLOWER
        core.governor.settle_periods = max(1, core.governor.settle_periods // SLOWER)
        change_rows(core.protection, lambda row: (
            row[:R_DELAY_STEPS] + (row[R_DELAY_STEPS] // SLOWER // UP * UP,)
            + row[R_DELAY_STEPS + 1:]))
        return keeper

    def step(self):
        """One scan of 1 s, or of 10 s where nothing goes on."""
        self.scan_periods = QUIET if self._is_quiet() else SLOWER
        self.watch.step_s = self.scan_periods / 10
        super().step()

    def _is_quiet(self):
        plant = self.plant
        if (not self.powered or self.keeper.state != modes.STANDSTILL or self.missed
                or self.leads.odd or self.board.button or plant.welded
                or not plant.down.idle()):
            return False
        protection = self.keeper.core.protection
        acting = protection.acting
        return not any(count and not acting[index] for index, count in enumerate(protection.count))

    def _move(self):
        plant = self.plant
        if plant.down.idle():
            plant.step(0.1 * self.scan_periods)
            return
        for _ in range(TURNING_STEPS):
            plant.step(1.0 / TURNING_STEPS)


@contextmanager
def coarse_means():
    """Lets the mean of the level forget in the same seconds at 1 Hz."""
    fine = derived.MEAN_SHIFT
    derived.MEAN_SHIFT = COARSE_MEAN_SHIFT
    try:
        yield
    finally:
        derived.MEAN_SHIFT = fine
