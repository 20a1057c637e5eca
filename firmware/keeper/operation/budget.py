"""When the night budget is made, and what is said of it.

Every quarter of an hour of light, and at once when a wish changes: learn from
the quarter that ended, plan the rest, set the governor's setpoint.  A rig that lacks
level, flow meter or lamps' meter plans by `keeper.operation.ranged`.
"""

from keeper.channels import INVALID, LIMB, T_DOWN, T_LAMP
from keeper.protection.derived import LEVEL_MEAN
from keeper.protection.elements import TURBINE, number
from keeper.events import LIGHT_LASTS, LIGHT_PLANNED
from keeper.modes import RUNNING

QUARTER_DS = 9000
LOOK_DS = 10             # how often a changed wish is looked for
UL_PER_ML = 1000
WANTED, LEAST = 0, 1     # which power a message about lasting speaks of
SHORT, LASTS, UNKNOWN, MAY_LAST = 0, 1, 2, 3  # what a plan says of the water
NO_PLAN = -2             # announced: nobody knows the water
ANNOUNCED_AGAIN_PERCENT = 10  # a power that changed by less is not announced again
VOLUMES_DISAGREE = number("3-VOL") - 1


class Budget:
    """Plans the light of one keeper.

    Attributes: next_ds, uptime at which `work` has something to do; tank, the water that is
    reckoned, None where a level reads it.
    """

    tank = None
    light_total = T_LAMP

    def __init__(self, keeper):
        """Take the keeper; the plan begins with its first light."""
        self.keeper = keeper
        self.next_ds = 0
        self.quarter_ds = 0      # uptime at which this quarter began
        self.steady_mW = 0       # setpoint of the whole quarter so far, 0 = not steady
        self.energy_mJ = self.water_uL = 0  # totals when it began
        self.announced_mW = -1   # what was last said of the night
        self.announced_short = False

    def work(self):
        """Look whether something is to be learned or planned."""
        keeper = self.keeper
        light = keeper.core.sequence.light
        now_ds = keeper.uptime_ds
        self.next_ds = now_ds + LOOK_DS
        if self._follow(now_ds):
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

    def _follow(self, now_ds):
        """Reckon the water, where no level reads it; return whether it was unknown [bool]."""
        return False

    def _begin(self, light, now_ds):
        self.steady_mW = light.setpoint_mW
        self.quarter_ds = now_ds
        self.energy_mJ = self._total(self.light_total)
        self.water_uL = self._total(T_DOWN)

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
        return (self._total(T_DOWN) - self.water_uL) // UL_PER_ML

    def _water(self):
        """Return the water that is surely there, and that may be [mL]; INVALID if unknown."""
        keeper = self.keeper
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
        self._tell(light, power_mW, self._said(power_mW, lasts, water_mL, most_mL, minutes),
                   water_mL, most_mL)

    def _said(self, power_mW, lasts, water_mL, most_mL, minutes):
        """Return what is said of the water, where it is read."""
        return LASTS if lasts else SHORT

    def _tell(self, light, power_mW, said, water_mL, most_mL):
        if self.keeper.core.protection.hold & TURBINE:
            return  # no light comes now, whatever the water would give
        change = power_mW - self.announced_mW
        if self.announced_mW > 0 and abs(change) * 100 < ANNOUNCED_AGAIN_PERCENT * power_mW and (
                said != SHORT or self.announced_short):
            return
        self.announced_mW = power_mW
        self.announced_short = said == SHORT
        self.keeper.events.post(LIGHT_PLANNED, said, power_mW)
        self._tell_hours(light, power_mW, said, water_mL, most_mL)

    def _tell_hours(self, light, power_mW, said, water_mL, most_mL):
        """Tell how long the water lasts, where it does not last so long as is wanted."""
        night = self.keeper.night
        post = self.keeper.events.post
        if said == SHORT:
            post(LIGHT_LASTS, WANTED, night.lasts_min(light.wanted_mW, water_mL))
            if night.useful_mW < light.wanted_mW:
                post(LIGHT_LASTS, LEAST, night.lasts_min(night.useful_mW, water_mL))
