"""A long story for the scan, told alike on the board's interpreter and here.

It leads through all states and trips, with untrusted readings and the largest
legal values in between. Chance comes from a small generator of its own, so
that both interpreters see the same. `SOURCE` is plain text for both.
"""

import pathlib

_SCRIPTED = pathlib.Path(__file__).resolve().parent.parent / "keeper" / "scripted.py"

_STORY = '''
from keeper.channels import CH_HIGH, CH_LOW, CHANNELS, COLUMNS, INVALID

QUICK = (
    ("start_wait_s", 1), ("trial_s", 2), ("holdoff_s", 1), ("holdoff_longest_s", 4),
    ("pump_least_on_s", 3), ("pump_least_off_s", 1), ("light_least_off_s", 1), ("dark_s", 2),
    ("trip_wait_s", 10), ("trip_window_s", 120), ("motor_delay_ms", 500),
)
SCANS_OF_BLOCK = 20
SUN = HEALTHY + ((PANEL_MV, 30000), (PANEL_MA, 3000), (PUMP_MA, 600))
WATER = SUN + ((PULSES_UP, 7),)
NIGHT = HEALTHY + ((PANEL_MV, 0),)
LIGHT = NIGHT + ((GENERATOR_MV, 11000), (GENERATOR_MA, 60), (LAMP_MA, 52), (PULSES_DOWN, 9))
LARGEST = tuple([(i, CHANNELS[i][CH_HIGH]) for i in range(COLUMNS)]) + (
    (PULSES_UP, 0x3FFFFFFF), (PULSES_DOWN, 536))
SMALLEST = tuple([(i, CHANNELS[i][CH_LOW]) for i in range(COLUMNS)]) + (
    (PULSES_UP, -1), (PULSES_DOWN, INVALID))
UNKNOWN = tuple([(i, INVALID) for i in range(COLUMNS + 5)])

# Each act: blocks of inputs, in order.
ACTS = (
    (HEALTHY,) * 3,
    (SUN,) * 10,
    (SUN, SUN, WATER, WATER, WATER, WATER, SUN, SUN, SUN, SUN),
    (SUN, WATER, WATER, WATER, ((MOTOR_MDEGC, 125000),), ((MOTOR_MDEGC, 50000),), HEALTHY),
    (SUN, WATER, WATER, ((C_71H_UP, 0),), ((C_71H_UP, 0),), HEALTHY),
    (SUN, WATER, WATER, ((C_71HH_UP, 0),), HEALTHY, HEALTHY),
    (SUN, WATER, WATER, ((C_71L_LO, 0),), HEALTHY),
    (SUN, WATER) * 6 + (LARGEST, WATER),
    (SUN, SUN, ((C_71H_UP, 0),), SUN, SUN, ((C_71HH_UP, 0),)),
    (NIGHT,) * 4 + (LIGHT,) * 8,
    (NIGHT,) * 6 + (LIGHT, ((GENERATOR_MV, 40000), (LAMP_MA, 0)), NIGHT, NIGHT, NIGHT),
    (NIGHT,) * 6 + (LIGHT, ((C_71L_UP, 0),), ((C_71L_UP, 0),), NIGHT, NIGHT),
    (NIGHT,) * 6 + (LIGHT, LARGEST, NIGHT, SMALLEST, NIGHT, UNKNOWN),
    (HEALTHY, HEALTHY, ((BUTTON, 1),), HEALTHY),
    (UNKNOWN, HEALTHY, LARGEST, SMALLEST),
    (HEALTHY,) * 15,
)


class Story:
    """Leads one bench through acts that chance picks, block by block."""

    def __init__(self, lock, unlock, allocated, board=None):
        self.bench = Bench(QUICK, board)
        self.bench.now_ms = (1 << 30) - 3000000  # the ticks wrap on the way
        self.bench.scan.totals.restore([999999000] * 10, [0] * 10)
        self.lock = lock
        self.unlock = unlock
        self.allocated = allocated  # bytes in use now
        self.grown = 0              # bytes that scans have allocated
        self.seed = 1
        self.act = ACTS[0]
        self.block = 0
        self.unsafe = None
        self.seen = [0] * 5         # scans in each state

    def chance(self, most):
        """A number from 0 to most - 1."""
        self.seed = (self.seed * 75 + 74) % 65537
        return self.seed % most

    def next_block(self):
        """Sets the inputs of the next block; returns the time of its first scan [ms]."""
        if self.block == len(self.act):
            self.act = ACTS[self.chance(len(ACTS))]
            self.block = 0
        bench = self.bench
        bench.set(self.act[self.block])
        self.block += 1
        if self.chance(6) == 0:
            place = self.chance(COLUMNS)
            bench.set(((place, (INVALID, CHANNELS[place][CH_HIGH], CHANNELS[place][CH_LOW],
                                CHANNELS[place][CH_HIGH] + 1)[self.chance(4)]),))
        bench.board.valve_follows = self.chance(8) != 0
        return (100, 100, 1340, 60)[self.chance(4)]

    def tell(self, blocks):
        """Runs some blocks of scans, each under the lock."""
        for _ in range(blocks):
            first_ms = self.next_block()
            self.lock()
            try:
                self.scan_block(first_ms)
            finally:
                self.unlock()
            self.bench.drain()

    def scan_block(self, first_ms):
        """The part that must allocate nothing."""
        bench = self.bench
        before = self.allocated()
        bench.step(first_ms)
        for _ in range(SCANS_OF_BLOCK - 1):
            bench.step(100)
            self.seen[bench.state] += 1
            if self.unsafe is None:
                self.unsafe = bench.unsafe()
        self.grown += self.allocated() - before

    def result(self):
        """What both interpreters must agree on."""
        scan = self.bench.scan
        scan.totals.settle()
        return {
            "events": self.bench.events, "values": scan.values, "outputs": scan.outputs,
            "low": scan.totals.low, "high": scan.totals.high, "scans": scan.scans,
            "uptime_ds": scan.uptime_ds, "seen": self.seen, "unsafe": self.unsafe,
            "lost": scan.events.lost, "grown": self.grown,
        }
'''

SOURCE = _SCRIPTED.read_text(encoding="utf-8") + _STORY
