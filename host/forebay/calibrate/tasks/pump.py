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
LEAST_V = 1e-3       # behind the winding
# Loss in a pipe goes with its diameter to about minus five (Darcy-Weisbach).
LOSS_BY_DIAMETER = 5.0


class Points(NamedTuple):
    """Rows: speed over rated [-], flow [m3/s], head and what of it the rising main loses [m],
    volts [V], amps [A], by how much more water in all moves the head [m/m3]; left_out: rows
    that no pump can have given.
    """

    ratio: np.ndarray
    flow: np.ndarray
    head: np.ndarray
    loss: np.ndarray
    volts: np.ndarray
    amps: np.ndarray
    by_water: np.ndarray
    left_out: int = 0


def fit(points: Points, u_head_m, shared=()) -> fitting.Fit:
    """Return the fit of head = figure 0 ratio^2 - figure 1 flow^2 [m, s2/m5]."""
    columns = np.stack([points.ratio**2, -points.flow**2], axis=1)
    return fitting.linear(columns, points.head, u_head_m, shared=shared)


def points_of(past, rig, all_m3: float) -> Points:
    """Return the points of past days; all_m3: water in both tanks together [m3]."""
    volts, amps = past.si(ch.PANEL_MV), past.si(ch.PUMP_MA)
    flow, level = past.si(ch.FLOW_UP), past.si(ch.LEVEL_MM)
    good = (past.state == modes.PUMPING) & (flow > rig.sensors.flow_floor_m3_s)
    good &= np.isfinite(volts) & np.isfinite(amps) & np.isfinite(level)
    # What lifts water turns, so there are volts behind the winding.
    turns = volts - rig.motor.resistance_ohm * amps > LEAST_V
    rows = np.flatnonzero(good & turns)
    if len(rows) < LEAST_ROWS:
        raise CalibrateError(f"{len(rows)} rows of pumping are among these days:"
                             f" {LEAST_ROWS} or more are needed; pull, or name other days")
    rows = rows[np.unique(np.linspace(0, len(rows) - 1, MOST_ROWS).astype(int))]
    found = points_by(rig, volts[rows], amps[rows], flow[rows], level[rows], all_m3)
    return found._replace(left_out=int(np.count_nonzero(good & ~turns)))


def points_by(rig, volts, amps, flow, level, all_m3: float) -> Points:
    """Return the points of rows: volts [V], amps [A], flow [m3/s], level [m]."""
    values = rig.plant()
    machine = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    upper, lower = of_rig.tank(values, "upper."), of_rig.tank(values, "lower.")
    ratio = (volts - machine.resistance * amps) / (machine.emf * machine.rated_speed)
    up_m3 = np.array([upper.volume_m3(min(max(one, 0.0), upper.height_m)) for one in level])

    def lift_m(water_m3):
        below = np.clip(water_m3 - up_m3, 0.0, lower.capacity_m3)
        water_m = np.array([lower.level_m(float(one)) for one in below])
        return rig.upper.inlet_height_m - rig.lower.base_height_m - water_m

    loss = np.array([machine.pipe.loss_m(float(one)) for one in flow])
    more_m3 = STEP * all_m3
    by_water = (lift_m(all_m3 + more_m3) - lift_m(all_m3 - more_m3)) / (2 * more_m3)
    return Points(ratio, flow, lift_m(all_m3) + loss, loss, volts, amps, by_water)


def run(sitting: Sitting) -> Outcome:
    """Return the pump's shut-off and rated head from past days."""
    rig, outcome = sitting.rig, Outcome("pump")
    total_m3 = sitting.needed("water_in_all", "How much water is in both tanks together",
                              "volume", "L", 1e-3, 1e3)
    u_total_m3 = sitting.needed("water_in_all_u", "And how sure is that (standard uncertainty)",
                                "volume", "L", 0.0, 1e2)
    points = points_of(sitting.past, rig, total_m3)
    found = fit(points, OWN_FRAC * points.head,
                shared_of(rig, points, u_total_m3))
    head, inner = found.values
    rated_flow = rig.pump.rated_flow_m3_s
    outcome.figures += [
        figure(rig, "pump.shut_off_head", float(head), found.u(0)),
        figure(rig, "pump.rated_head", float(head - inner * rated_flow**2),
               found.along([1.0, -rated_flow**2]))]
    outcome.notes += stretched_said(found, "the pump's rows")
    if points.left_out:
        outcome.notes.append(f"{points.left_out} rows are left out: water came, and the voltage"
                             " was less than the winding alone takes. Look at the pump's meters.")
    apart = len(found.apart())
    if apart:
        outcome.notes.append(f"{apart} of {len(points.flow)} rows lie apart from the curve; they"
                             " are in it, and drawn as such.")
    outcome.notes.append("The speed is taken by voltage and current, motor.resistance and the"
                         " rated point as they stand.")
    _draw(outcome, points, found)
    return outcome


def shared_of(rig, points: Points, u_all_m3: float) -> list[np.ndarray]:
    """Return by how much each error that all rows share moves head less curve [m].

    u_all_m3: standard uncertainty of the water in both tanks [m3].
    """
    base = fit(points, OWN_FRAC * points.head)
    doubts, sensors, winding = doubt(rig), rig.sensors, rig.motor.resistance_ohm
    behind_V = np.maximum(points.volts - winding * points.amps, LEAST_V)
    square = 2 * base.values[0] * points.ratio**2
    heights_m = math.hypot(doubts["upper.inlet_height_m"], doubts["lower.base_height_m"])
    diameter = doubts["rising_main.diameter_m"] / rig.rising_main.diameter_m
    return [
        sensors.flow_frac * 2 * (base.values[1] * points.flow**2 + points.loss),
        -sensors.voltage_frac * square * points.volts / behind_V,
        square * winding * points.amps / behind_V * sensors.current_frac,
        square * winding * points.amps / behind_V
        * doubts["motor.resistance_ohm"] / winding,
        points.by_water * u_all_m3,
        np.full(len(points.head), heights_m),
        points.loss * LOSS_BY_DIAMETER * diameter]


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
