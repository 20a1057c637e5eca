"""The twin in closed loop: the plant, its leads and the unmodified keeper, scan by scan."""

from forebay.twin.effects import apply
from forebay.twin.faults import CUT_S
from forebay.twin.judged import Judged
from forebay.twin.plant import Plant
from forebay.twin.sensors import Sensors
from forebay.twin.leads import Leads
from keeper.channels import (
    BUTTON, C_71H_LO, C_71H_UP, C_71HH_UP, C_71L_LO, C_71L_UP, C_STOP, LOOP_71HH, LOOP_HEALTHY)
from keeper import settings as st
from keeper.clock import PERIOD_MS, PERIOD_S, PERIODS_PER_S, TICKS_MASK
from keeper.keeper import Keeper


# What somebody does at the rig, at times as faults have.
PRESSED, RELEASED = "button pressed", "button released"


class Board:
    """The keeper's board interface on the plant: `read(values)` and `write(outputs)`."""

    def __init__(self, rig, plant, sensors, leads, fitted):
        """Take the rig, its plant, instruments and leads, and the bits of what it has."""
        self.fitted = fitted
        self.rig = rig
        self.plant = plant
        self.sensors = sensors
        self.leads = leads
        self.button = 0
        self.judged = None    # what this boot believes of leads that fail, None = all are sound

    def begin(self):
        """Begin a boot, which knows nothing yet."""
        self.plant.contacts_new = True
        self.sensors.start()
        self.judged = None
        if self.leads.judges:
            self.judged = Judged(self.rig, self.fitted, self.sensors.due)

    def read(self, values):
        """Fill `values` in the order of `keeper.channels`."""
        plant, odd = self.plant, self.leads.odd
        self.sensors.read(values)
        values[BUTTON] = self.button
        if plant.contacts_new or odd:
            plant.contacts_new = False
            self.sensors.hold(values)
            values[C_71H_UP] = 0 if plant.full.up else 1
            values[C_71HH_UP] = 0 if plant.over_full.up else 1
            values[C_71L_UP] = 1 if plant.upper_wet.up else 0
            values[C_71L_LO] = 1 if plant.lower_wet.up else 0
            values[C_71H_LO] = 0 if plant.lower_full.up else 1
            values[C_STOP] = 0 if plant.stop_pressed else 1
            values[LOOP_71HH] = LOOP_HEALTHY
        if odd:
            self._disturb(values)

    def _disturb(self, values):
        """Let the leads fail, and the board's own code judge what then comes."""
        leads = self.leads
        leads.disturb(values)
        if not leads.judges:
            return
        if self.judged is None:
            # Its turn is the one that has just been read.
            polled = len(self.sensors.polled)
            self.judged = Judged(self.rig, self.fitted, (self.sensors.due - 1) % polled)
            self.judged.prime(values)
        self.judged.read(values, leads.lost)

    def write(self, outputs):
        """Drive the plant as `keeper.channels.OUTPUTS` says."""
        self.plant.command(*outputs)

    def safe(self):
        """Drive every output safe."""
        self.plant.command(0, 0)


