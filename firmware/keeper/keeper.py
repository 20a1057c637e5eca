"""The keeper of one rig: the scan, and the slack work between two scans."""

from keeper import settings as st
from keeper.channels import COLUMNS, CONTACTS
from keeper.rows import Rows
from keeper.scan import Scan


class Keeper:
    """Scan and journal of one rig.

    Call `scan` every 100 ms and `slack` as often as there is time.  `scan`
    protects on its own: it works on when the journal fails.
    """

    def __init__(self, settings, board, journal):
        """Take settings [list in table order], the board and an open journal."""
        self.settings = settings
        self.board = board
        self.journal = journal
        self.rows = Rows()
        self.core = Scan(settings, board)
        self.core.totals.restore(journal.restored_low, journal.restored_high)
        self.row_running_s = settings[st.index("row_running_s")]
        self.row_standstill_s = settings[st.index("row_standstill_s")]
        self.tail_sync_s = settings[st.index("tail_sync_s")]

    def scan(self, now_ms):
        """Execute one scan at `now_ms` [ticks] and gather the row; allocates nothing."""
        core = self.core
        core.run(now_ms)
        self.rows.add(core.values)

    def slack(self, now_ms):
        """Do at most one piece of the work that can wait, at `now_ms` [ticks]."""
        self.journal.slack(self, now_ms)

    # What the journal and the link read.

    @property
    def values(self):
        """Values of the last scan, in the order of `keeper.channels`."""
        return self.core.values

    @property
    def outputs(self):
        """Outputs of the last scan, in the order of `keeper.channels.OUTPUTS`."""
        return self.core.outputs

    @property
    def totals(self):
        """The totals bank."""
        return self.core.totals

    @property
    def events(self):
        """Events that wait to be written."""
        return self.core.events

    @property
    def state(self):
        """Number of the state of operation."""
        return self.core.sequence.state

    @property
    def setpoint_mW(self):
        """Lamp power wanted [mW]."""
        return self.core.sequence.setpoint_mW

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
        return self.core.protection.acting

    @property
    def lockouts(self):
        """Sides that wait for a person: bit 0 pump, bit 1 turbine."""
        return self.core.sequence.lockouts

    def contact_bits(self):
        """Return the contacts as bits, in table order."""
        return contact_bits(self.core.values)


def contact_bits(values):
    """Return the contacts of a list of values as bits, in table order; allocates nothing."""
    bits = 0
    for place in range(len(CONTACTS)):
        if values[COLUMNS + place]:
            bits |= 1 << place
    return bits
