"""Hazards that come slowly, looked for once a second: battery, ice, no light, no pumping."""

from forebay.twin.uphill import Uphill
from keeper.clock import PERIODS_PER_S
from keeper.operation import orders
from keeper.operation.actuators import GrowingRest
from keeper.physics import gravity, water
from tests.campaign.limits import LIGHT_NEEDS, PAID, PUMP_NEEDS, SCAN_S
from tests.campaign.wishes import BEGAN, PRESSED

EACH_S = 1.0
SUN_EACH_S = 30.0        # how often one asks what the pump would give now
LIFTS_FRAC = 0.5         # of the useful flow: lifting less is as good as resting; a guess
DELAY_OF_COLD_S = 60.0   # frost comes slowly: the delay of 23-WTR
# What ends a light that is wanted, and is no person's doing: it rests longer each time.
ENDS_LIGHT = ("upper dry", "lower full", "supply low")
# Where the board does not read the local stop, for it the stop is what ends a light.
UNREAD_ENDS_LIGHT = (*ENDS_LIGHT, "stopped")
# Who asks for light anew, or a board that begins anew: the rest before it is over.
ASKS_LIGHT = (PRESSED, BEGAN, orders.LIGHT, orders.BRIGHTNESS, orders.LAST)


class Sunlit:
    """A second pump under the same sun: what it would lift now, were it on."""

    def __init__(self, rig):
        """Takes the rig."""
        degC = rig["site.water_temperature_degC"]
        self.up = Uphill(rig, water.density_kg_m3(degC), water.kinematic_viscosity_m2_s(degC),
                         gravity.normal_m_s2(rig["site.latitude_deg"], rig["site.height_m"]))

    def flow_m3_s(self, plant):
        """Returns the flow [m3/s] of the pump, full of water and free."""
        up, real = self.up, plant.up
        if real.light <= 0.0:
            return 0.0
        up.light, up.dark, up.ideal = real.light, real.dark, real.ideal
        up.shunt, up.beyond_V = real.shunt, real.beyond_V
        lift_m = plant.inlet_m - plant.lower.base_m - plant.lower.level_m
        up.step(EACH_S, True, lift_m, plant.battery.volts, plant.battery.appetite(), True)
        return up.flow


class Rests:
    """How much longer than at the least a light may rest, by what in truth ended it.

    By the keeper's own rule; a stop that the truth does not explain earns nothing.
    """

    def __init__(self, watch, rig):
        """Takes the watch and the rig."""
        self.watch = watch
        self.least_s = rig["limits.light_least_off_s"]
        is_read = rig["sensors.local_stop"] == "fitted"
        self.ends = ENDS_LIGHT if is_read else UNREAD_ENDS_LIGHT
        self.rule = GrowingRest(int(self.least_s), int(rig["limits.light_rest_longest_s"]))
        self.ran_s = self.longer_s = 0.0

    def follow(self, passed_s, is_wanted):
        """After each look."""
        watch = self.watch
        if watch.valve() and not watch.drains():
            self.ran_s += passed_s
            return
        by_stop = bool(watch.limits.stop_rest_s) and watch.stop_shows()
        if self.ran_s and is_wanted and (
                by_stop or any(watch.false_s[name] for name in self.ends)):
            if by_stop:
                self.rule.lengthen()
            rest_s = self.rule.begin(int(self.ran_s) * PERIODS_PER_S) / PERIODS_PER_S
            self.longer_s = max(0.0, rest_s - self.least_s)
        self.ran_s = 0.0

    def end(self):
        """Somebody asks for light: it comes after the shortest rest."""
        self.longer_s = 0.0


