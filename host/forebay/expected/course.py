"""The course of a span as the described rig would have taken it, many variants at once.

A march by the minute over the plan's own machine (`forebay.plan.lifting`), with the motor's
warmth and the light that was wished for.  The pump runs when it ran, so that what clouds did to
the keeper's waits is no part of the comparison; when it would have run by the keeper's own
rules is marched apart (`alone`).  A variant is the rig with one
figure otherwise, or its sun seen otherwise.
"""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from forebay.expected.conditions import MINUTE_S, Conditions, Wish
from forebay.expected.panelsun import Sunlight
from forebay.plan import lifting, spread
from forebay.plan import light as planned
from forebay.plan.lifting import Course, Machine, Sun
from forebay.rig import governing
from keeper.physics import of_rig
from keeper.physics.panel import REFERENCE_W_M2

L_PER_M3, S_PER_H = 1000.0, 3600.0


class Variant(NamedTuple):
    """One way in which it may have been: the rig [SI], its tabled pump, its sun.

    more_m3, below_m3: water above and below at the begin beside what is taken; lift_times,
    light_times: times the flow of either.
    """

    values: Mapping[str, Any]
    machine: Machine
    sun: Sunlight
    more_m3: float = 0.0
    below_m3: float = 0.0
    lift_times: float = 1.0
    light_times: float = 1.0


class Came(NamedTuple):
    """What came of each variant: arrays [variant], and by the minute [minute, variant]."""

    up_L: np.ndarray
    pump_J: np.ndarray
    hottest_degC: np.ndarray
    light_s: np.ndarray
    lamps_J: np.ndarray
    down_L: np.ndarray
    end_L: np.ndarray
    by_minute_up_L: np.ndarray

    def of(self, key: str) -> np.ndarray:
        """Return a figure of all variants; keys as `forebay.expected.figures.FIGURES` has them."""
        if key == "lifted":
            return _over(self.up_L, self.pump_J)
        if key == "given":
            return _over(self.lamps_J, self.down_L)
        return self.light_s / S_PER_H if key == "light_h" else getattr(self, key)


class Alone(NamedTuple):
    """When the pump would have run by the keeper's rules: by the minute, hours, starts."""

    runs: np.ndarray
    hours: float
    starts: int


def _over(above, below):
    return above / np.where(below > 0.0, below, np.nan)


def marched(conditions: Conditions, variants: Sequence[Variant], upper_m3: float) -> Came:
    """Return what comes of each variant from so much water above at the begin [m3]."""
    values = variants[0].values
    tables = [_tables(one, conditions.charge_A) for one in variants]
    least, growth = (np.stack([one[side] for one in tables], axis=-1) for side in (0, 1))
    water = _Water(conditions, variants, upper_m3)
    motor, light = _Motor(variants), _Light(conditions.wishes, variants)
    lifts = lifting.lifts_m(values)
    air_degC = np.stack([one.sun.air_degC for one in variants], axis=-1)
    ran, ups = conditions.ran_frac, []
    for minute in range(conditions.minutes):
        if ran[minute] > 0.0:
            share = water.lift_share(lifts)
            flow, drawn_W, heat_W = least[:, minute] + growth[:, minute] * share
            water.lift(MINUTE_S * ran[minute], flow, drawn_W)
            motor.step(ran[minute], heat_W, flow, air_degC[minute])
        else:
            motor.step(0.0, 0.0, 0.0, air_degC[minute])
            light.step(minute * MINUTE_S, water)
        ups.append(water.up_m3.copy())
    return Came(water.up_m3 * L_PER_M3, water.drawn_J, motor.hottest_degC, light.lit_s,
                light.lamps_J, light.down_m3 * L_PER_M3, water.upper * L_PER_M3,
                np.array(ups) * L_PER_M3)


