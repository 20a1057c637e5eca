"""What a day's sun and tank could give: an ideal keeper, worked out from the plant's physics.

It knows the truth and loses no second: it pumps whenever the sun gives a
useful flow, there is room and water and nothing that is true holds it off,
but for the waits after weak starts that the design demands (`waiting`), and of the light
after a stop that the board takes for an empty tank (`limits`); it gives
the light that is wanted while water lasts, dimmed as the design says
(design 4, night budget).  It has no element, no delay, no trial and no noise.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from forebay.twin.downhill import Downhill
from forebay.twin.plant import Plant
from forebay.twin.store import Tank
from keeper.physics import gravity, water
from tests.campaign.limits import COVERAGE, Limits
from tests.campaign.looking import ASKS_LIGHT, Sunlit
from tests.campaign.wishes import STOPPED, TANK, Wishes

STEP_S = 10.0
REPLAN_S = 900.0           # a plan is made each quarter of an hour (design 4)
POINTS = 40                # of the flow, at which the light of a litre is worked out
SETTLED_S = 120.0          # a wheel has its speed by then
TRIES = 64                 # powers tried between the wanted and the least useful one
ASKED = 0.9                # share of an ideal keeper's litres and light that is asked for
COVERS = 2.0               # standard uncertainties: 95 %, JCGM 100
PUMP, LIGHT = "pump", "light"


class Curve:
    """Steady lamp power over flow [W over m3/s], from the twin's own downhill side."""

    def __init__(self, rig):
        """Takes the rig; lets the wheel settle at each flow that the valve can let through."""
        degC = rig["site.water_temperature_degC"]
        g = gravity.normal_m_s2(rig["site.latitude_deg"], rig["site.height_m"])
        self.head_m = rig["upper.base_height_m"] + rig["upper.height_m"]
        self.down = Downhill(rig, water.density_kg_m3(degC),
                             water.kinematic_viscosity_m2_s(degC), g)
        self.most_m3_s, self.most_W = self._settled(1.0)
        points = [(0.0, 0.0)]
        # Evenly over the flow: a wide valve lets most of it through in a tenth of its travel.
        for place in range(1, POINTS):
            flow_m3_s = self.most_m3_s * place / POINTS
            points.append(self._settled(self.down.travel_for_frac(flow_m3_s, self.head_m)))
        points.append((self.most_m3_s, self.most_W))
        self.pieces = [(*points[place], *points[place + 1]) for place in range(POINTS)]

    def _settled(self, position):
        """Returns flow [m3/s] and lamp power [W] of a valve that stands there."""
        down = self.down
        down.position = down.commanded = position
        down.travel(position)
        for _ in range(int(SETTLED_S / 0.1)):
            down.step(0.1, self.head_m, True)
        return down.flow, down.lamp_A * down.generator_V

    def flow_m3_s(self, power_W):
        """Returns the flow [m3/s] for a lamp power [W]; the fullest for more than there is."""
        for flow_0, power_0, flow_1, power_1 in self.pieces:
            if power_1 >= power_W and power_1 > power_0:
                return flow_0 + (flow_1 - flow_0) * (power_W - power_0) / (power_1 - power_0)
        return self.most_m3_s

    def power_W(self, flow_m3_s):
        """Returns the lamp power [W] of a flow [m3/s]."""
        for flow_0, power_0, flow_1, power_1 in self.pieces:
            if flow_1 >= flow_m3_s:
                return power_0 + (power_1 - power_0) * (flow_m3_s - flow_0) / (flow_1 - flow_0)
        return self.most_W

    def fullest_m3_s(self, head_m):
        """Returns the flow [m3/s] with the valve open under a head [m]: all losses are square."""
        return self.most_m3_s * (max(0.0, head_m) / self.head_m) ** 0.5


_CURVES: dict = {}


