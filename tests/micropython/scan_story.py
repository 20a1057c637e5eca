"""A long story for the scan, told alike on the board's interpreter and here.

It leads through all states and trips, with untrusted readings and the largest
legal values in between. All acts come in any order, calmly as they are
written, then all again with what chance adds, and so on. Chance comes from a
small generator of its own, so that both interpreters see the same. `SOURCE` is
plain text for both.
"""

import pathlib

_SCRIPTED = pathlib.Path(__file__).resolve().parent.parent / "keeper" / "scripted.py"

_STORY = '''
from keeper.channels import ALL_FITTED, CH_HIGH, CH_LOW, CHANNELS, COLUMNS, CONTACTS, INVALID
from keeper.modes import STATES

QUICK = (
    ("flow_sure_mW", 30000), ("thermal_base_mA", 900),
    ("thermal_tau_s", 60), ("starts_per_hour", 10), ("starts_most_milli", 9500),
    ("starts_again_milli", 9000), ("valve_sure_permille", 700), ("wheel_turns_permille", 700),
    ("volume_gap_mm", 20),
    ("leak_mm", 20), ("valve_travel_ms", 1500), ("trip_retries", 6), ("dry_delay_ms", 1500),
    ("setpoint_mW", 1000), ("clock_on_min", 100), ("clock_off_min", 200),
    ("start_wait_s", 1), ("trial_s", 7), ("holdoff_s", 1), ("holdoff_longest_s", 4),
    ("pump_least_on_s", 3), ("pump_least_off_s", 1), ("light_least_off_s", 1), ("dark_s", 2),
    ("light_rest_longest_s", 2),
    ("trip_wait_s", 10), ("trip_window_s", 120), ("motor_delay_ms", 500),
    ("useful_sure_mW", 15000), ("motor_rise_mdegC", 2000),
)
SCANS_OF_BLOCK = 20
SUN = HEALTHY + ((PANEL_MV, 30000), (PANEL_MA, 3000))
WATER = SUN + ((PULSES_UP, 7),)
NIGHT = HEALTHY + ((PANEL_MV, 0),)
LIGHT = NIGHT + ((GENERATOR_MV, 11000), (GENERATOR_MA, 60), (LAMP_MA, 52), (PULSES_DOWN, 9))
LARGEST = tuple([(i, CHANNELS[i][CH_HIGH]) for i in range(COLUMNS)]) + (
    (PULSES_UP, 0x3FFFFFFF), (PULSES_DOWN, 536))
SMALLEST = tuple([(i, CHANNELS[i][CH_LOW]) for i in range(COLUMNS)]) + (
    (PULSES_UP, -1), (PULSES_DOWN, INVALID))
UNKNOWN = tuple([(i, INVALID) for i in range(COLUMNS + 5)])
# What a person does, told as inputs: places below 0.
DRAIN, MAINTAIN, END, PACE = -1, -2, -3, -4
FAST = ((PACE, 60000),)   # a minute passes at each scan
RUSH = FAST + ((PULSES_UP, 500),)  # and the meter up shows a good flow all the while
WELL = HEALTHY + ((END, 0), (PACE, 100))

# Whatever was before, the pump is tried at the end of these, and lifts; the lamps are lit.
TRIED = (WELL,) * 3 + (SUN,)
LIFTS = TRIED + (WATER,) * 3
LIT = (WELL,) * 3 + (NIGHT,) + (LIGHT,) * 5


def warming(mdegC):
    """Blocks in each of which the motor reads so much warmer, for more than a minute."""
    return tuple([((MOTOR_MDEGC, 20000 + mdegC * block),) for block in range(35)])


# Each act: blocks of inputs, in order.
ACTS = (
    (WELL,) * 3,
    (SUN,) * 10,
    (SUN,) * 90,
    (SUN, SUN, WATER, WATER, WATER, WATER, SUN, SUN, SUN, SUN),
    (SUN, WATER, WATER, WATER, ((MOTOR_MDEGC, 125000),), ((MOTOR_MDEGC, 50000),), HEALTHY),
    (SUN, WATER, WATER, ((C_71H_UP, 0),), ((C_71H_UP, 0),), HEALTHY),
    (SUN, WATER, WATER, ((C_71HH_UP, 0),), HEALTHY, HEALTHY),
    (SUN, WATER, WATER, ((C_71L_LO, 0),), HEALTHY),
    (SUN, WATER) * 6 + (LARGEST, WATER),
    (SUN, SUN, ((C_71H_UP, 0),), SUN, SUN, ((C_71HH_UP, 0),)),
    (NIGHT,) * 4 + (LIGHT,) * 8,
    (NIGHT,) * 6 + (LIGHT, ((GENERATOR_MV, 16000), (LAMP_MA, 0)), NIGHT, NIGHT, NIGHT),
    (NIGHT,) * 6 + (LIGHT, LIGHT, ((GENERATOR_MV, 40000), (LAMP_MA, 0)), NIGHT, NIGHT),
    LIT + (((GENERATOR_MV, 11000), (LAMP_MA, 0)),) * 4 + (LIGHT, NIGHT),
    LIT + (((PULSES_DOWN, 20), (GENERATOR_MV, 0)),) * 4 + (NIGHT, WELL),
    LIT + (((C_71L_UP, 0),), ((C_71L_UP, 0),), NIGHT, NIGHT),
    (NIGHT,) * 6 + (LIGHT, LARGEST, NIGHT, SMALLEST, NIGHT, UNKNOWN),
    (NIGHT,) * 6 + (LIGHT, ((C_71H_LO, 0),), NIGHT, ((C_STOP, 0),), NIGHT),
    (NIGHT,) * 30,
    (HEALTHY, HEALTHY, ((BUTTON, 1),), HEALTHY),
    (HEALTHY, HEALTHY, ((BUTTON, 1),), HEALTHY),
    (HEALTHY,) + (((BUTTON, 1),),) * 17 + (HEALTHY,),
    (UNKNOWN, HEALTHY, LARGEST, SMALLEST),
    (HEALTHY,) * 15,
    (WELL, ((DRAIN, 0),)) + (HEALTHY,) * 6 + (((GENERATOR_MV, 16000),),) + (WELL,) * 3,
    (WELL, ((DRAIN, 0),)) + (HEALTHY,) * 3 + (((C_STOP, 0),),) + (WELL,) * 3,
    (WELL, ((DRAIN, 0),)) + (HEALTHY,) * 3 + (((END, 0),),) + (WELL,) * 3,
    (WELL, ((MAINTAIN, 0),), HEALTHY, WELL, WELL),
    (WELL,) * 3 + (((VALVE_PERMILLE, 30),),) * 20 + (WELL,),
    LIT + (((MAINTAIN, 0),), HEALTHY, WELL),
    (WELL, SUN, SUN, WATER, WATER, WATER, ((MAINTAIN, 0),), WELL),
    (SUN, ((DRAIN, 0),), WELL, SUN, SUN, ((MAINTAIN, 0),), WELL),
    LIFTS + (((PUMP_MA, 60),),) * 2 + (WELL,),
    LIFTS + (((PUMP_MA, 20),),) * 2 + (WELL,),
    LIFTS + (((PANEL_MV, 11000), (PUMP_MA, 2500), (PULSES_UP, 0)),) * 6 + (WELL,),
    (SUN, SUN, WATER) + (((PANEL_MV, 13000), (PUMP_MA, 2500), (PULSES_UP, 0)),) * 6 + (WELL,),
    (SUN, SUN, WATER, WATER) + (WATER + ((PUMP_MA, 2500),),) * 12 + (WELL,) * 6,
    LIFTS + (((PUMP_MA, 2500), (PULSES_UP, 0)),) * 3 + (WELL,),
    TRIED + (((PUMP_MA, 2500),),) * 4 + (WELL,),
    (WELL,) + (((PUMP_MA, 700),),) * 3 + (WELL,) * 2,
    LIFTS + (((VALVE_PERMILLE, 500),),) * 2 + (WELL,) * 2,
    (WELL,) + (((PULSES_DOWN, 20), (GENERATOR_MV, 2000)),) * 12 + (WELL,) * 3,
    (WELL,) + (((PULSES_DOWN, 20),),) * 18 + (WELL,) * 4,
    LIFTS + (((PULSES_UP, 2),),) * 4 + (WELL,),
    (WELL,) * 4 + (SUN,) * 2 + (WATER,) * 2 + (WATER + ((WATER_MDEGC, 60000),),) * 24 + (WELL,),
    LIT + (LIGHT + ((LAMP_MA, 20),),) * 14 + (NIGHT,),
    LIT + (LIGHT + ((GENERATOR_MA, 150), (LAMP_MA, 145)),) * 34 + (NIGHT,),
    (WELL,) + (((LEVEL_MM, 1000),),) * 25 + (WELL,) * 12,
    (WELL,) + (((LEVEL_MM, 0),),) * 40 + (WELL,) * 30,
    (WELL,) + (((SUPPLY_MV, 11000),),) * 3 + (WELL,),
    (WELL,) + (((WATER_MDEGC, 1000),),) * 32 + (WELL,) * 32,
    (WELL, ((LOOP_71HH, 1),), WELL, ((LOOP_71HH, 2),), WELL),
    (WELL,) + (FAST, ((LEVEL_MM, 370),)) + (((PACE, 100),),) + (HEALTHY[:0],) * 60 + (WELL,) * 9,
    (SUN, WATER, WATER, WATER, FAST, FAST, FAST, ((PACE, 100),), ((MOTOR_MDEGC, 21000),), WELL),
    (FAST,) * 12 + (WELL,),
    LIFTS + (WATER,) * 3 + (RUSH,) * 3 + (((PACE, 100),), WELL),
    # For a rig with less: a motor that is warm, that warms, in a run and at rest; an hour
    # without a full float; a float that falls; volts at a shut valve.
    LIFTS + (((MOTOR_MDEGC, 48000),),) * 17 + (WELL,) * 3,
    TRIED + warming(900) + (WELL,) * 3,
    (WELL, FAST, ((PACE, 100),)) + warming(500) + (WELL,) * 3,
    LIFTS + (FAST,) * 4 + (((PACE, 100),), WELL),
    (WELL, ((PACE, 60000), (C_71H_UP, 0)), ((PACE, 100), (C_71H_UP, 1))) + (HEALTHY,) * 6,
    (WELL,) + (((GENERATOR_MV, 2000),),) * 18 + (WELL,) * 3,
)


class Story:
    """Leads one bench through acts that chance picks, block by block."""

    def __init__(self, lock, unlock, allocated, board=None, seed=1, fitted=ALL_FITTED):
        self.bench = Bench(QUICK + (("fitted", fitted),), board)
        self.bench.now_ms = (1 << 30) - 3000000  # the ticks wrap on the way
        self.bench.scan.totals.restore([999999000] * 10, [0] * 10)
        self.lock = lock
        self.unlock = unlock
        self.allocated = allocated  # bytes in use now
        self.grown = 0              # bytes that scans have allocated
        self.seed = seed
        self.acts = []              # still to come in this round
        self.act = ACTS[0]
        self.calm = False           # chance adds nothing to the acts of this round
        self.block = 0
        self.unsafe = None
        self.seen = [0] * len(STATES)  # scans in each state
        self.pace_ms = 100
        self.valve_stuck = False    # the valve stands where the inputs say

    def chance(self, most):
        """A number from 0 to most - 1."""
        self.seed = (self.seed * 75 + 74) % 65537
        return self.seed % most

    def next_block(self):
        """Sets the inputs of the next block; returns the time of its first scan [ms]."""
        if self.block == len(self.act):
            if not self.acts:
                self.acts = list(ACTS)
                self.calm = not self.calm
            self.act = self.acts.pop(self.chance(len(self.acts)))
            self.block = 0
            if self.calm or self.chance(4):
                self.free()
        bench = self.bench
        self.do(self.act[self.block])
        self.block += 1
        if not self.calm and self.chance(6) == 0:
            place = self.chance(COLUMNS)
            bench.set(((place, (INVALID, CHANNELS[place][CH_HIGH], CHANNELS[place][CH_LOW],
                                CHANNELS[place][CH_HIGH] + 1)[self.chance(4)]),))
        bench.board.valve_follows = (self.calm or self.chance(8) != 0) and not self.valve_stuck
        return (100, 100, 1340, 60)[self.chance(4)]

    def free(self):
        """A person has seen to everything: no lockout, no waits."""
        scan = self.bench.scan
        sequence = scan.sequence
        sequence.lockout.reset()
        sequence.wait_periods[0] = sequence.wait_periods[1] = 0
        scan.derived.heat.heat = 0
        scan.derived.starts.milli = 0

    def do(self, changes):
        """Sets inputs; carries out what a person does."""
        bench = self.bench
        sequence = bench.scan.sequence
        bench.board.motor_follows = True
        self.valve_stuck = False
        for place, value in changes:
            if place == DRAIN:
                sequence.drain_periods = 6000
            elif place == MAINTAIN:
                sequence.maintenance = True
            elif place == END:
                sequence.drain_periods = 0
                sequence.maintenance = False
            elif place == PACE:
                self.pace_ms = value
            else:
                bench.set(((place, value),))
                self.valve_stuck = self.valve_stuck or place == VALVE_PERMILLE and value != 0

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
            bench.step(self.pace_ms)
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