def alone(conditions: Conditions, one: Variant, upper_m3: float) -> Alone:
    """Return when the pump of a rig would have run, left to its keeper."""
    values, sun = one.values, one.sun
    bare = Sun(sun.poa_W_m2[None, :], sun.cell_degC[None, :], MINUTE_S)
    below = lifting.eased(values, bare)
    tables = [lifting.over_sun(one.machine, table, below, bare.cell_degC)[:, 0] for table in (
        one.machine.flow_m3_s, lifting.seen_table(values, one.machine), one.machine.drawn_W,
        one.machine.heat_W)]
    allowed = lifting.may_start(values, [one.machine], bare.poa_W_m2, bare.cell_degC)[:, 0]
    day = Course(values, (upper_m3, conditions.lower_m3), False, (1,))
    lifts, least_seen = lifting.lifts_m(values), lifting.least_seen(values)
    runs = np.zeros(conditions.minutes, bool)
    for minute in range(conditions.minutes):
        share = day.lift_share(lifts)
        flow, seen, drawn_W, heat_W = (table[0, minute] + (table[1, minute] - table[0, minute])
                                       * share for table in tables)
        day.step(MINUTE_S, flow, seen >= least_seen, drawn_W, heat_W, allowed[minute])
        runs[minute] = day.runs[0]
    return Alone(runs, float(runs.sum()) * MINUTE_S / S_PER_H, int(day.starts[0]))


def _tables(one: Variant, charge_A):
    """Return flow, power drawn, heat at the least lift, and their growth to the most.

    Arrays [table, minute].  What the charger took is no part of the pump's light.
    """
    values, made, sun = one.values, one.machine, one.sun
    bare = Sun(sun.poa_W_m2[None, :], sun.cell_degC[None, :], MINUTE_S)
    taken_W_m2 = charge_A * REFERENCE_W_M2 / values["panel.short_circuit_current_A"]
    below = np.where(np.isfinite(taken_W_m2), np.maximum(0.0, bare.poa_W_m2 - taken_W_m2),
                     lifting.eased(values, bare))
    found = []
    for table, times in ((made.flow_m3_s, one.lift_times), (made.drawn_W, 1.0),
                         (made.heat_W, 1.0)):
        both = times * lifting.over_sun(made, table, below, bare.cell_degC)[:, 0]
        found.append((both[0], both[1] - both[0]))
    least, growth = (np.array([each[side] for each in found]) for side in (0, 1))
    return least, growth


class _Water:
    """The water of both tanks, of each variant."""

    def __init__(self, conditions, variants, upper_m3):
        values = variants[0].values
        self.full_m3 = np.array([one.values["upper.full_volume_m3"] for one in variants])
        self.low_m3 = np.array([one.values["lower.low_volume_m3"] for one in variants])
        self.upper = np.minimum(
            upper_m3 + np.array([one.more_m3 for one in variants]), self.full_m3)
        self.lower = conditions.lower_m3 + np.array([one.below_m3 for one in variants])
        tank = of_rig.tank(values, "lower.")
        self.capacity_m3 = tank.capacity_m3
        self.volumes = np.linspace(0.0, tank.capacity_m3, lifting.LEVELS)
        self.levels = np.array([tank.level_m(float(one)) for one in self.volumes])
        self.from_m = values["upper.inlet_height_m"] - values["lower.base_height_m"]
        self.inflow_m3_s = values["lower.inflow_m3_s"]
        self.up_m3, self.drawn_J = np.zeros(len(variants)), np.zeros(len(variants))

    def lift_share(self, lifts):
        """Return where the lift stands between the shortest and the longest [-]."""
        lift_m = self.from_m - np.interp(self.lower, self.volumes, self.levels)
        return (lift_m - lifts[0]) / (lifts[1] - lifts[0])

    def lift(self, dt_s, flow, drawn_W):
        """Lift for a while [s], as far as there is room and water."""
        room_m3 = np.maximum(0.0, np.minimum(self.full_m3 - self.upper, self.lower - self.low_m3))
        moved = np.minimum(flow * dt_s, room_m3)
        self.upper = self.upper + moved
        self.lower = np.minimum(self.lower - moved + self.inflow_m3_s * dt_s, self.capacity_m3)
        self.up_m3 += moved
        # A pump that stops as soon as it may not go on draws no more.
        self.drawn_J += np.where(room_m3 > 0.0, drawn_W * dt_s, 0.0)