def curve_of(rig):
    """Returns the curve of a rig; the tanks' start and the battery do not change it."""
    key = tuple(sorted((name, str(value)) for name, value in rig.items()
                       if name.split(".")[0] in ("turbine", "generator", "lamps", "penstock",
                                                 "valve", "site", "upper")
                       and "start" not in name))
    if key not in _CURVES:
        _CURVES[key] = Curve(rig)
    return _CURVES[key]


class Given(NamedTuple):
    """What a day could have given."""

    lifted_L: float
    lamp_J: float


class Reckoned:
    """What a rig without a level surely knows of its water, by the truth at its floats.

    Between them it reckons with what a litre gives, which is uncertain as the rig states, and
    with the meter in the rising main, if there is one; what it does not see come up it does
    not count on.
    """

    def __init__(self, rig):
        """Takes the rig."""
        self.rig = rig
        self.wrong = COVERS * rig["turbine.output_uncertainty"]
        self.full_m3 = rig["upper.full_volume_m3"] - rig["upper.empty_volume_m3"]
        self.sees_flow = rig["sensors.flow_up"] == "fitted"
        self.known_m3: float | None = None     # None: no float has told yet
        self.before_m3: float | None = None

    def follow(self, plant):
        """After each step."""
        now_m3 = plant.upper.volume_m3
        change_m3 = now_m3 - (now_m3 if self.before_m3 is None else self.before_m3)
        self.before_m3 = now_m3
        if plant.full.up:
            self.known_m3 = self.full_m3
        elif not plant.upper_wet.up:
            self.known_m3 = 0.0
        elif self.known_m3 is not None and (change_m3 < 0.0 or self.sees_flow):
            self.known_m3 = max(0.0, self.known_m3 + change_m3 - self.wrong * abs(change_m3))

    def sure_m3(self, there_m3):
        """Returns what is surely there [m3]; there_m3: what is."""
        return there_m3 if self.known_m3 is None else (1.0 - self.wrong) * self.known_m3

    def most_m3(self, there_m3):
        """Returns what may be there [m3]."""
        return max(there_m3, (1.0 + self.wrong) * (self.known_m3 or 0.0))


