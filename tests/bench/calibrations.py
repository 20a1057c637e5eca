"""Whether the intervals of each calibration's fit hold the truth, and are no wider than need be.

    python -m tests.bench.calibrations [TRIALS [NAME ...]]

Each trial draws a rig at hand by the stated uncertainties, the errors of its meters and of
the person's references (each point's own, and those that all points share, such as the hand
meter's), makes readings by laws written here, and asks the fit for 95 % intervals.  Expected,
before any run: of each figure 94 to 98 % of them hold the truth.  Beside it stands the width
against an independent Monte Carlo: the root mean square of the stated standard uncertainties
over that of what the fits were really off; 1 is just right.
"""

import math
import sys
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from forebay.calibrate.tasks import electric, flow, leak, level, motor, pump, sweep, tank, valve
from forebay.calibrate.tasks import temperature as thermometers
from forebay.rig import load
from forebay.rig.doubt import doubt
from forebay.rig.schema import KEYS, NAME_OF
from keeper.physics import of_rig
from keeper.physics.solar_pump import SolarPump

TRIALS = 2000
LEAST, MOST = 0.94, 0.98
ASSUMED_FRAC = 0.5   # what an assumed figure of a motor's heat may be off, one u
DEMO = load()
VALUES, DOUBTS = DEMO.plant(), doubt(DEMO)
SENSORS = DEMO.sensors


class Told(NamedTuple):
    """What a fit told of one figure: its name, what it is off, its u, whether 95 % held it."""

    name: str
    off: float
    u: float
    is_held: bool


def told(name, fit, place, truth):
    """Returns what a fit told of a figure whose truth is known."""
    off = float(fit.values[place]) - truth
    return Told(name, off, fit.u(place), abs(off) <= fit.factor * fit.u(place))


def buckets(draw) -> Iterator[Told]:
    """3 to 8 buckets at a meter that is off by its 2 %; mark 50 mL each, the bucket 1 %."""
    count, pulses = draw.choice(flow.COUNTS), 450.0
    mark_L, mark_frac = 0.05, 0.01
    gain = 1 + SENSORS.flow_frac * draw.standard_normal()   # read over true
    bucket = 1 + mark_frac * draw.standard_normal()
    found = []
    for number in range(count):
        true, rate = draw.uniform(8, 12), draw.uniform(0.02, 0.06)
        hands = rate * flow.HAND_S * draw.standard_normal(2)
        counted = math.floor((true + hands.sum()) * gain * pulses + draw.uniform())
        litres = true * bucket + mark_L * draw.standard_normal()
        found.append(flow.Bucket(str(number), litres, counted / pulses, rate))
    yield told("litres by hand over litres read", flow.fit(found, mark_L, mark_frac, pulses), 0,
               1 / gain)


def dips(draw) -> Iterator[Told]:
    """3 to 10 dips over the tank of a sensor that is off in zero and span; rule 2 mm off."""
    count = draw.choice(level.COUNTS)
    zero_m, gain = 0.02 * draw.standard_normal(), 1 + 0.02 * draw.standard_normal()
    dip_m, rule_m, u_read = 0.003, 0.002, 0.0008
    true = np.linspace(0.1, 1.0, count) + draw.uniform(-0.02, 0.02, count)
    read = (true - zero_m) / gain + u_read * draw.standard_normal(count)
    dipped = true + rule_m * draw.standard_normal() + dip_m * draw.standard_normal(count)
    about = float(read.mean())
    fit = level.fit(read, dipped, np.full(count, u_read), dip_m, rule_m, about)
    yield told("level at the middle", fit, 0, zero_m + gain * about)
    yield told("its gain", fit, 1, gain)


def hand_meter(draw) -> Iterator[Told]:
    """1 to 5 readings of a voltage beside a hand meter of 0.3 %."""
    count = draw.choice(electric.COUNTS)
    gain, frac, digit = 1 + 0.005 * draw.standard_normal(), 0.003, 0.01 / math.sqrt(12)
    u_read = np.full(count, 0.006)
    true = draw.uniform(8, 26, count)
    by_hand = true * (1 + frac * draw.standard_normal()) + 0.01 * draw.uniform(-0.5, 0.5, count)
    read = true * gain + u_read * draw.standard_normal(count)
    fit = electric.fit(read, by_hand, u_read, digit, frac)
    yield told("by hand over read", fit, 0, 1 / gain)


