"""When the night budget is made, and what is said of it.

Every quarter of an hour of light, and at once when a wish changes: learn from
the quarter that ended, plan the rest, set the governor's setpoint.  Without a level
the water is known at the floats, and what is said of it is a range.
"""

from keeper.settings import index as at
from keeper.channels import (
    FLOW_DOWN, INVALID, LAMP_MA, LEVEL_MM, LIMB, T_DOWN, T_GENERATOR, T_LAMP, T_UP)
from keeper.protection.derived import LEVEL_MEAN
from keeper.protection.elements import TURBINE, number
from keeper.events import LIGHT_BETWEEN, LIGHT_LASTS, LIGHT_PLANNED, MINUTES_BITS, MOST_MINUTES
from keeper.modes import RUNNING

QUARTER_DS = 9000
LOOK_DS = 10             # how often a changed wish is looked for
UL_PER_ML = 1000
WANTED, LEAST = 0, 1     # which power a message about lasting speaks of
SHORT, LASTS, UNKNOWN, MAY_LAST = 0, 1, 2, 3  # what a plan says of the water
NO_PLAN = -2             # announced: nobody knows the water
# Of a level that stands for the meter: four times what two means of it may differ by; a guess.
LEAST_FALL_MM = 20
ANNOUNCED_AGAIN_PERCENT = 10  # a power that changed by less is not announced again
VOLUMES_DISAGREE = number("3-VOL") - 1


