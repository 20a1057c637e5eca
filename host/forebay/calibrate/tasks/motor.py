"""The motor's heat from one run: how it warms while it pumps, and cools while it stands.

A body and the sensor on it, first order each, as `keeper.physics.heat.MotorHeat`; over a row
in which losses and surroundings are steady both are followed exactly.
"""

import math
from typing import NamedTuple

import numpy as np

from forebay.calibrate import fitting
from forebay.calibrate.outcomes import Drawn, Outcome, figure, said, stretched_said
from forebay.calibrate.sitting import CalibrateError, Sitting
from forebay.rig.doubt import doubt
from forebay.rig.schema import KEYS, PLACE_OF
from keeper import channels as ch
from keeper import modes

# Three time constants of a small motor at rest, some 20 minutes each: an air that nobody
# measured is else not told from its resistance.
LEAST_PUMP_S, LEAST_STILL_S = 1800.0, 3600.0
MOST_ROWS = 1500
STEP = 1e-3
HAIR = 1e-6            # two time constants that are one are taken this far apart
PLACES = ("motor.cooled_resistance", "motor.still_resistance", "motor.heat_capacity")
SIXTEENTH_K = 0.0625 / math.sqrt(12)


class Course(NamedTuple):
    """A run in rows: seconds, losses [W], water [degC], whether water cools, the sensor [degC]."""

    seconds: np.ndarray
    loss_W: np.ndarray
    water_degC: np.ndarray
    is_cooled: np.ndarray
    felt_degC: np.ndarray


def felt(course: Course, lag_s: float, p) -> np.ndarray:
    """Return the mean of each row of the sensor [degC].

    p: resistance cooled and still [K/W], heat capacity [J/K], air [degC], first [degC].
    """
    cooled, still, heat, air, first = (float(one) for one in p)
    resistance = np.where(course.is_cooled, cooled, still)
    lasting = np.where(course.is_cooled, course.water_degC, air) + course.loss_W * resistance
    tau = resistance * heat
    tau = np.where(np.abs(tau - lag_s) < HAIR * lag_s, tau * (1 + HAIR), tau)
    body_left, lag_left = np.exp(-course.seconds / tau), np.exp(-course.seconds / lag_s)
    share = tau / (tau - lag_s)
    body_mean = share * tau * (1 - body_left) / course.seconds
    lag_mean = lag_s * (1 - lag_left) / course.seconds
    body, sensor, found = first, first, []
    for row in range(len(course.seconds)):
        over = body - lasting[row]
        own = sensor - lasting[row] - share[row] * over
        found.append(lasting[row] + over * body_mean[row] + own * lag_mean[row])
        sensor = lasting[row] + share[row] * over * body_left[row] + own * lag_left[row]
        body = lasting[row] + over * body_left[row]
    return np.array(found)


def fit(course: Course, lag_s: float, start, u_K, loss_frac: float, offset_K: float,
        ) -> fitting.Fit:
    """Return the fit of a run: cooled, still [K/W], heat [J/K], air [degC], first [degC].

    start: the first three as they stand; u_K: own standard uncertainty of a row's mean;
    loss_frac: of the losses [-], offset_K: of either thermometer [K], which all rows share.
    """
    first = float(course.felt_degC[0])
    air = float(course.felt_degC[-1])
    begin = [*start, air if abs(air) > STEP else 1.0, first if abs(first) > STEP else 1.0]
    low = [KEYS[place].bounds[0] for place in PLACES] + [-60.0, -60.0]
    high = [KEYS[place].bounds[1] for place in PLACES] + [125.0, 125.0]
    bounds = (np.array(low), np.array(high))
    # A thermometer gone mad may begin beyond what any air is.
    begin = np.clip(begin, *bounds)
    rough = fitting.curved(lambda p: felt(course, lag_s, p), begin, course.felt_degC, u_K,
                           bounds=bounds)
    p = rough.values
    there = felt(course, lag_s, p)
    more = course._replace(loss_W=course.loss_W * (1 + STEP))
    warmer = course._replace(water_degC=course.water_degC + STEP)
    shared = [(felt(more, lag_s, p) - there) / STEP * loss_frac,
              (felt(warmer, lag_s, p) - there) / STEP * offset_K,
              np.full(len(there), offset_K)]
    return fitting.curved(lambda p: felt(course, lag_s, p), p, course.felt_degC, u_K, shared,
                          bounds)


def interval(found: fitting.Fit, place: int) -> tuple[float, float]:
    """Return what covers 95 % of one of PLACES.

    By the losses, of which all are known least: with (1 + e) times those that are taken the
    resistances come out (1 + e) times what they are, straight in their logarithm, and the heat
    capacity 1 / (1 + e) times, of which e is a share of what came out: straight in itself.
    """
    if place == PLACES.index("motor.heat_capacity"):
        return found.interval(place)
    return found.ratio_interval(place)


