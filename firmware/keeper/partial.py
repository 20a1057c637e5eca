"""Totals and rows of a rig that lacks channels: of what is not there nothing is summed.

A rig that has every channel does not load this.
"""

from keeper.channels import (
    COLUMNS, GENERATOR_MA, GENERATOR_MV, INVALID, LAMP_MA, PULSES_DOWN, PULSES_UP, SUPPLY_MA,
    SUPPLY_MV, T_LIGHT_MS, T_PUMP_MS, T_SUPPLY_IN, T_SUPPLY_OUT)
from keeper.clock import PERIOD_MS
from keeper.journal.rows import FOLD_SCANS, NOT_TRUSTED, Rows
from keeper.totals import POWERS, TotalsBank


def is_whole(volts, amps, fitted):
    """Return whether both factors of a power exist [bool]; fitted: bits of what does."""
    return bool(fitted >> volts & fitted >> amps & 1)


class PartialTotals(TotalsBank):
    """The totals of which both factors exist; the others stay 0."""

    def __init__(self, pulse_up_nL, pulse_down_nL, lit_mW, fitted):
        """Take what `TotalsBank` takes, and the bits of what exists, as the setting."""
        TotalsBank.__init__(self, pulse_up_nL, pulse_down_nL, lit_mW)
        powers = [row for row in POWERS if is_whole(row[1], row[2], fitted)]
        self.powers = tuple(powers)
        # Without a meter at the lamps what the generator gives is the light.
        self.light_mA = LAMP_MA if fitted >> LAMP_MA & 1 else GENERATOR_MA

    def add(self, values, periods, pump_on):
        """Add one scan that stands for `periods` of 0.1 s [-]; allocates nothing.

        Values that cannot be trusted must have been replaced, as for `TotalsBank.add`.
        """
        if values[PULSES_UP] or values[PULSES_DOWN]:
            self._add_volumes(values)
        if not periods:
            return
        rest = self.rest
        for total, volts, amps in self.powers:
            power = values[volts] * values[amps]
            self._add(total, rest[total] + power, power, periods)
        if values[SUPPLY_MV] != INVALID:  # both of its readings exist, or none
            power = values[SUPPLY_MV] * values[SUPPLY_MA]
            total = T_SUPPLY_IN if power >= 0 else T_SUPPLY_OUT
            power = abs(power)
            self._add(total, rest[total] + power, power, periods)
        if pump_on:
            total = T_PUMP_MS
        elif values[GENERATOR_MV] * values[self.light_mA] > self.lit_uW:
            total = T_LIGHT_MS
        else:
            return
        self._add(total, rest[total] + PERIOD_MS, PERIOD_MS, periods)


class PartialRows(Rows):
    """Rows whose columns of absent channels are never trusted."""

    def __init__(self, fitted):
        """Take the bits of what exists, as the setting `fitted`."""
        Rows.__init__(self)
        self.places = tuple([place for place in range(COLUMNS) if fitted >> place & 1])
        self.fitted = fitted

    def add(self, values, bad=1):
        """Gather one scan's values, as `Rows.add`; allocates nothing."""
        sums = self.sums
        for index in self.places:
            value = values[index]
            if value != INVALID:
                sums[index] += value
            else:
                self.bad[index] += 1
        self.scans += 1
        self.unfolded_scans += 1
        if self.unfolded_scans == FOLD_SCANS:
            self._fold()

    def means(self, row, start, first=0, end=COLUMNS):
        """Put stored means of the row that `freeze` ended, as `Rows.means`."""
        Rows.means(self, row, start, first, end)
        for index in range(first, end):
            if not self.fitted >> index & 1:
                row[start + index] = NOT_TRUSTED