class _Motor:
    """The motors' warmth: one time constant, cooled by water while it flows, else by air."""

    def __init__(self, variants):
        heats = [of_rig.motor_heat(one.values) for one in variants]
        self.water_degC = np.array([one.values["site.water_temperature_degC"]
                                    for one in variants])
        self.cooled, self.still, self.heat = (
            np.array([getattr(one, name) for one in heats])
            for name in ("cooled_K_W", "still_K_W", "heat_J_K"))
        self.degC = np.array([one.degC for one in heats])
        self.hottest_degC = np.full(len(variants), -np.inf)

    def step(self, ran_frac, heat_W, flow, air_degC):
        """Warm for a minute, by the exact course of a first order."""
        # A pump that runs and lifts nothing is cooled by nothing but the air.
        cooled = (flow > 0.0) & (ran_frac > 0.5)
        resistance = np.where(cooled, self.cooled, self.still)
        near = np.where(cooled, self.water_degC, air_degC)
        target = near + heat_W * ran_frac * resistance
        share = -np.expm1(-MINUTE_S / (resistance * self.heat))
        self.degC = self.degC + (target - self.degC) * share
        if ran_frac > 0.0:
            self.hottest_degC = np.maximum(self.hottest_degC, self.degC)


class _Light:
    """The light that was wished for, from the water that is there."""

    def __init__(self, wishes: Sequence[Wish], variants):
        self.wishes = wishes
        count = len(variants)
        self.lit_s, self.lamps_J, self.down_m3 = (np.zeros(count) for _ in range(3))
        self.empty_m3 = np.array([one.values["upper.empty_volume_m3"] for one in variants])
        self.times = np.array([one.light_times for one in variants])
        self.full_below_m3 = np.array([one.values["lower.full_volume_m3"] for one in variants])
        self.takes = [_takes([one.values for one in variants], wish.power_W) for wish in wishes]

    def step(self, now_s, day):
        """Let down for a minute, if light is wished for and no pump runs."""
        wished = next((place for place, one in enumerate(self.wishes)
                       if one.begin_s <= now_s + MINUTE_S / 2 < one.end_s), None)
        if wished is None:
            return
        power_W, flow, ends_m3, dim_W, dim_flow = self.takes[wished]
        holds = day.upper > ends_m3
        flow = np.where(holds, flow, dim_flow) * self.times
        room_m3 = np.maximum(0.0, np.minimum(day.upper - self.empty_m3,
                                             self.full_below_m3 - day.lower))
        passed_s = np.where(flow > 0.0, np.minimum(MINUTE_S, room_m3 / np.maximum(flow, 1e-12)),
                            0.0)
        moved = flow * passed_s
        day.upper = day.upper - moved
        day.lower = np.minimum(day.lower + moved, day.capacity_m3)
        self.down_m3 += moved
        self.lit_s += passed_s
        self.lamps_J += np.where(holds, power_W, dim_W) * passed_s


def _takes(rigs, power_W):
    """Return (power, flow, where it ends, power and flow below that) of each rig: arrays."""
    known: dict[tuple, tuple] = {}
    rows = []
    for values in rigs:
        key = tuple(values[name] for name in _of_light(values))
        if key not in known:
            known[key] = _taken(values, power_W)
        rows.append(known[key])
    return [np.array(column) for column in zip(*rows, strict=True)]


def _of_light(values):
    return [name for name in values if name.split(".")[0] in spread.LIGHT
            and not isinstance(values[name], list)]


def _taken(values, power_W):
    made = governing.turbine_set(values)
    flow = made.flow_for_lamps_m3_s(power_W)
    least_m = planned.least_head_m(made, flow)
    shape = of_rig.tank(values, "upper.")
    base_m, empty_m3 = values["upper.base_height_m"], values["upper.empty_volume_m3"]
    above_m = min(max(0.0, least_m - base_m), shape.height_m)
    ends_m3 = max(empty_m3, shape.volume_m3(above_m))
    middle_m = base_m + shape.level_m(0.5 * (ends_m3 + empty_m3))
    dim_flow, _, _, dim_W = made.steady(1.0, middle_m)
    return power_W, flow, ends_m3, dim_W, dim_flow
