"""Ends rows and quarter hours, a slice at a time.

`begin` takes from the scan what belongs together in one go; the arithmetic on
it follows in `step`.  Does not know where a row goes.
"""

from keeper.journal.blocks import (
    FIRST_VALUE, ROW_BOOT, ROW_COLUMNS, ROW_CONTACTS, ROW_SCANS, ROW_STATE, ROW_UPTIME)
from keeper.channels import COLUMNS
from keeper.clock import PERIODS_PER_S
from keeper.modes import STANDSTILL
from keeper.journal.rows import FrozenTotals
from keeper.journal.summary import QUARTER_DS, Quarter

UPTIME_MOST = (1 << 30) - 1
U16_MOST = 65535
NO_STATE = -1

# What is due next.
IDLE = 0           # nothing: no row is being ended
MEANS = 1          # the means of the first columns
MORE_MEANS = 2     # those of the others
TAKE_ROW = 3       # the row is complete: the journal takes it
ADD_ROW = 4        # it is added to the quarter hour
CLOSE_QUARTER = 5  # the quarter hour has ended: its marks
TAKE_SUMMARY = 6   # they are there: the journal takes the summary
HALF = COLUMNS // 2


class Closing:
    """The row that is being ended, and the quarter hour it belongs to.

    Attributes: stage, as above; row, its numbers; totals, those at its end;
    marks, (seconds, [least, mean, greatest...]) of the quarter hour that has
    ended; state, in which the row being gathered began, or NO_STATE;
    due_scans, the length of that row [scans].
    """

    def __init__(self):
        self.stage = IDLE
        self.row = [0] * ROW_COLUMNS
        self.totals = FrozenTotals()
        self.quarter = Quarter()
        self.marks = (0, [])
        self.quarter_at_ds = QUARTER_DS
        self.state = NO_STATE
        self.due_scans = 0

    def is_due(self, keeper):
        """Return whether the row being gathered must end by its length or its state."""
        return keeper.rows.scans >= self.due_scans or keeper.state != self.state

    def begin(self, keeper, boot):
        """End the row being gathered, if it has a scan, and set the length of the next."""
        rows = keeper.rows
        if self.state != NO_STATE and rows.scans:
            row = self.row
            rows.freeze()
            self.totals.take(keeper.totals, min(keeper.uptime_ds, UPTIME_MOST))
            row[ROW_BOOT] = boot
            row[ROW_UPTIME] = self.totals.uptime_ds
            row[ROW_SCANS] = min(rows.frozen_scans, U16_MOST)
            row[ROW_STATE] = self.state
            row[ROW_CONTACTS] = keeper.contact_bits()
            self.stage = MEANS
        self.state = keeper.state
        length_s = keeper.row_standstill_s if self.state == STANDSTILL else keeper.row_running_s
        self.due_scans = length_s * PERIODS_PER_S

    def step(self, keeper):
        """Do the next slice; TAKE_ROW and TAKE_SUMMARY are the journal's, which then steps on."""
        stage = self.stage
        self.stage = stage + 1
        if stage == MEANS:
            keeper.rows.means(self.row, FIRST_VALUE, 0, HALF)
        elif stage == MORE_MEANS:
            keeper.rows.means(self.row, FIRST_VALUE, HALF, COLUMNS)
        elif stage == ADD_ROW:
            self.quarter.add(self.row, FIRST_VALUE, keeper.rows.frozen_scans)
            uptime_ds = self.totals.uptime_ds
            if uptime_ds < self.quarter_at_ds:
                self.stage = IDLE
            else:
                self.quarter_at_ds = (uptime_ds // QUARTER_DS + 1) * QUARTER_DS
        elif stage == CLOSE_QUARTER:
            self.marks = self.quarter.close()
        elif stage == TAKE_SUMMARY:
            self.stage = IDLE