class Ideal:
    """One ideal keeper over one day.  `run` plays it."""

    def __init__(self, rig, sun, wishes: Wishes, told, waits=(), believes_m3=0.0,
                 pump_first=False, reckons=False, floods=False):
        """Takes rig, sun, wishes that know nothing yet, and what was asked for at its times.

        waits: (from, to) in which the pump is held off [s]; believes_m3: how much more
        water it takes the upper tank to hold [m3]; pump_first: what begins where light is
        wanted by day and the sun is there; reckons: it knows the water at the floats only;
        floods: it goes on with the light over a full lower tank, which nothing shows it.
        """
        self.pump_first = pump_first
        self.floods = floods
        self.reckoned = Reckoned(rig) if reckons else None
        # Nothing shows it the dusk while the pump runs: light that is wanted ends a run.
        self.sees_sun = "fitted" in (rig["sensors.panel_meter"], rig["sensors.pump_meter"])
        self.waits = list(waits)
        self.rig = rig
        self.plant = Plant(rig, sun)
        self.wishes = wishes
        self.told = list(told)
        self.believes_m3 = believes_m3
        self.limits = Limits(rig)
        self.sunlit = Sunlit(rig)
        self.curve = curve_of(rig)
        self.side = None
        self.weak_s = 0.0
        self.power_W = self.planned_W = 0.0
        self.plan_s = 0.0
        self.freed_s = -1e9
        self.rests_s = -1e9        # until when the light rests after a stop that nobody reads
        self.lamp_J = 0.0

    def run(self, until_s) -> Given:
        """Plays the day up to a time [s]."""
        plant = self.plant
        while plant.time_s < until_s:
            self._hear(plant.time_s)
            flow = self.sunlit.flow_m3_s(plant)
            self._decide(plant.time_s, flow)
            plant.command(1 if self.side == PUMP else 0, 0)
            plant.down.flow = 0.0
            if self.side == LIGHT:
                self._light()
            elif self._drains(plant.time_s):
                self._let_down(self.curve.fullest_m3_s(self._head_m()))
            plant.step(STEP_S)
            if self.reckoned:
                self.reckoned.follow(plant)
            self.wishes.pass_time(plant.time_s, STEP_S, plant.up.panel_V < self.limits.dark_V,
                                  self.limits.dark_s)
        return Given(plant.up.volume_m3 * 1e3, self.lamp_J)

    def _hear(self, now_s):
        while self.told and self.told[0].at_s <= now_s:
            told = self.told.pop(0)
            if told.code == STOPPED:
                self.plant.press_stop(bool(told.a))
                if not told.a:
                    self.freed_s = now_s
                elif self.side == LIGHT and self.limits.stop_rest_s:
                    self.rests_s = now_s + self.limits.unlit_s + self.limits.stop_rest_s
            elif told.code == TANK:
                self.plant.tank_valve_open = bool(told.a)
                if self.plant.frost.full and not told.a:
                    self.plant.frost.full = False
                    self.plant.penstock.empty(self.plant.lower)
                self.plant.rewire()
            else:
                self.wishes.tell(told)
                if told.code in ASKS_LIGHT:
                    self.rests_s = now_s
            self.planned_W = 0.0

    def _head_m(self):
        return self.plant.upper.base_m + self.plant.upper.level_m

    def _free(self, now_s):
        """Nothing that holds both sides off is true."""
        plant = self.plant
        freeze_degC = self.rig["limits.freeze_temperature_degC"]
        return not (plant.stop_pressed or now_s - self.freed_s < self.limits.trip_wait_s
                    or self.wishes.maintained or plant.frost.degC < freeze_degC
                    or plant.battery.volts < self.rig["supply.low_voltage_V"])

    def _drains(self, now_s):
        plant = self.plant
        return (self.wishes.drains(now_s) and not plant.stop_pressed and plant.tank_valve_open
                and plant.upper.volume_m3 > 0.0)

    def _decide(self, now_s, flow):
        """Which side runs: what runs goes on while it can; else light before the pump."""
        plant, wishes = self.plant, self.wishes
        while self.waits and self.waits[0][1] <= now_s:
            self.waits.pop(0)
        waits = bool(self.waits) and self.waits[0][0] <= now_s
        free = self._free(now_s)
        wanted_W = wishes.light_W(now_s) or 0.0
        lights = (free and wanted_W > 0.0 and plant.upper_wet.up
                  and (self.floods or not plant.lower_full.up)
                  and plant.tank_valve_open and now_s >= self.rests_s)
        pumps = (free and not waits and wishes.pump(now_s) and not plant.full.up
                 and plant.lower_wet.up
                 and not plant.over_full.up and plant.motor.degC < self.limits.motor_degC)
        strong = flow >= self.limits.useful_m3_s
        self.weak_s = 0.0 if strong else self.weak_s + STEP_S
        if self.side == PUMP and pumps and self.weak_s < self.rig["limits.trial_s"] and (
                self.sees_sun or not lights):
            return
        if self.side == LIGHT and lights:
            self._plan(now_s, wanted_W)
            return
        self.side = None
        starts = pumps and strong and not wishes.dark
        if lights and not (starts and self.pump_first and self.sees_sun):
            self.side = LIGHT
            self._plan(now_s, wanted_W)
        elif starts:
            self.side = PUMP

    def _plan(self, now_s, wanted_W):
        """The most power that lasts, never below the useful; the wanted where none lasts."""
        if wanted_W == self.planned_W and now_s < self.plan_s:
            return
        self.planned_W, self.plan_s = wanted_W, now_s + REPLAN_S
        self.power_W = wanted_W
        must_s = self.wishes.must_last_s(now_s)
        if must_s is None:
            return
        spare_m3 = (self.plant.upper.volume_m3 + self.believes_m3
                    - self.rig["upper.empty_volume_m3"])
        most_m3 = spare_m3
        if self.reckoned:
            most_m3 = self.reckoned.most_m3(spare_m3)
            spare_m3 = self.reckoned.sure_m3(spare_m3)
        least_W = min(self.limits.useful_W, wanted_W)
        for one in range(TRIES + 1):
            power_W = wanted_W - (wanted_W - least_W) * one / TRIES
            if self.curve.flow_m3_s(power_W) * must_s <= spare_m3:
                self.power_W = power_W
                return
        # What may be there is all that is left for the least useful one.
        if self.curve.flow_m3_s(least_W) * must_s <= most_m3:
            self.power_W = least_W

    def _light(self):
        flow = min(self.curve.flow_m3_s(self.power_W), self.curve.fullest_m3_s(self._head_m()))
        self._let_down(flow)
        self.lamp_J += min(self.power_W, self.curve.power_W(flow)) * STEP_S

    def _let_down(self, flow_m3_s):
        """Moves the water by hand: the plant's own turbine stands."""
        plant = self.plant
        volume = min(flow_m3_s * STEP_S, plant.upper.volume_m3)
        plant.down.flow = flow_m3_s   # the pipe stays as warm as its water
        plant.upper.add(-volume)
        plant.lower.add(volume)
        plant._floats()