def references(draw) -> Iterator[Told]:
    """A thermometer in ice, cool and warm water, the known thermometer 0.3 K off."""
    true = np.array([0.0, draw.uniform(8, 15), draw.uniform(35, 45)])
    own = np.array([thermometers.ICE_K, thermometers.READ_K, thermometers.READ_K])
    shared = np.array([0.0, 0.3, 0.3])
    off, u_read = 0.5 * draw.standard_normal(), np.full(3, 0.02)
    known = true + own * draw.standard_normal(3) + shared * draw.standard_normal()
    read = true - off + u_read * draw.standard_normal(3)
    yield told("offset", thermometers.fit_offset(read, known, u_read, own, shared), 0, off)
    ohm = 1e4 * (1 + 0.02 * draw.standard_normal())
    beta = 3950 * (1 + 0.01 * draw.standard_normal())
    room = thermometers.ROOM_K
    ohms = ohm * np.exp(beta * (1 / (true + 273.15) - 1 / room))
    ohms *= np.exp(0.001 * draw.standard_normal(3))
    fit = thermometers.fit_thermistor(ohms, known, np.full(3, 0.001), own, shared)
    yield told("log of a thermistor's ohms", fit, 0, math.log(ohm))
    yield told("its beta", fit, 1, beta)


def strokes(draw) -> Iterator[Told]:
    """An end's position of 2 to 5 strokes, and the pace of one."""
    count, u = draw.choice(valve.COUNTS), 0.0004
    at = 0.01 * draw.standard_normal()
    ends = at + u * draw.standard_normal(count)
    yield told("position of an end", valve.fit_end(ends, np.full(count, u)), 0, at)
    pace = 1 / draw.uniform(3.0, 20.0)
    said = np.arange(0.2, 0.8, pace * 0.1) / pace
    there = 0.2 + pace * (said + 0.1 * draw.uniform(-0.5, 0.5, len(said)) - said[0])
    there = np.round(there, 3)
    yield told("pace of a stroke", valve.fit_pace(said, there, valve.STEP), 1, pace)


def _drawn(draw, names):
    """Returns the values of a rig at hand, some of whose figures are off by their doubts."""
    def one(name):
        low, high = KEYS[NAME_OF[name]].bounds
        return min(max(VALUES[name] + DOUBTS[name] * draw.standard_normal(), low), high)
    return {**VALUES, **{name: one(name) for name in names}}


def valve_sweep(draw) -> Iterator[Told]:
    """Five setpoints: water by travel, of a machine that is off by its doubts."""
    at_hand = _drawn(draw, (*sweep.VALVE, *sweep.OF_VALVE))
    heads = VALUES["upper.base_height_m"] + draw.uniform(0.4, 0.9) - 0.02 * np.arange(5)
    true_heads = heads + at_hand["upper.base_height_m"] - VALUES["upper.base_height_m"]
    travels = np.sort(draw.uniform(0.2, 0.75, 5))
    flows = sweep.valve_flows(at_hand, travels, true_heads)
    own = 0.003 * flows
    read = travels + SENSORS.valve_frac * draw.standard_normal() + (
        DEMO.valve.backlash * sweep.FULL_WIDTH * draw.standard_normal(5))
    metered = flows * (1 + SENSORS.flow_frac * draw.standard_normal()) + (
        own * draw.standard_normal(5))

    found = sweep.fit(lambda values: sweep.valve_flows(values, read, heads), sweep.VALVE, VALUES,
                      DOUBTS, metered, sweep.valve_errors(DEMO, DOUBTS, read, heads, metered, own))
    for place, name in enumerate(found.names):
        if _is_better(found.fit, place, name):
            yield told(name, found.fit, place, at_hand[name])


def _is_better(fit, place, name):
    """Returns whether a figure is found as surely as it was known: else it stands."""
    return fit.u(place) / fit.values[place] <= DOUBTS[name] / VALUES[name]


