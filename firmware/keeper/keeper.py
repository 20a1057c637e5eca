"""The keeper of one rig: the scan, and the slack work between two scans."""

from keeper.operation import orders
from keeper.settings import index as at
from keeper.operation.budget import Budget
from keeper.channels import (
    ALL_CHANNELS, COLUMNS, CONTACTS, FLOW_DOWN, LAMP_MA, LEVEL_MM, OUT_VALVE, VALVE_PERMILLE)
from keeper.events import LOOK_DS
from keeper.health import Health
from keeper.retained import Retained
from keeper.modes import CLOSING, TRIPPED
from keeper.operation.night import Night
from keeper.operation.proving import Proving
from keeper.journal.rows import Rows
from keeper.scan import Scan

# With these nothing is reckoned or learned that a restart would lose.
READ_ALONE = 1 << LEVEL_MM | 1 << VALVE_PERMILLE
# With these the night is planned by what is read.
MEASURED = 1 << LEVEL_MM | 1 << FLOW_DOWN | 1 << LAMP_MA
SHORT_DELAY_MS = 5000  # a flash stall may not lengthen a delay shorter than this


def budget_of(keeper, settings):
    """Return what plans the light of a keeper with settings [list in table order]."""
    if settings[at("fitted")] & MEASURED == MEASURED:
        return Budget(keeper)
    from keeper.operation.ranged import RangedBudget  # only here: not every program has it
    return RangedBudget(keeper, settings)


def rows_of(settings):
    """Return what gathers the rows of a rig with settings [list in table order]."""
    fitted = settings[at("fitted")]
    if fitted & ALL_CHANNELS == ALL_CHANNELS:
        return Rows()
    from keeper.partial import PartialRows  # only here: not every program has it
    return PartialRows(fitted)


def retained_of(keeper, memory):
    """Return what a keeper retains; arguments as for `Retained`."""
    if keeper.settings[at("fitted")] & READ_ALONE == READ_ALONE:
        return Retained(keeper, memory)
    from keeper.retained_more import RetainedMore  # only here: not every program has it
    return RetainedMore(keeper, memory)


class Keeper:
    """Scan and journal of one rig.

    Call `scan` every 100 ms and `slack` as often as there is time.  `scan`
    protects on its own: it works on when the journal fails.
    """

    def __init__(self, settings, board, journal, memory=None, safe_reason=0):
        """Take settings [list in table order], the board and an open journal.

        memory: keeper.retained_files.RetainedFiles, what survives a restart; None:
        nothing does, and nothing is locked out at the start.  safe_reason
        [of keeper.health.SAFE_REASONS]: if not 0, everything stands and no order
        changes that.
        """
        self.settings = settings
        self.board = board
        self.journal = journal
        self.health = Health()
        self.safe_reason = safe_reason
        self.rows = rows_of(settings)
        self.core = Scan(settings, board)
        # What the journal and the link read: the lists and parts stay the same.
        self.values = self.core.values    # of the last scan, as in `keeper.channels`
        self.outputs = self.core.outputs  # likewise
        self.totals = self.core.totals
        self.events = self.core.events    # those that wait to be written
        self.core.totals.restore(journal.restored_low, journal.restored_high)
        self.night = Night(settings, self.core.derived.volumes)
        self.budget = budget_of(self, settings)
        self.retained = retained_of(self, memory)
        self.repeats_ds = 0      # uptime at which counts of what recurs, and proofs, are looked at
        self.proving = Proving(self.core, getattr(board, "lamp", None))
        sequence = self.core.sequence
        sequence.held_safe = safe_reason != 0
        sequence.maintenance = sequence.maintenance or sequence.held_safe
        self.leaving = False     # maintenance was ordered for the laptop's tools
        self.clock_days = 0      # days since 1970 when the clock was set
        self.clock_set_ds = 0    # uptime at which that day began
        self.row_running_s = settings[at("row_running_s")]
        self.row_standstill_s = settings[at("row_standstill_s")]
        self.tail_sync_s = settings[at("tail_sync_s")]

    def scan(self, now_ms):
        """Execute one scan at `now_ms` [ticks] and gather the row; allocates nothing."""
        core = self.core
        core.run(now_ms)
        self.rows.add(core.values, core.bad)

    def slack(self, now_ms):
        """Do at most one piece of the work that can wait, at `now_ms` [ticks]."""
        core = self.core
        uptime_ds = core.uptime_ds
        if uptime_ds >= self.repeats_ds:
            self.repeats_ds = uptime_ds + LOOK_DS
            core.protection.tell_repeats()
            core.sequence.tell_repeats()
            self.proving.look()
        if uptime_ds >= self.budget.next_ds:
            self.budget.work()
        elif not (self.retained.is_due() and self.retained.work()):
            self.journal.slack(self, now_ms)

    def order(self, code, a, b):
        """Carry out an order of `operation.orders`; return 0 or the number of the refusal."""
        return orders.carry_out(self, code, a, b)

    @property
    def busy(self):
        """Whether a write to flash should wait: a short delay runs, or a tripped valve moves."""
        sequence = self.core.sequence
        if sequence.state == CLOSING and sequence.cause == TRIPPED and self.outputs[OUT_VALVE]:
            return True
        return self.core.protection.is_timing(SHORT_DELAY_MS)

    @property
    def stay_out(self):
        """Whether the program should now leave for the laptop's tools."""
        return orders.stay_out_is_due(self)

    @property
    def state(self):
        """Number of the state of operation."""
        return self.core.sequence.state

    @property
    def setpoint_mW(self):
        """Lamp power that the governor holds or would hold [mW]."""
        return self.core.sequence.light.setpoint_mW

    @property
    def uptime_ds(self):
        """Time since the start [0.1 s]."""
        return self.core.uptime_ds

    @property
    def scans(self):
        """Scans executed since the start [-]."""
        return self.core.scans

    @property
    def first_out(self):
        """Number of the element that acted first in this run, 0 = none."""
        return self.core.protection.first

    @property
    def acting(self):
        """Elements that act now, bit i = element i + 1."""
        word = self.core.protection.acting_word
        return word(0) | word(1) << 16 | word(2) << 32 | word(3) << 48

    @property
    def lockouts(self):
        """Sides that wait for a person: bit 0 pump, bit 1 turbine."""
        return self.core.sequence.lockout.sides

    def contact_bits(self):
        """Return the contacts as bits, in table order."""
        return contact_bits(self.core.values)


def contact_bits(values):
    """Return the contacts of a list of values as bits, in table order; allocates nothing.

    One that the rig lacks is told as open.
    """
    bits = 0
    for place in range(len(CONTACTS)):
        if values[COLUMNS + place] > 0:
            bits |= 1 << place
    return bits
