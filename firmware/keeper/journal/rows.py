"""Interval means of the scan's values, and the numbers that the journal stores.

`Rows.add` runs in every scan and allocates nothing: its sums are small ints,
moved into a second limb before they could pass 2**30.  The rest runs in slack.
"""

from keeper.channels import (
    CH_STEP_DEN, CH_STEP_NUM, CHANNELS, COLUMNS, FLOW_DOWN, FLOW_UP, GENERATOR_MA, GENERATOR_MV,
    INVALID, LAMP_MA, LEVEL_MM, MOTOR_MDEGC, PANEL_MA, PANEL_MV, PUMP_MA, SUPPLY_MA, SUPPLY_MV,
    TOTALS, VALVE_PERMILLE, WATER_MDEGC)

NOT_TRUSTED = -32768  # stored in place of a mean
STORED_MOST = 32767
STEP_NUM = tuple([row[CH_STEP_NUM] for row in CHANNELS])
STEP_DEN = tuple([row[CH_STEP_DEN] for row in CHANNELS])
# Values lie within +-2**23 (the fastest flow that a scan can derive is 5.4e6):
# 120 of them and a remainder of the first limb stay below 2**30.
FOLD_SCANS = 120
FOLD_UNIT = 1 << 10


def stored(amount, count, index):
    """Return `amount / count` in steps of channel `index`, to nearest, a half upwards.

    Equation: floor(amount * den / (count * num) + 1/2).  A quotient that is
    not -32767 to 32767 comes back as NOT_TRUSTED.
    """
    divisor = count * STEP_NUM[index]
    steps = (2 * amount * STEP_DEN[index] + divisor) // (2 * divisor)
    if -STORED_MOST <= steps <= STORED_MOST:
        return steps
    return NOT_TRUSTED


def stored_values(values):
    """Return the channels of one scan's values in their steps; NOT_TRUSTED for INVALID."""
    found = []
    for index in range(COLUMNS):
        steps = NOT_TRUSTED
        value = values[index]
        if value != INVALID:
            num = STEP_NUM[index]
            steps = (2 * value * STEP_DEN[index] + num) // (2 * num)  # as `stored`, of one scan
            if not -STORED_MOST <= steps <= STORED_MOST:
                steps = NOT_TRUSTED
        found.append(steps)
    return found


class Rows:
    """The row that is being gathered, and the one before it while its means are due.

    Attributes: scans, how many the row holds so far [-]; frozen_scans, those
    of the row that `freeze` ended.
    """

    def __init__(self):
        self.scans = 0
        self.unfolded_scans = 0         # scans since the sums were last folded
        self.sums = [0] * COLUMNS       # of trusted values, low limb
        self.folded = [0] * COLUMNS     # high limb, in units of FOLD_UNIT
        self.bad = [0] * COLUMNS        # scans in which the column was INVALID
        self.frozen_scans = 0
        # The same of the row that has ended; all zero once its means are taken.
        self.frozen_sums = [0] * COLUMNS
        self.frozen_folded = [0] * COLUMNS
        self.frozen_bad = [0] * COLUMNS

    def add(self, values, bad=1):
        """Gather one scan's values [list as in `keeper.channels`]; allocates nothing.

        bad: 0 = all of them can be trusted.
        """
        sums = self.sums
        if bad:
            for index in range(COLUMNS):
                value = values[index]
                if value != INVALID:
                    sums[index] += value
                else:
                    self.bad[index] += 1
        else:
            # One line a channel instead of a loop: it runs in nearly every scan.
            sums[PANEL_MV] += values[PANEL_MV]
            sums[PANEL_MA] += values[PANEL_MA]
            sums[PUMP_MA] += values[PUMP_MA]
            sums[GENERATOR_MV] += values[GENERATOR_MV]
            sums[GENERATOR_MA] += values[GENERATOR_MA]
            sums[LAMP_MA] += values[LAMP_MA]
            sums[SUPPLY_MV] += values[SUPPLY_MV]
            sums[SUPPLY_MA] += values[SUPPLY_MA]
            sums[FLOW_UP] += values[FLOW_UP]
            sums[FLOW_DOWN] += values[FLOW_DOWN]
            sums[LEVEL_MM] += values[LEVEL_MM]
            sums[MOTOR_MDEGC] += values[MOTOR_MDEGC]
            sums[WATER_MDEGC] += values[WATER_MDEGC]
            sums[VALVE_PERMILLE] += values[VALVE_PERMILLE]
        self.scans += 1
        self.unfolded_scans += 1
        if self.unfolded_scans == FOLD_SCANS:
            self._fold()

    def _fold(self):
        """Move whole FOLD_UNITs into the high limb; allocates nothing."""
        self.unfolded_scans = 0
        sums = self.sums
        for index in range(COLUMNS):
            units = sums[index] // FOLD_UNIT
            self.folded[index] += units
            sums[index] -= units * FOLD_UNIT

    def freeze(self):
        """End the row and begin the next; `means` must have been called since the last time."""
        self.sums, self.frozen_sums = self.frozen_sums, self.sums
        self.folded, self.frozen_folded = self.frozen_folded, self.folded
        self.bad, self.frozen_bad = self.frozen_bad, self.bad
        self.frozen_scans = self.scans
        self.scans = 0
        self.unfolded_scans = 0

    def means(self, row, start, first=0, end=COLUMNS):
        """Put stored means of the row that `freeze` ended into row[start:], each column once.

        first, end: which of the columns.  A mean counts if at least half of
        its scans could be trusted.
        """
        for index in range(first, end):
            bad = self.frozen_bad[index]
            good = self.frozen_scans - bad
            if good < bad or good == 0:
                row[start + index] = NOT_TRUSTED
            else:
                total = self.frozen_folded[index] * FOLD_UNIT + self.frozen_sums[index]
                row[start + index] = stored(total, good, index)
            self.frozen_sums[index] = 0
            self.frozen_folded[index] = 0
            self.frozen_bad[index] = 0


class FrozenTotals:
    """The totals as they were at the end of a row.  Attributes: low, high, uptime_ds."""

    def __init__(self):
        self.low = [0] * len(TOTALS)
        self.high = [0] * len(TOTALS)
        self.uptime_ds = 0

    def restore(self, low, high):
        """Start from limbs [lists]."""
        self.low[:] = low
        self.high[:] = high

    def take(self, totals, uptime_ds):
        """Copy a bank of totals at an uptime [0.1 s]."""
        totals.settle()
        for index in range(len(TOTALS)):
            self.low[index] = totals.low[index]
            self.high[index] = totals.high[index]
        self.uptime_ds = uptime_ds
