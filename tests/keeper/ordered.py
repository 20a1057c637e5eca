"""A bench that takes orders and plans its nights: a keeper without journal and memory."""

from keeper import modes as mo
from keeper.keeper import budget_of
from keeper.operation import orders as od
from keeper.operation.night import Night
from keeper.operation.proving import Proving
from tests.keeper.ways import bench_in


class Ordered:
    """What orders and the night's plan reach of a keeper, round the scan of a bench."""

    def __init__(self, bench):
        self.bench = bench
        self.core = bench.scan
        self.values = bench.scan.values
        self.events = bench.scan.events
        self.totals = bench.scan.totals
        self.night = Night(bench.settings, bench.scan.derived.volumes)
        self.budget = budget_of(self, bench.settings)
        self.proving = Proving(bench.scan, None)
        self.leaving = False
        self.clock_days = self.clock_set_ds = 0

    @property
    def state(self):
        """Number of the state of operation."""
        return self.core.sequence.state

    @property
    def uptime_ds(self):
        """Time since the start [0.1 s]."""
        return self.core.uptime_ds

    @property
    def light(self):
        """The wishes for light."""
        return self.core.sequence.light

    def order(self, code, a=0, b=0):
        """Orders; returns the answer."""
        return od.carry_out(self, code, a, b)

    def run(self, scans=1, changes=()):
        """Scans, with some inputs changed before; the plan is made in between."""
        self.bench.set(changes)
        for _ in range(scans):
            self.bench.run()
            assert self.bench.unsafe() is None
            if self.uptime_ds >= self.budget.next_ds:
                self.totals.settle()  # as the journal does for its rows
                self.budget.work()
        self.bench.drain()

    def until(self, state, changes=(), most=3000):
        """Scans until a state is reached; returns the scans [-] that it took."""
        self.bench.set(changes)
        for scan in range(most):
            self.run()
            if self.state == state:
                return scan + 1
        raise AssertionError(f"state {state} not reached, in {self.state}")


def ordered_in(state, **changes):
    """A bench that has come to a state and takes orders; changes: settings by name."""
    return Ordered(bench_in(state, **changes))


def lit(keeper):
    """Returns whether the rig gives light."""
    return keeper.state == mo.RUNNING


def rested(state=mo.STANDSTILL, **changes):
    """A bench that takes orders and has been in its state for some time."""
    keeper = ordered_in(state, **changes)
    keeper.run(200)
    return keeper