def wheel_sweep(draw) -> Iterator[Told]:
    """Five setpoints: water by lamp power, of a machine that is off by its doubts."""
    at_hand = _drawn(draw, (*sweep.WHEEL, *sweep.OF_WHEEL))
    powers = np.array(sweep.setpoints(DEMO.lamps.steps_W))
    flows = sweep.wheel_flows(at_hand, powers)
    own = 0.003 * flows
    metered = flows * (1 + SENSORS.flow_frac * draw.standard_normal()) + (
        own * draw.standard_normal(len(powers)))
    read = powers * (1 + SENSORS.voltage_frac * draw.standard_normal()) * (
        1 + SENSORS.current_frac * draw.standard_normal())

    found = sweep.fit(lambda values: sweep.wheel_flows(values, read), sweep.WHEEL, VALUES, DOUBTS,
                      metered, sweep.wheel_errors(DEMO, DOUBTS, read, metered, own))
    for place, name in enumerate(found.names):
        if _is_better(found.fit, place, name):
            yield told(name, found.fit, place, at_hand[name])


def motor_run(draw) -> Iterator[Told]:
    """Fifty minutes of pumping in a sun that wanders, an hour of rest; 30 s a row."""
    names = ("motor.cooled_resistance_K_W", "motor.still_resistance_K_W",
             "motor.heat_capacity_J_K")
    at_hand = [VALUES[name] * (1 + 0.15 * draw.standard_normal()) for name in names]
    loss_frac, offset_K, u_K = 0.05, 0.5, 0.03
    rows, pumps = np.arange(220), 100
    cooled = rows < pumps
    loss = np.where(cooled, 4.0 + 2.0 * np.sin(rows / draw.uniform(5, 12)), 0.0)
    seconds, water = np.full(len(rows), 30.0), np.full(len(rows), 12.0)
    true = motor.Course(seconds, loss * (1 + loss_frac * draw.standard_normal()), water, cooled,
                        np.zeros(len(rows)))
    air, first = draw.uniform(5, 25), draw.uniform(11, 14)
    felt = motor.felt(true, 20.0, [*at_hand, air, first])
    felt = felt + offset_K * draw.standard_normal() + u_K * draw.standard_normal(len(rows))
    read = true._replace(loss_W=loss, water_degC=water + offset_K * draw.standard_normal(),
                         felt_degC=felt)
    fit = motor.fit(read, 20.0, [VALUES[name] for name in names], u_K, loss_frac, offset_K)
    for place, name in enumerate(names):
        # By the program's own rule, else the figure stands, as of an assumed one.
        if fit.u(place) <= ASSUMED_FRAC * fit.values[place]:
            low, high = motor.interval(fit, place)
            yield told(name, fit, place, at_hand[place])._replace(
                is_held=low <= at_hand[place] <= high)


def tank_filling(draw) -> Iterator[Told]:
    """A filling of 24 points: the tank is off by 2 %, the meter by its 2 %, the level by 5 mm."""
    scale, area = 1 + 0.02 * draw.standard_normal(), 1.0
    levels = np.linspace(0.15, 0.9, 24)
    angle = math.pi / 2 * levels / DEMO.upper.height_m
    u_m = SENSORS.level_uncertainty_m
    off = u_m * (draw.standard_normal() * np.cos(angle) + draw.standard_normal() * np.sin(angle))
    own_m = 0.0004
    read = levels + off + own_m * draw.standard_normal(24)
    metered = scale * area * (levels - levels[0]) * (
        1 + SENSORS.flow_frac * draw.standard_normal())
    moves = [area * u_m * np.cos(angle), area * u_m * np.sin(angle)]
    fit = tank.fit(area * read, metered, np.full(24, area * own_m), SENSORS.flow_frac, moves)
    yield told("litres metered over litres by level", fit, 1, scale)