class Budget:
    """Plans the light of one keeper.  `next_ds`: uptime at which `work` has something to do."""

    def __init__(self, keeper, settings):
        """Take the keeper and the settings [list in table order]; the first light is planned."""
        self.keeper = keeper
        self.next_ds = 0
        self.quarter_ds = 0      # uptime at which this quarter began
        self.steady_mW = 0       # setpoint of the whole quarter so far, 0 = not steady
        self.energy_mJ = self.water_uL = 0  # totals when it began
        self.level_mm = INVALID  # likewise, where no meter counts what comes down
        self.announced_mW = -1   # what was last said of the night
        self.announced_short = False
        fitted = settings[at("fitted")]
        # Without a meter at the lamps what the generator gives is the light.
        self.light_total = T_LAMP if fitted >> LAMP_MA & 1 else T_GENERATOR
        self.by_level = fitted >> LEVEL_MM & 1 and not fitted >> FLOW_DOWN & 1
        # The water, where no level reads it.
        self.tank = None
        if fitted and not fitted >> LEVEL_MM & 1:
            from keeper.operation.reckoned import Reckoned  # only here: not every program has it
            self.tank = Reckoned(settings, keeper.night)
        if self.tank:
            self.tank.begin(*self._totals())

    def work(self):
        """Look whether something is to be learned or planned."""
        keeper = self.keeper
        light = keeper.core.sequence.light
        now_ds = keeper.uptime_ds
        self.next_ds = now_ds + LOOK_DS
        if self.tank and self._follow(self.tank, now_ds):
            light.replan = True
        if keeper.state != RUNNING:
            self.steady_mW = 0
            if not light.dark:
                self.announced_mW = -1
            if light.replan and light.due():
                self._plan(light)
            return
        if not self.steady_mW or light.setpoint_mW != self.steady_mW:
            self._begin(light, now_ds)
        elif now_ds - self.quarter_ds >= QUARTER_DS:
            self._learn(now_ds)
            light.replan = True
            self._begin(light, now_ds)
        if light.replan and light.due():
            self._plan(light)

    def _follow(self, tank, now_ds):
        """Reckon the water; return whether it was unknown before [bool]."""
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
        self.steady_mW = light.setpoint_mW
        self.quarter_ds = now_ds
        self.energy_mJ = self._total(self.light_total)
        self.water_uL = self._total(T_DOWN)
        self.level_mm = self.keeper.values[LEVEL_MEAN]

    def _total(self, index):
        totals = self.keeper.totals
        return totals.high[index] * LIMB + totals.low[index]

    def _learn(self, now_ds):
        if self.keeper.core.protection.acting[VOLUMES_DISAGREE]:
            return  # level or meter is wrong: this quarter teaches nothing
        self.keeper.night.learn((now_ds - self.quarter_ds) // 10,
                                self._total(self.light_total) - self.energy_mJ,
                                self._gone_mL())

    def _gone_mL(self):
        """Return the water that came down in this quarter [mL], 0 = nobody knows."""
        if not self.by_level:
            return (self._total(T_DOWN) - self.water_uL) // UL_PER_ML
        level_mm = self.keeper.values[LEVEL_MEAN]
        if level_mm == INVALID or self.level_mm - level_mm < LEAST_FALL_MM:
            return 0
        night = self.keeper.night
        return night.most_mL(self.level_mm) - night.most_mL(level_mm)

    def _water(self):
        """Return the water that is surely there, and that may be [mL]; INVALID if unknown."""
        keeper = self.keeper
        tank = self.tank
        if tank:
            return (tank.sure_mL(), tank.most_mL()) if tank.is_known() else (INVALID, INVALID)
        level_mm = keeper.values[LEVEL_MEAN]
        if level_mm == INVALID or keeper.core.protection.acting[VOLUMES_DISAGREE]:
            return INVALID, INVALID
        return keeper.night.water_mL(level_mm), keeper.night.most_mL(level_mm)

    def _plan(self, light):
        """Set the setpoint for the rest of the night, and say what it means."""
        light.replan = False
        keeper = self.keeper
        night = keeper.night
        water_mL, most_mL = self._water()
        if water_mL == INVALID:
            light.setpoint_mW = light.wanted_mW
            if self.announced_mW != NO_PLAN:
                self.announced_mW = NO_PLAN
                keeper.events.post(LIGHT_PLANNED, UNKNOWN, light.wanted_mW)
            return
        minutes = light.minutes_left()
        power_mW, lasts = night.plan(light.wanted_mW, water_mL, most_mL, minutes)
        # A timed light is held as ordered; the plan dims only what is to last.
        if not (light.ends_periods or (night.until_dawn and not light.ordered_periods)):
            power_mW = light.wanted_mW
            lasts = night.lasts_min(power_mW, water_mL) >= minutes
        light.setpoint_mW = power_mW
        said = LASTS if lasts else SHORT
        if self.tank and night.lasts_min(power_mW, water_mL) < minutes:
            said = MAY_LAST if night.lasts_min(power_mW, most_mL) >= minutes else SHORT
        self._tell(light, power_mW, said, water_mL, most_mL)

    def _tell(self, light, power_mW, said, water_mL, most_mL):
        if self.keeper.core.protection.hold & TURBINE:
            return  # no light comes now, whatever the water would give
        change = power_mW - self.announced_mW
        if self.announced_mW > 0 and abs(change) * 100 < ANNOUNCED_AGAIN_PERCENT * power_mW and (
                said != SHORT or self.announced_short):
            return
        self.announced_mW = power_mW
        self.announced_short = said == SHORT
        post = self.keeper.events.post
        post(LIGHT_PLANNED, said, power_mW)
        night = self.keeper.night
        if self.tank:
            self._tell_range(WANTED, power_mW, water_mL, most_mL)
            if said != LASTS and night.useful_mW < power_mW:
                self._tell_range(LEAST, night.useful_mW, water_mL, most_mL)
        elif said == SHORT:
            post(LIGHT_LASTS, WANTED, night.lasts_min(light.wanted_mW, water_mL))
            if night.useful_mW < light.wanted_mW:
                post(LIGHT_LASTS, LEAST, night.lasts_min(night.useful_mW, water_mL))

    def _tell_range(self, which, power_mW, water_mL, most_mL):
        """Tell for how long the water surely gives a power, and for how long at most."""
        least, most = [min(MOST_MINUTES, self.keeper.night.lasts_min(power_mW, one))
                       for one in (water_mL, most_mL)]
        self.keeper.events.post(LIGHT_BETWEEN, which, least | most << MINUTES_BITS)
