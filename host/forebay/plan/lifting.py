"""What goes up in a day: the rig's solar pump over sun and lift, with the keeper's own waits.

The machine is `keeper.physics.solar_pump`, tabled once over sun, warmth of the cells and
lift; a day is then a march in steps over all the days at once, quasi-steady.  What ends a
run and how long a start waits is the rig's own: its limits and what its instruments see.
Knows nothing of where the sun comes from.
"""

import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from forebay.rig import instruments, protecting
from forebay.twin.uphill import CHARGER_SHARE
from keeper.physics import of_rig
from keeper.physics.panel import REFERENCE_W_M2, max_power_point
from keeper.physics.solar_pump import SolarPump

# Sun at which the machine is tabled [W/m2]: close together where it begins to lift, and where
# its curve bends; a straight line between two of them lies below it.
SUNS_W_M2 = (*range(10, 300, 10), *range(300, 800, 20), *range(800, 1500, 100))
CELLS_degC = (-10.0, 15.0, 40.0, 65.0)   # in a straight line between, and as at the ends beyond
# Enough to say by how much a change of the rig changes the day.
FEW_SUNS_W_M2 = (40, 55, 70, 85, 100, 120, 140, 170, 200, 250, 300, 370, 450, 570, 700, 850,
                 1000, 1300)
FEW_CELLS_degC = (0.0, 50.0)
KEPT_MACHINES = 4            # a review asks three times of one rig, and each time takes long
LEVELS = 17                  # of a tank, between which its level is a straight line
DAY_S = 86400.0
WATT_BY_MILLIWATT = 1e-3


class Machine(NamedTuple):
    """The pump on its panel over lift, cells and sun: arrays [2, cells, suns]."""

    lifts_m: tuple[float, float]
    suns_W_m2: tuple[float, ...]
    cells_degC: tuple[float, ...]
    flow_m3_s: np.ndarray
    drawn_W: np.ndarray      # by the pump
    heat_W: np.ndarray       # of that, in the motor
    volts: np.ndarray        # at the panel, under the pump
    open_V: np.ndarray       # with nothing on it
    best_W: np.ndarray       # the most that the panel gives


class Lifted(NamedTuple):
    """What came of each day: arrays [machine or way, day], volumes [m3], energies [J], times [s].

    offered_J: [machine, day].
    """

    lifted_m3: np.ndarray
    running_s: np.ndarray
    full_s: np.ndarray       # of pumping till full; nan = not full
    drawn_J: np.ndarray
    offered_J: np.ndarray    # by the panel at its best, all day
    starts: np.ndarray
    hottest_W: np.ndarray    # heat in the motor, at most

    def of(self, *place: Any) -> "Lifted":
        """Return what came of some of the days."""
        return Lifted(*(one[place] for one in self))


def lifts_m(values: Mapping[str, Any]) -> tuple[float, float]:
    """Return the shortest and the longest lift [m]: the lower tank full, and at its low float."""
    shape = of_rig.tank(values, "lower.")
    from_m = values["upper.inlet_height_m"] - values["lower.base_height_m"]
    return (from_m - shape.level_m(values["lower.full_volume_m3"]),
            from_m - shape.level_m(values["lower.low_volume_m3"]))


def machine(values: Mapping[str, Any]) -> Machine:
    """Return the rig's pump and panel, tabled; values: by "section.key_unit" [SI].

    The tables are for reading only: whoever asks again of the same rig is given the same ones.
    """
    return _tabled(json.dumps(dict(values), sort_keys=True))


@lru_cache(KEPT_MACHINES)
def _tabled(text):
    values = json.loads(text)
    pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    lifts = lifts_m(values)
    found = np.array([[[(*_under_load(pump, sun, cell, lift), *_unloaded(pump))
                        for sun in SUNS_W_M2] for cell in CELLS_degC] for lift in lifts])
    found.setflags(write=False)
    return Machine(lifts, SUNS_W_M2, CELLS_degC, *np.moveaxis(found, -1, 0))


def rough(values: Mapping[str, Any]) -> Machine:
    """Return the machine by few points, over the middle lift: to compare with another such."""
    pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    lifts = lifts_m(values)
    found = np.array([[[(*_under_load(pump, sun, cell, sum(lifts) / 2), pump.rest_V(0.0))
                        for sun in FEW_SUNS_W_M2] for cell in FEW_CELLS_degC]] * 2)
    flow, drawn_W, heat_W, volts, open_V = np.moveaxis(found, -1, 0)
    return Machine(lifts, FEW_SUNS_W_M2, FEW_CELLS_degC, flow, drawn_W, heat_W, volts, open_V,
                   np.zeros_like(flow))


def _under_load(pump, sun_W_m2, cell_degC, lift_m):
    """Return flow, power drawn, heat in the motor, voltage."""
    flow, volts, amps, _ = pump.steady(sun_W_m2, cell_degC, lift_m)
    copper_W, no_load_W, _, _ = pump.losses_W(True)
    return flow, volts * amps, copper_W + no_load_W, volts


