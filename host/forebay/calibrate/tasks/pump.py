"""The pump's curve from past days: head over flow, each brought to rated speed.

Voltage and current give the speed, the level, the heights and the rising main's losses the
head: H = H0 s^2 - b Q^2 (affinity laws), which is straight in H0 and b.
"""

import math
from typing import NamedTuple

import numpy as np

from forebay.calibrate import fitting
from forebay.calibrate.outcomes import Drawn, Outcome, figure, stretched_said
from forebay.calibrate.sitting import CalibrateError, Sitting
from forebay.rig.doubt import doubt
from keeper import channels as ch
from keeper import modes
from keeper.physics import of_rig
from keeper.physics.solar_pump import SolarPump

MOST_ROWS = 600       # taken evenly from all of them
LEAST_ROWS = 30
L_MIN = 6e4
OWN_FRAC = 0.003      # of the head, in which a row's sun wanders; a guess, widened by scatter
STEP = 1e-3


class Points(NamedTuple):
    """Rows: speed over rated [-], flow [m3/s], head [m], volts [V], amps [A]."""

    ratio: np.ndarray
    flow: np.ndarray
    head: np.ndarray
    volts: np.ndarray
    amps: np.ndarray


def fit(points: Points, u_head_m, shared=()) -> fitting.Fit:
    """Return the fit of head = figure 0 ratio^2 - figure 1 flow^2 [m, s2/m5]."""
    columns = np.stack([points.ratio**2, -points.flow**2], axis=1)
    return fitting.linear(columns, points.head, u_head_m, shared=shared)


def points_of(past, rig, all_m3: float) -> Points:
    """Return the points of past days; all_m3: water in both tanks together [m3]."""
    values = rig.plant()
    machine = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    upper, lower = of_rig.tank(values, "upper."), of_rig.tank(values, "lower.")
    volts, amps = past.si(ch.PANEL_MV), past.si(ch.PUMP_MA)
    flow, level = past.si(ch.FLOW_UP), past.si(ch.LEVEL_MM)
    good = (past.state == modes.PUMPING) & (flow > rig.sensors.flow_floor_m3_s)
    good &= np.isfinite(volts) & np.isfinite(amps) & np.isfinite(level)
    rows = np.flatnonzero(good)
    if len(rows) < LEAST_ROWS:
        raise CalibrateError(f"{len(rows)} rows of pumping are among these days:"
                             f" {LEAST_ROWS} or more are needed; pull, or name other days")
    rows = rows[np.unique(np.linspace(0, len(rows) - 1, MOST_ROWS).astype(int))]
    volts, amps, flow, level = volts[rows], amps[rows], flow[rows], level[rows]
    ratio = (volts - machine.resistance * amps) / (machine.emf * machine.rated_speed)
    up_m3 = np.array([upper.volume_m3(min(max(one, 0.0), upper.height_m)) for one in level])
    below = np.clip(all_m3 - up_m3, 0.0, lower.capacity_m3)
    water_m = np.array([lower.level_m(float(one)) for one in below])
    lift = rig.upper.inlet_height_m - rig.lower.base_height_m - water_m
    loss = np.array([machine.pipe.loss_m(float(one)) for one in flow])
    return Points(ratio, flow, lift + loss, volts, amps)


def run(sitting: Sitting) -> Outcome:
    """Return the pump's shut-off and rated head from past days."""
    rig, outcome = sitting.rig, Outcome("pump")
    total_m3 = sitting.needed("water_in_all", "How much water is in both tanks together",
                              "volume", "L", 1e-3, 1e3)
    u_total_m3 = sitting.needed("water_in_all_u", "And how sure is that (standard uncertainty)",
                                "volume", "L", 0.0, 1e2)
    points = points_of(sitting.past, rig, total_m3)
    found = fit(points, OWN_FRAC * points.head,
                shared_of(rig, sitting.past, points, total_m3, u_total_m3))
    head, inner = found.values
    rated_flow = rig.pump.rated_flow_m3_s
    outcome.figures += [
        figure(rig, "pump.shut_off_head", float(head), found.u(0)),
        figure(rig, "pump.rated_head", float(head - inner * rated_flow**2),
               found.along([1.0, -rated_flow**2]))]
    outcome.notes += stretched_said(found, "the pump's rows")
    apart = len(found.apart())
    if apart:
        outcome.notes.append(f"{apart} of {len(points.flow)} rows lie apart from the curve; they"
                             " are in it, and drawn as such.")
    outcome.notes.append("The speed is taken by voltage and current, motor.resistance and the"
                         " rated point as they stand.")
    _draw(outcome, points, found)
    return outcome


def shared_of(rig, past, points, total_m3, u_total_m3) -> list[np.ndarray]:
    """Return by how much what all rows share moves head less curve [m], an error each."""
    base = fit(points, OWN_FRAC * points.head)
    doubts, sensors = doubt(rig), rig.sensors

    def left(points):
        return points.head - base.values[0] * points.ratio**2 + base.values[1] * points.flow**2

    there = left(points)
    pipe = (left(points_of(past, rig, total_m3 * (1 + STEP))) - there) / (STEP * total_m3)
    by_volt = points.volts / np.maximum(points.volts - rig.motor.resistance_ohm * points.amps,
                                        1e-3)
    by_amp = rig.motor.resistance_ohm * points.amps / np.maximum(
        points.volts - rig.motor.resistance_ohm * points.amps, 1e-3)
    square = 2 * base.values[0] * points.ratio**2
    return [
        2 * base.values[1] * points.flow**2 * sensors.flow_frac + _loss_m(rig, points)
        * 2 * sensors.flow_frac,
        -square * by_volt * sensors.voltage_frac,
        square * by_amp * math.hypot(sensors.current_frac, doubts["motor.resistance_ohm"]
                                     / rig.motor.resistance_ohm),
        pipe * u_total_m3,
        np.full(len(there), math.hypot(doubts["upper.inlet_height_m"],
                                       doubts["lower.base_height_m"])),
        _loss_m(rig, points) * 5 * doubts["rising_main.diameter_m"]
        / rig.rising_main.diameter_m]


def _loss_m(rig, points):
    values = rig.plant()
    machine = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    return np.array([machine.pipe.loss_m(float(one)) for one in points.flow])


def _draw(outcome, points, found):
    """Draw heads and flows as they would be at rated speed."""
    head, inner = found.values
    flows = points.flow / points.ratio * L_MIN
    heads = points.head / points.ratio**2
    some = np.unique(np.linspace(0, len(flows) - 1, 80).astype(int))
    apart = set(found.apart())
    curve = np.linspace(flows.min(), flows.max(), 30)
    outcome.drawn.append(Drawn(
        "The pump at rated speed", "flow, L/min", "head, m", flows[some].tolist(),
        heads[some].tolist(), (OWN_FRAC * heads[some] * found.stretch).tolist(),
        [f"row {one}" for one in some], [place for place, one in enumerate(some) if one in apart],
        curve.tolist(), (head - inner * (curve / L_MIN)**2).tolist()))
