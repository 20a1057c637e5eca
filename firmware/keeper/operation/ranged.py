"""The night budget of a rig that lacks the level, the flow meter down or the lamps' meter.

Without a level the water is known at the floats, and what is said of it is a range.
Without a flow meter the level teaches the curve; without a meter at the lamps what the
generator gives is the light.  A rig that has the three does not load this.
"""

from keeper.settings import index as at
from keeper.channels import (
    FLOW_DOWN, INVALID, LAMP_MA, LEVEL_MM, T_DOWN, T_GENERATOR, T_UP)
from keeper.events import LIGHT_BETWEEN, MINUTES_BITS, MOST_MINUTES
from keeper.operation.budget import LASTS, LEAST, MAY_LAST, SHORT, WANTED, Budget
from keeper.operation.reckoned import Reckoned
from keeper.protection.derived import LEVEL_MEAN

# Of a level that stands for the meter: four times what two means of it may differ by; a guess.
LEAST_FALL_MM = 20


class RangedBudget(Budget):
    """Plans the light of one keeper on less."""

    def __init__(self, keeper, settings):
        """Take the keeper and the settings [list in table order]; the first light is planned."""
        Budget.__init__(self, keeper)
        self.level_mm = INVALID  # as this quarter began
        fitted = settings[at("fitted")]
        if not fitted >> LAMP_MA & 1:
            self.light_total = T_GENERATOR
        self.by_level = fitted >> LEVEL_MM & 1 and not fitted >> FLOW_DOWN & 1
        if not fitted >> LEVEL_MM & 1:
            self.tank = Reckoned(settings, keeper.night)
            self.tank.begin(*self._totals())

    def _follow(self, now_ds):
        """Reckon the water; return whether it was unknown before [bool]."""
        tank = self.tank
        if tank is None:
            return False
        keeper = self.keeper
        keeper.totals.settle()
        sequence = keeper.core.sequence
        is_over = sequence.is_spent != 0
        sequence.is_spent = 0    # it is taken once
        return tank.follow(keeper.values, keeper.state, now_ds, is_over, *self._totals())

    def _totals(self):
        """Return the totals of light [mJ], water down and water up [uL]."""
        return self._total(self.light_total), self._total(T_DOWN), self._total(T_UP)

    def _begin(self, light, now_ds):
        Budget._begin(self, light, now_ds)
        self.level_mm = self.keeper.values[LEVEL_MEAN]

    def _gone_mL(self):
        """Return the water that came down in this quarter [mL], 0 = nobody knows."""
        if not self.by_level:
            return Budget._gone_mL(self)
        level_mm = self.keeper.values[LEVEL_MEAN]
        if level_mm == INVALID or self.level_mm - level_mm < LEAST_FALL_MM:
            return 0
        night = self.keeper.night
        return night.most_mL(self.level_mm) - night.most_mL(level_mm)

    def _water(self):
        """Return the water that is surely there, and that may be [mL]; INVALID if unknown."""
        tank = self.tank
        if tank is None:
            return Budget._water(self)
        return (tank.sure_mL(), tank.most_mL()) if tank.is_known() else (INVALID, INVALID)

    def _said(self, power_mW, lasts, water_mL, most_mL, minutes):
        """Return what is said of the water: of what is reckoned it may last, too."""
        night = self.keeper.night
        if self.tank is None or night.lasts_min(power_mW, water_mL) >= minutes:
            return Budget._said(self, power_mW, lasts, water_mL, most_mL, minutes)
        return MAY_LAST if night.lasts_min(power_mW, most_mL) >= minutes else SHORT

    def _tell_hours(self, light, power_mW, said, water_mL, most_mL):
        """Tell for how long the water gives light."""
        if self.tank is None:
            Budget._tell_hours(self, light, power_mW, said, water_mL, most_mL)
            return
        useful_mW = self.keeper.night.useful_mW
        self._tell_range(WANTED, power_mW, water_mL, most_mL)
        if said != LASTS and useful_mW < power_mW:
            self._tell_range(LEAST, useful_mW, water_mL, most_mL)

    def _tell_range(self, which, power_mW, water_mL, most_mL):
        """Tell for how long the water surely gives a power, and for how long at most."""
        least, most = [min(MOST_MINUTES, self.keeper.night.lasts_min(power_mW, one))
                       for one in (water_mL, most_mL)]
        self.keeper.events.post(LIGHT_BETWEEN, which, least | most << MINUTES_BITS)