def pump_rows(draw) -> Iterator[Told]:
    """60 rows of a wandering sun: the pump is off, and meters, winding, heights and main too."""
    at_hand = _drawn(draw, ("pump.shut_off_head_m", "motor.resistance_ohm",
                            "upper.inlet_height_m", "lower.base_height_m",
                            "rising_main.diameter_m"))
    # What brings voltage to speed is the rated point as stated, beside the winding.
    stated = SolarPump(*of_rig.solar_pump(VALUES, *of_rig.water(VALUES)))
    machine = SolarPump(*of_rig.solar_pump(at_hand, *of_rig.water(at_hand)))
    all_m3, u_all_m3 = 1.4, 0.03
    water_m3 = all_m3 + u_all_m3 * draw.standard_normal()
    lower = of_rig.tank(VALUES, "lower.")
    level_m = np.linspace(0.3, 0.9, 60)
    area_m2 = DEMO.upper.length_m * DEMO.upper.width_m
    below = np.array([lower.level_m(water_m3 - area_m2 * one) for one in level_m])
    lift = at_hand["upper.inlet_height_m"] - at_hand["lower.base_height_m"] - below
    flow_true = draw.uniform(2e-5, 6e-5, 60)
    loss = np.array([machine.pipe.loss_m(one) for one in flow_true])
    curve_m = lift + loss + machine.inner_s2_m5 * flow_true**2
    ratio = np.sqrt(curve_m / machine.head_m) * (1 + 0.0015 * draw.standard_normal(60))
    amps = stated.no_load_A + ratio * (stated.torque_0 * ratio + stated.torque_q * flow_true
                                       ) / stated.emf
    volts = stated.emf * stated.rated_speed * ratio + at_hand["motor.resistance_ohm"] * amps
    points = pump.points_by(
        DEMO, volts * (1 + SENSORS.voltage_frac * draw.standard_normal()),
        amps * (1 + SENSORS.current_frac * draw.standard_normal()),
        flow_true * (1 + SENSORS.flow_frac * draw.standard_normal()), level_m, all_m3)
    fit = pump.fit(points, pump.OWN_FRAC * points.head, pump.shared_of(DEMO, points, u_all_m3))
    yield told("shut-off head", fit, 0, machine.head_m)
    rated = DEMO.pump.rated_flow_m3_s
    slopes = [1.0, -rated**2]
    off = float(fit.values @ slopes) - (machine.head_m - machine.inner_s2_m5 * rated**2)
    yield Told("rated head", off, fit.along(slopes), abs(off) <= fit.factor * fit.along(slopes))


def rests(draw) -> Iterator[Told]:
    """1 to 6 rests of 2 to 8 hours of a tank that loses some water, seen with 1 mm of noise."""
    lost_L_h, litres_m = draw.uniform(0.0, 2.0), 1000.0
    falls, us = [], []
    for _ in range(draw.integers(1, 7)):
        at_s = np.arange(0.0, 3600.0 * draw.uniform(2, 8), leak.GROUP_S)
        seen = 0.5 - lost_L_h / litres_m / 3600 * at_s + 0.001 * draw.standard_normal(len(at_s))
        litres_h, u = leak.lost(leak.fall(at_s, seen), 1.0)
        falls.append(litres_h)
        us.append(u)
    yield told("lost at rest", leak.rate(falls, us), 0, lost_L_h)


CASES: dict[str, Callable[[np.random.Generator], Iterator[Told]]] = {
    "buckets": buckets, "dips": dips, "hand-meter": hand_meter, "references": references,
    "strokes": strokes, "tank": tank_filling, "pump": pump_rows, "rests": rests,
    "valve": valve_sweep, "wheel": wheel_sweep, "motor": motor_run,
}


class Covered(NamedTuple):
    """Of a figure: how many trials told of it, how many held, the stated width over the true."""

    trials: int
    held: float
    width: float


def covered(name: str, trials: int) -> dict[str, Covered]:
    """Returns how the intervals of a case's figures hold, by figure."""
    draw = np.random.default_rng([len(name), *name.encode()])
    found: dict[str, list[Told]] = {}
    for _ in range(trials):
        for one in CASES[name](draw):
            found.setdefault(one.name, []).append(one)
    return {figure: _of(some) for figure, some in found.items()}


def _of(some):
    off, u = np.array([(one.off, one.u) for one in some]).T
    return Covered(len(some), float(np.mean([one.is_held for one in some])),
                   float(np.sqrt((u**2).mean() / (off**2).mean())))


def main(arguments):
    """Runs the cases that are named, or all, and prints a line a figure."""
    trials = int(arguments[0]) if arguments else TRIALS
    missed = 0
    for name in arguments[1:] or CASES:
        for figure, one in covered(name, trials).items():
            is_in = LEAST <= one.held <= MOST
            missed += not is_in
            print(f"{name:11} {figure:34} {one.trials:6} {100 * one.held:6.1f} %"
                  f"  width {one.width:5.2f}  {'' if is_in else 'MISSED'}", flush=True)
    return missed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
