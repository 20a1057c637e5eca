"""Totalizers: energy, volume and time since the journal began.

Owns the running sums; knows nothing of where they are kept.  A total has two
limbs of at most 10**9 (see `keeper.channels.LIMB`) and a rest that is carried
over lazily: it stays below 2**28 plus one product below 2**29, a small int.
A total never falls while the keeper runs: noise round zero may lower the
rest, never the limbs.
"""

from keeper.channels import (
    GENERATOR_MA, GENERATOR_MV, LAMP_MA, LIMB, PANEL_MA, PANEL_MV, PULSES_DOWN, PULSES_UP,
    PUMP_MA, SUPPLY_MA, SUPPLY_MV, T_DOWN, T_GENERATOR, T_LAMP, T_LIGHT_MS, T_PANEL, T_PUMP,
    T_PUMP_MS, T_SUPPLY_IN, T_SUPPLY_OUT, T_UP, TOTALS)
from keeper.clock import PERIOD_MS

# total, voltage, current: mV * mA = uW, summed each period of 0.1 s.
POWERS = (
    (T_PANEL, PANEL_MV, PANEL_MA),
    (T_PUMP, PANEL_MV, PUMP_MA),
    (T_GENERATOR, GENERATOR_MV, GENERATOR_MA),
    (T_LAMP, GENERATOR_MV, LAMP_MA),
)
UW_PERIODS_PER_MJ = 10000  # 1 mJ = 10 000 uW for 0.1 s
NL_PER_UL = 1000
CARRY_AT = 1 << 28
LEAST_REST = -CARRY_AT

# how much rest makes one unit of the total, and when it is carried over:
# low + CARRY / UNIT must stay below 2**30
UNIT_OF_REST = (UW_PERIODS_PER_MJ,) * 6 + (NL_PER_UL,) * 2 + (1, 1)
CARRY = (CARRY_AT,) * 8 + (60000, 60000)


class TotalsBank:
    """The totals of `keeper.channels.TOTALS` as limbs `low` and `high`."""

    def __init__(self, pulse_up_nL, pulse_down_nL, lit_mW):
        """Start at zero, with the volume of a pulse of each meter [nL] and the lit power [mW]."""
        self.low = [0] * len(TOTALS)
        self.high = [0] * len(TOTALS)
        self.rest = [0] * len(TOTALS)
        self.pulse_up_nL = pulse_up_nL
        self.pulse_down_nL = pulse_down_nL
        self.lit_uW = lit_mW * 1000

    def restore(self, low, high):
        """Go on from limbs [each 0 to 10**9-1] that the journal kept."""
        for index in range(len(TOTALS)):
            self.low[index] = low[index]
            self.high[index] = high[index]

    def add(self, values, periods, pump_on):
        """Add one scan that stands for `periods` of 0.1 s [-]; allocates nothing.

        A scan that comes early stands for none: its pulses count, its power is
        in the periods of the scans beside it.

        Values that cannot be trusted must have been replaced by 0 in the two
        factors of a power: see `keeper.scan`.
        """
        if values[PULSES_UP] or values[PULSES_DOWN]:
            self._add_volumes(values)
        if not periods:
            return
        rest = self.rest
        if periods == 1:
            # The usual case: POWERS a line each, and no call where nothing is to be carried.
            panel_mV, generator_mV = values[PANEL_MV], values[GENERATOR_MV]
            rest[T_PANEL] = panel = rest[T_PANEL] + panel_mV * values[PANEL_MA]
            rest[T_PUMP] = pump = rest[T_PUMP] + panel_mV * values[PUMP_MA]
            rest[T_GENERATOR] = made = rest[T_GENERATOR] + generator_mV * values[GENERATOR_MA]
            rest[T_LAMP] = lit = rest[T_LAMP] + generator_mV * values[LAMP_MA]
            if not (LEAST_REST < panel < CARRY_AT and LEAST_REST < pump < CARRY_AT
                    and LEAST_REST < made < CARRY_AT and LEAST_REST < lit < CARRY_AT):
                for row in POWERS:
                    self._add(row[0], rest[row[0]], 0, 1)
        else:
            for total, volts, amps in POWERS:
                power = values[volts] * values[amps]
                self._add(total, rest[total] + power, power, periods)
        power = values[SUPPLY_MV] * values[SUPPLY_MA]
        total = T_SUPPLY_IN if power >= 0 else T_SUPPLY_OUT
        power = abs(power)
        more = rest[total] + power
        if periods == 1 and more < CARRY_AT:
            rest[total] = more
        else:
            self._add(total, more, power, periods)
        if pump_on:
            total = T_PUMP_MS
        elif values[GENERATOR_MV] * values[LAMP_MA] > self.lit_uW:
            total = T_LIGHT_MS
        else:
            return
        more = rest[total] + PERIOD_MS
        if periods == 1 and more < CARRY[total]:
            rest[total] = more
        else:
            self._add(total, more, PERIOD_MS, periods)

    def _add_volumes(self, values):
        """Add the pulses of a scan."""
        rest = self.rest
        up = rest[T_UP] + values[PULSES_UP] * self.pulse_up_nL
        down = rest[T_DOWN] + values[PULSES_DOWN] * self.pulse_down_nL
        rest[T_UP] = up
        rest[T_DOWN] = down
        if up >= CARRY_AT:
            self._add(T_UP, up, 0, 1)
        if down >= CARRY_AT:
            self._add(T_DOWN, down, 0, 1)

    def _add(self, total, rest, more, periods):
        """Take `rest`, then `more` for each further period of a late scan."""
        periods -= 1
        while True:
            if rest >= CARRY[total]:
                rest = self._carry(total, rest)
            elif rest < LEAST_REST:
                rest = LEAST_REST
            if periods <= 0:
                break
            # As many periods at once as stay small: `more` is below 2**29.
            whole = CARRY_AT // more if more > 0 else 1 + CARRY_AT // (1 - more)
            whole = max(1, min(periods, whole))
            periods -= whole
            rest += more * whole
        self.rest[total] = rest

    def _carry(self, total, rest):
        """Move whole units from the rest to the limbs; return what is left."""
        unit = UNIT_OF_REST[total]
        whole = rest // unit
        low = self.low[total] + whole
        if low >= LIMB:
            low -= LIMB
            self.high[total] += 1
        self.low[total] = low
        return rest - whole * unit

    def settle(self):
        """Bring all limbs up to date, for a reader; allocates nothing."""
        for total in range(len(TOTALS)):
            if self.rest[total] > 0:
                self.rest[total] = self._carry(total, self.rest[total])