class Looking:
    """Follows battery, ice, light and sun of a watched twin."""

    def __init__(self, watch, rig):
        """Takes the watch and the rig."""
        self.watch = watch
        self.twin = watch.twin
        self.sunlit = Sunlit(rig)
        self.rests = Rests(watch, rig)
        self.cold_s = DELAY_OF_COLD_S
        self.next_s = self.next_sun_s = 0.0
        self.before_s = watch.twin.plant.time_s
        self.sunny = False
        self.dark_s = self.idle_s = 0.0
        self.told = 0            # things asked for until now

    def check(self):
        """Looks once a second."""
        plant, watch = self.twin.plant, self.watch
        now_s = plant.time_s
        if now_s < self.next_s:
            return
        passed_s, self.before_s = now_s - self.before_s, now_s
        self.next_s = now_s + EACH_S - 1e-6
        limits, battery = watch.limits, plant.battery
        # A panel that the pump draws down shows neither day nor night.
        is_dark = None if plant.pump_commanded else plant.up.panel_V < limits.dark_V
        if self.twin.powered:
            self.twin.wishes.pass_time(now_s, passed_s, is_dark, limits.dark_s)
        step_s, watch.step_s = watch.step_s, passed_s
        if plant.frost.ice:
            watch.see("frozen", plant.frost.ice if plant.frost.is_harmed() else 0.0)
        watch.see("flat", passed_s if battery.flat else 0.0)
        watch.see("overcharged", max(battery.charge_frac - limits.full_frac(step_s),
                                     battery.volts - limits.battery_V))
        self._light(now_s, passed_s)
        self._sun(now_s, passed_s)
        watch.step_s = step_s

    def _free(self, needs):
        """Whether nothing that is true holds a side off."""
        watch = self.watch
        return (watch.works and self.twin.powered and not watch.waits()
                and not any(watch.false_s[name] for name in needs))

    def _light(self, now_s, passed_s):
        """Light that is wanted, with water there, the pump at rest, and the lamps dark.

        What is dark for a while is made up for by light, but slowly: a light that starts
        and stops all night is none.  After each thing asked for it is counted anew.
        """
        plant, limits = self.twin.plant, self.watch.limits
        wanted_W = self.twin.wishes.light_W(now_s)
        is_lit = plant.down.lamp_A * plant.down.generator_V > 0.5 * limits.useful_W
        told, self.told = self.told, len(self.twin.wishes.told)
        self.rests.follow(passed_s, bool(wanted_W))
        if any(one.code in ASKS_LIGHT for one in self.twin.wishes.told[told:]):
            self.rests.end()
        if (not wanted_W or plant.pump_commanded or not self._free(LIGHT_NEEDS)
                or plant.upper.level_m < plant.upper_wet.level_m or not plant.penstock_open
                or told != self.told):
            self.dark_s = 0.0
            return
        if is_lit:
            self.dark_s = max(0.0, self.dark_s - PAID * passed_s)
            return
        self.dark_s += passed_s
        self.watch.over("dark", self.dark_s, limits.unseen_s + self.rests.longer_s)

    def _is_full(self):
        """Whether the upper tank is full; without the float as near it as the level may err."""
        plant = self.twin.plant
        return plant.full.up or plant.upper.level_m > self.watch.limits.full_level_m

    def _sun(self, now_s, passed_s):
        """Sun for a useful flow, room, water, and a pump that rests, or starts and lifts none."""
        plant, limits, wishes = self.twin.plant, self.watch.limits, self.twin.wishes
        lifts = plant.up.flow > LIFTS_FRAC * limits.useful_m3_s
        if now_s >= self.next_sun_s or plant.pump_commanded and not lifts:
            self.next_sun_s = now_s + SUN_EACH_S
            self.sunny = self.sunlit.flow_m3_s(plant) > limits.useful_m3_s
        if (not self.sunny or lifts or wishes.light_W(now_s) != 0.0
                or not wishes.pump(now_s) or self._is_full() or not self._free(PUMP_NEEDS)):
            self.idle_s = 0.0
            return
        self.idle_s += passed_s
        self.watch.over("idle", self.idle_s, limits.idle_s + SCAN_S)