def could_give(rig, sun, make_wishes, told, waits, until_s, is_enough) -> Given:
    """Returns what an ideal keeper would have given up to a time [s]: the least that is sure.

    A plan of the night knows the water only as well as the level's sensor; the
    light that is asked for is the least of what it may then believe.  Nor is it a
    fault which of two wishes came first by day: light that is ordered, or the pump.
    A rig without a level knows its water at the floats, and reckons between them.  One that
    does not see its lower tank full lights on over it, and lifts nothing meanwhile, or a
    person ends that light by the hand valve (remaining.LEFT).
    is_enough: what was really given is enough beside this; then no less is looked for.
    """
    error_m3 = (COVERAGE * rig["sensors.level_uncertainty_m"]
                * rig["upper.full_volume_m3"] / _level_m(rig))
    least = Given(math.inf, math.inf)
    ways = [(0.0, False, False), (0.0, True, False),
            (-error_m3, False, False), (error_m3, False, False)]
    if rig["sensors.level"] == "absent":
        ways[2:] = [(0.0, False, True)]
    if rig["sensors.lower_full_float"] == "absent":
        ways += [(*way, True) for way in ways]
    for way in ways:
        one = Ideal(rig, sun, make_wishes(), told, waits, *way).run(until_s)
        least = Given(*map(min, least, one))
        if is_enough(least):
            break
    return least


def _level_m(rig):
    """Level of a full upper tank [m]."""
    tank = Tank(rig, "upper", rig["upper.overflow_volume_m3"], 1.0)
    return tank.shape.level_m(rig["upper.full_volume_m3"])


def falls_short(rig, given: Given, lifted_L, lamp_J, wanted_W):
    """Returns what a day gave too little of [sentences].

    Beside the share, one start each: the rig's own waits at the pump's rated
    flow, and at the wanted light.
    """
    start_s = (rig["limits.start_wait_s"] + rig["limits.trial_s"]
               + rig["limits.pump_least_off_s"])
    start_L = rig["pump.rated_flow_m3_s"] * start_s * 1e3
    light_J = wanted_W * (rig["limits.light_least_off_s"] + 2 * rig["valve.travel_s"])
    said = []
    if lifted_L < ASKED * given.lifted_L - start_L:
        said.append(f"{lifted_L:.0f} L were lifted, {given.lifted_L:.0f} L could have been")
    if lamp_J < ASKED * given.lamp_J - light_J:
        said.append(f"{lamp_J / 3600:.2f} Wh of light came,"
                    f" {given.lamp_J / 3600:.2f} Wh could have been")
    return said