def _unloaded(pump):
    """Return, in the sun that was set, the open voltage and the best power."""
    best_W = max_power_point(pump.light, pump.dark, pump.ideal, pump.series, pump.shunt)[2]
    return pump.rest_V(0.0), best_W


class Sun(NamedTuple):
    """Days of sun: arrays [day, step], and the length of a step [s]."""

    poa_W_m2: np.ndarray
    cell_degC: np.ndarray
    step_s: float


class Chance(NamedTuple):
    """Ways in which days may go: arrays [way, day] and [way]."""

    more: np.ndarray         # times what the machine lifts, and what is seen of it [-]
    late_s: np.ndarray       # the first start comes so much later than it might


def over_sun(made, table, sun_W_m2, cell_degC):
    """Return a table [lift, cell, sun] at each step: [lift, day, step]; nothing in the dark."""
    suns = np.concatenate((np.zeros(1), made.suns_W_m2))
    place = np.interp(cell_degC, made.cells_degC, np.arange(len(made.cells_degC)))
    found = np.zeros((len(table), *sun_W_m2.shape))
    for lift, rows in enumerate(table):
        for number, row in enumerate(rows):
            share = np.maximum(0.0, 1.0 - np.abs(place - number))
            found[lift] += share * np.interp(sun_W_m2, suns, np.concatenate((np.zeros(1), row)))
    return found


def seen_table(values, made):
    """Return the table by which a run is judged, as far as the rig's instruments see it."""
    if instruments.is_fitted(values, "flow_up"):
        return made.flow_m3_s
    if instruments.is_fitted(values, "pump_meter"):
        return made.drawn_W
    return made.volts if instruments.is_fitted(values, "panel_meter") else made.flow_m3_s


def least_seen(values):
    """Return the least of that table that lets a run go on; 0 = it is not judged."""
    if instruments.is_fitted(values, "flow_up"):
        return values["limits.useful_flow_m3_s"]
    if instruments.is_fitted(values, "pump_meter"):
        return WATT_BY_MILLIWATT * protecting.useful_sure_mW(values)
    if instruments.is_fitted(values, "panel_meter"):
        return protecting.JUDGE_FRAC * values["pump.rated_voltage_V"]
    return 0.0


def march(values: Mapping[str, Any], machines: Sequence[Machine], sun: Sun,
          is_endless: np.ndarray | bool = False,
          begin_m3: tuple[float, float] | None = None, chance: Chance | None = None) -> Lifted:
    """Return what each of some machines lifts on each day.

    values: of the rig [SI], whose tanks and rules are the same for all; is_endless: of each
    day, whether the upper tank never fills and the lower never runs low: what the sun alone
    would lift; begin_m3: water in the upper and the lower tank at midnight, None = as empty
    above and as full below as the floats let them be; chance: of one machine, ways in which
    the days may go: the result then has these in the place of machines.
    """
    below = eased(values, sun)
    least = least_seen(values)
    is_lit = sun.poa_W_m2.max(axis=0) > 0.0
    first, last = int(is_lit.argmax()), len(is_lit) - int(is_lit[::-1].argmax())
    tables = _tables(values, machines, below[:, first:last], sun.cell_degC[:, first:last])
    starts = may_start(values, machines, sun.poa_W_m2[:, first:last],
                       sun.cell_degC[:, first:last])
    count = len(machines) if chance is None else len(chance.late_s)
    day = Course(values, begin_m3, is_endless, (count, sun.poa_W_m2.shape[0]))
    more, day.late_s = (1.0, 0.0) if chance is None else (chance.more, chance.late_s[:, None])
    for step, allowed in enumerate(starts):
        share = day.lift_share(lifts_m(values))
        flow, seen, drawn_W, heat_W = (one[0][step] + one[1][step] * share for one in tables)
        day.step(sun.step_s, flow * more, seen * more >= least, drawn_W, heat_W, allowed)
    best_W = np.array([over_sun(one, one.best_W[:1], sun.poa_W_m2, sun.cell_degC)[0].sum(axis=1)
                       for one in machines])
    return day.lifted(best_W * sun.step_s)


def _tables(values, machines, sun_W_m2, cell_degC):
    """Return flow, what is seen, power drawn, heat: each at the least lift, and its growth.

    Arrays [step, machine, day].
    """
    found = []
    for of in (lambda one: one.flow_m3_s, lambda one: seen_table(values, one),
               lambda one: one.drawn_W, lambda one: one.heat_W):
        table = np.array([over_sun(one, of(one), sun_W_m2, cell_degC) for one in machines])
        least, most = np.ascontiguousarray(np.transpose(table, (1, 3, 0, 2)))
        found.append((least, most - least))
    return found


def may_start(values, machines, sun_W_m2, cell_degC):
    """Return whether the unloaded panel allows a start: [step, machine, day]."""
    if not instruments.any_fitted(values, instruments.SUN):
        return np.ones((sun_W_m2.shape[1], len(machines), sun_W_m2.shape[0]), bool)
    opened = np.array([over_sun(one, one.open_V[:1], sun_W_m2, cell_degC)[0]
                       for one in machines])
    return np.transpose(opened, (2, 0, 1)) >= values["limits.start_voltage_V"]