class Twin:
    """One rig under one day of sun, with faults at their times.

    scan_periods: periods of 0.1 s that a step stands for; more than one is
    coarser than a board ever is.
    """

    scan_periods = 1

    def __init__(self, rig, settings, sun, open_journal, faults=(), seed=1, substeps=1,
                 open_memory=None, stall_s=0.0):
        """Begin the run.

        rig: dict "section.key_unit"; settings: list in table order; sun: lists
        poa [W/m2], cell [degC], air [degC] by the minute; open_journal: called
        with no argument at each boot, returns a journal; faults: (seconds from
        the start, name); seed [-] of instruments; substeps: steps of the plant
        in a scan [-]; open_memory: likewise for what survives a restart, None =
        nothing does; stall_s: how long every write to flash stops the board [s].
        """
        self.settings = settings
        self.open_journal = open_journal
        self.open_memory = open_memory
        self.plant = Plant(rig, sun)
        fitted = settings[st.index("fitted")]
        self.sensors = Sensors(rig, self.plant, seed, fitted)
        self.leads = Leads(seed)
        self.board = Board(rig, self.plant, self.sensors, self.leads, fitted)
        self.faults = sorted(faults)
        self.stays = rig["valve.on_power_loss"] == "stays"
        self.substeps = substeps
        self.step_s = PERIOD_S * self.scan_periods / substeps
        self.moves_once = substeps == 1 and self.scan_periods == 1
        self.sensors.period_s = PERIOD_S * self.scan_periods
        # A step that stands for many scans reads all that they would.
        self.sensors.polls = min(self.scan_periods, len(self.sensors.polled))
        self.stall_periods = int(stall_s * PERIODS_PER_S)
        self.missed = 0          # scan periods that the present stall still takes
        self.stalls = 0          # writes to flash that stopped the board
        self.scans = 0           # executed by any boot
        self.periods = 0         # scan periods passed, also without a board
        self.boot_period = 0
        self.dark_until = -1     # period at which the board's supply returns
        self.powered = True      # the board runs; else `keeper` is the one that was cut
        self.keeper = self._boot()

    def _boot(self):
        self.boot_period = self.periods
        self.plant.board_on = self.powered = True
        self.missed = 0
        self.board.begin()
        journal = self.open_journal()
        memory = self.open_memory() if self.open_memory else None
        if self.stall_periods:
            journal.segments = Stalling(journal.segments, self)
            if memory:
                memory = Stalling(memory, self)
        return Keeper(self.settings, self.board, journal, memory)

    def run(self, periods):
        """Advance by `periods` of 0.1 s [-]."""
        faults, step = self.faults, self.step
        for _ in range(periods):
            if faults and faults[0][0] <= self.periods * PERIOD_S + 1e-9:
                self._fault(faults.pop(0)[1])
            step()

    def step(self):
        """One scan period: the plant moves, then the keeper scans and does its slack work."""
        if self.moves_once:
            self.plant.step(self.step_s)
        else:
            self._move()
        self.periods += self.scan_periods
        if self.plant.battery.flat:
            if self.powered:
                self.cut()
            self.dark_until = self.periods + PERIODS_PER_S
        if not self.powered:
            if self.periods >= self.dark_until:
                self.keeper = self._boot()
            return
        if self.missed:
            self.missed = max(0, self.missed - self.scan_periods)
            self.sensors.count()  # the meters' counters go on by themselves
            return
        keeper = self.keeper
        now_ms = (self.periods - self.boot_period) * PERIOD_MS & TICKS_MASK
        keeper.scan(now_ms)
        keeper.slack(now_ms)
        self.scans += 1

    def _move(self):
        """Let the plant move for a step that is taken in parts."""
        for _ in range(self.substeps):
            self.plant.step(self.step_s)

    def _fault(self, name):
        if name == "power-cut":
            self.cut()
        elif name in (PRESSED, RELEASED):
            self.board.button = int(name == PRESSED)
        else:
            apply(name, self.plant, self.leads, self.board.fitted)

    def cut(self):
        """Take the board's supply away: outputs fall to what their pull-downs give."""
        self.powered = self.plant.board_on = False
        self.dark_until = self.periods + int(CUT_S * PERIODS_PER_S)
        down = self.plant.down
        # `stays`: no more drive, the plug rests where it is; `closes`: a spring shuts it.
        rests = down.position if self.stays else 0.0
        self.plant.command(0, 0)
        if self.plant.valve_forced is None:
            down.commanded = rests


class Stalling:
    """Segments or memory of a keeper, every write of which stops the board for a while."""

    def __init__(self, real, twin):
        """Take what really writes."""
        self.real = real
        self.twin = twin

    def __getattr__(self, name):
        if name in ("append", "append_new", "remove_oldest", "save"):
            self.twin.missed = self.twin.stall_periods
            self.twin.stalls += 1
        return getattr(self.real, name)