def course_of(past, rig) -> Course:
    """Return the longest run of past days in which the motor pumped and then stood."""
    volts, amps = past.si(ch.PANEL_MV), past.si(ch.PUMP_MA)
    motor, water = past.si(ch.MOTOR_MDEGC), past.si(ch.WATER_MDEGC)
    known = np.isfinite(volts) & np.isfinite(amps) & np.isfinite(motor) & np.isfinite(water)
    pumps = past.state == modes.PUMPING
    best = None
    for one in past.runs(known, LEAST_PUMP_S + LEAST_STILL_S):
        found = _part(past, pumps, one)
        if found is not None and (best is None or _size(past, found) > _size(past, best)):
            best = found
    if best is None:
        raise CalibrateError("no run of half an hour of pumping, followed by an hour without,"
                             " is among these days: name another day with --date")
    # Current and voltage of a motor at rest are noise.
    runs = pumps[best] | (past.state[best] == modes.TRIAL)
    amps, volts = np.where(runs, amps[best], 0.0), np.where(runs, volts[best], 0.0)
    winding = rig.motor.resistance_ohm
    loss = winding * amps**2 + np.maximum(volts - winding * amps, 0.0) * np.minimum(
        rig.motor.no_load_current_A, amps)
    cooled = runs & (past.si(ch.FLOW_UP)[best] > 0.0)
    return Course(past.seconds[best], loss, water[best], cooled, motor[best])


def _part(past, pumps, run):
    """Return the part of a run from its longest pumping to the rest behind it, None if none."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], pumps[run].astype(int), [0]])))
    best = None
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        seconds = past.seconds[run]
        behind = int(edges[edges > last][0]) if (edges > last).any() else len(seconds)
        if (seconds[first:last].sum() >= LEAST_PUMP_S
                and seconds[last:behind].sum() >= LEAST_STILL_S):
            found = slice(run.start + first, min(run.start + behind, run.start + first
                                                 + MOST_ROWS))
            if best is None or _size(past, found) > _size(past, best):
                best = found
    return best


def _size(past, part):
    return past.seconds[part].sum()


def run(sitting: Sitting) -> Outcome:
    """Return the motor's two resistances and its heat capacity from one run of past days."""
    rig, outcome = sitting.rig, Outcome("motor")
    course = course_of(sitting.past, rig)
    values, doubts = rig.plant(), doubt(rig)
    copper = course.loss_W.sum() or 1.0
    loss_frac = math.hypot(doubts["motor.resistance_ohm"] / rig.motor.resistance_ohm,
                           doubts["motor.no_load_current_A"] / rig.motor.no_load_current_A
                           * min(1.0, _no_load_J(course, rig) / copper))
    u_K = math.hypot(rig.sensors.temperature_noise_K / math.sqrt(course.seconds.min()),
                     SIXTEENTH_K)
    start = [values[PLACE_OF[place]] for place in PLACES]
    found = fit(course, rig.motor.sensor_lag_s, start, u_K, loss_frac,
                rig.sensors.temperature_uncertainty_K)
    for place, name in enumerate(PLACES):
        outcome.figures.append(figure(rig, name, float(found.values[place]), found.u(place)))
        low, high = interval(found, place)
        outcome.told.append((f"95 % of {name}", f"{said(name, low)} to {said(name, high)}"))
    outcome.told.append(("air by the motor", f"{found.values[3]:.1f} degC as it stood"
                         f" (u {found.u(3):.1g} K)"))
    outcome.notes += stretched_said(found, "the run")
    outcome.notes.append("Its losses are taken by motor.resistance and motor.no_load_current as"
                         " they stand: measure those first.")
    minutes = np.cumsum(course.seconds) / 60
    some = np.unique(np.linspace(0, len(minutes) - 1, 60).astype(int))
    curve = felt(course, rig.motor.sensor_lag_s, found.values)
    outcome.drawn.append(Drawn(
        "TI-MOT over one run", "minutes", "degC", minutes[some].tolist(),
        course.felt_degC[some].tolist(), [u_K * found.stretch] * len(some),
        [f"minute {minutes[one]:.0f}" for one in some],
        [place for place, one in enumerate(some) if one in set(found.apart())],
        minutes[some].tolist(), curve[some].tolist()))
    return outcome


def _no_load_J(course, rig):
    return float(course.is_cooled.sum()) * rig.motor.no_load_current_A * rig.pump.rated_voltage_V