def flows_m3_s(values: Mapping[str, Any], made: Machine, sun: Sun) -> np.ndarray:
    """Return what the pump lifts at each step, over the middle of its lifts: [day, step]."""
    below = eased(values, sun)
    flow, seen = (over_sun(made, table, below, sun.cell_degC).mean(axis=0)
                  for table in (made.flow_m3_s, seen_table(values, made)))
    return np.where(seen >= least_seen(values), flow, 0.0)


def eased(values, sun):
    """Return the sun that is left for the pump [W/m2]: till the battery has its day's charge.

    What the charger takes is a part of the light current, and that goes with the sun.
    """
    amps_by_sun = values["panel.short_circuit_current_A"] / REFERENCE_W_M2
    taken = np.minimum(values["supply.charge_current_A"] / amps_by_sun,
                       CHARGER_SHARE * sun.poa_W_m2)
    needed_C = DAY_S * values["supply.board_load_W"] / values["supply.voltage_V"]
    given_C = np.cumsum(taken, axis=1) * amps_by_sun * sun.step_s
    return sun.poa_W_m2 - np.where(given_C <= needed_C, taken, 0.0)


class Course:
    """The state of all days at one step: water, what runs, what waits."""

    def __init__(self, values, begin_m3, is_endless, shape):
        tank = of_rig.tank(values, "lower.")
        self.full_m3, empty_m3 = values["upper.full_volume_m3"], values["upper.empty_volume_m3"]
        upper, lower = begin_m3 or (empty_m3, values["lower.full_volume_m3"])
        self.low_m3, self.inflow = values["lower.low_volume_m3"], values["lower.inflow_m3_s"]
        self.capacity_m3 = tank.capacity_m3
        self.volumes = np.linspace(0.0, tank.capacity_m3, LEVELS)
        self.levels = np.array([tank.level_m(float(one)) for one in self.volumes])
        self.from_m = values["upper.inlet_height_m"] - values["lower.base_height_m"]
        self.is_endless = np.broadcast_to(is_endless, shape)
        self.trial_s = values["limits.trial_s"]
        self.first_s = values["limits.holdoff_s"]
        self.longest_s = values["limits.holdoff_longest_s"]
        self.upper, self.lower = np.full(shape, upper), np.full(shape, lower)
        self.runs = np.zeros(shape, bool)
        self.waits_s, self.next_s = np.zeros(shape), np.full(shape, self.first_s)
        self.late_s: np.ndarray | float = 0.0
        self.ran_s, self.since_s = np.zeros(shape), np.zeros(shape)
        self.full_s = np.full(shape, np.nan)
        self.up, self.drawn, self.hottest, self.starts = (np.zeros(shape) for _ in range(4))

    def lift_share(self, lifts):
        """Return where the lift stands between the shortest and the longest [-]."""
        lift_m = self.from_m - np.interp(self.lower, self.volumes, self.levels)
        return (lift_m - lifts[0]) / (lifts[1] - lifts[0])

    def step(self, dt_s, flow, is_seen, drawn_W, heat_W, allowed):
        """Advance by a step; a run that is not seen to lift ends, and waits for longer."""
        room = self.is_endless | ((self.upper < self.full_m3) & (self.lower > self.low_m3))
        starts = ~self.runs & allowed & (self.waits_s <= 0.0) & (self.late_s <= 0.0) & room
        self.late_s = self.late_s - np.where(allowed, dt_s, 0.0)
        self.starts += starts
        weak = (self.runs | starts) & ~is_seen
        # A run that lasted for longer than the wait that would follow begins them anew.
        self.next_s = np.where(weak & (self.since_s > np.maximum(self.next_s, self.trial_s)),
                               self.first_s, self.next_s)
        self.waits_s = np.where(weak, self.next_s, np.maximum(0.0, self.waits_s - dt_s))
        self.next_s = np.where(weak, np.minimum(2.0 * self.next_s, self.longest_s), self.next_s)
        self.runs = (self.runs | starts) & is_seen & room
        self.since_s = np.where(self.runs, self.since_s + dt_s, 0.0)
        moved = np.where(self.runs, flow * dt_s, 0.0)
        taken = np.where(self.is_endless, 0.0, np.minimum(moved, self.full_m3 - self.upper))
        self.upper += taken
        self.lower = np.minimum(self.lower - taken + self.inflow * dt_s, self.capacity_m3)
        self.up += np.where(self.is_endless, moved, taken)
        self.ran_s += np.where(moved > 0.0, dt_s, 0.0)
        self.drawn += np.where(self.runs, drawn_W * dt_s, 0.0)
        self.hottest = np.where(self.runs, np.maximum(self.hottest, heat_W), self.hottest)
        just = np.isnan(self.full_s) & (self.upper >= self.full_m3)
        self.full_s = np.where(just, self.ran_s, self.full_s)

    def lifted(self, offered_J):
        """Return what came of the days."""
        return Lifted(self.up, self.ran_s, self.full_s, self.drawn, offered_J, self.starts,
                      self.hottest)
