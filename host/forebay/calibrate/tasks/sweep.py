"""Valve, wheel and generator by a sweep of the light: how much water each brightness takes.

At each setpoint the board settles; its valve's position and the water give the valve's two
figures, the water and the lamps' power the wheel's two.  Every other figure of the machine
stays as stated, and what it may be off moves all points together.
"""

import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np

from forebay.calibrate import fitting, reading
from forebay.calibrate.outcomes import Drawn, Outcome, apart_said, figure, stretched_said
from forebay.calibrate.sitting import CalibrateError, Sitting
from forebay.rig import Rig
from forebay.rig.doubt import doubt
from forebay.rig.governing import turbine_set
from forebay.rig.schema import KEYS, NAME_OF
from forebay.words.operation import REFUSALS
from keeper import modes
from keeper.operation import orders

SETTLE_S, MEAN_S, WAIT_S = 90.0, 60.0, 300.0
MINUTES = 20
MILLI, L_PER_M3, L_MIN = 1e3, 1e3, 6e4
READ = ("valve_permille", "flow_down_uL_s", "generator_mV", "lamp_mA", "level_mm")
FULL_WIDTH = 1 / math.sqrt(12)
STEADY_FRAC = 0.003   # of the flow, that a light held within its band wanders; a guess
# Figures that stay, and move all points of the valve, or of the wheel, together.
OF_VALVE = ("turbine.nozzle_diameter_m", "turbine.nozzle_coefficient", "upper.base_height_m",
            "penstock.minor_loss")
OF_WHEEL = ("turbine.nozzle_diameter_m", "turbine.wheel_radius_m", "turbine.bucket_angle_deg",
            "generator.emf_constant_V_s_rad", "generator.resistance_ohm",
            "generator.rectifier_drop_V", "lamps.threshold_voltage_V", "lamps.resistance_ohm")
Flows = Callable[[Mapping[str, Any]], np.ndarray]
Errors = Callable[[Mapping[str, Any]], tuple[np.ndarray, list[np.ndarray]]]
STEP = 1e-3
LEAST = 1e-7          # that a figure may be, where its key allows 0
VALVE = ("valve.flow_coefficient_m3_h", "valve.rangeability")
WHEEL = ("turbine.hit_frac", "turbine.friction_torque_N_m")


def valve_flows(values: Mapping[str, Any], travels, heads_m) -> np.ndarray:
    """Return the flow [m3/s] of a machine at each travel and head."""
    machine = turbine_set(values)
    return np.array([machine.steady(float(travel), float(head))[0]
                     for travel, head in zip(travels, heads_m, strict=True)])


def wheel_flows(values: Mapping[str, Any], powers_W) -> np.ndarray:
    """Return the flow [m3/s] that each lamp power takes."""
    machine = turbine_set(values)
    return np.array([machine.flow_for_lamps_m3_s(float(power)) for power in powers_W])


class Found(NamedTuple):
    """Figures that a sweep tells, by name, and their fit."""

    names: tuple[str, ...]
    fit: fitting.Fit

    def values(self) -> dict[str, float]:
        """Return the figures by name."""
        return dict(zip(self.names, self.fit.values.tolist(), strict=True))


def fit(flows_of: Flows, names: tuple[str, ...], values: Mapping[str, Any],
        doubts: Mapping[str, float], flows_m3_s, errors_of: Errors) -> Found:
    """Return the fit of some figures to flows.

    flows_of: the flows by a machine's values; doubts: standard uncertainties of the figures
    that stand; errors_of: by a machine's values each flow's own error, and by how much what
    all share moves them (as for `fitting.linear`).  A figure that such points tell less well
    than it is known stays, and its doubt moves all points together: which it is follows from
    the machine as stated, not from what was read.
    """
    told = told_by(flows_of, names, values, doubts, errors_of)
    stay = [name for name in names if name not in told]
    low, high = np.array([KEYS[NAME_OF[name]].bounds for name in told]).T
    low = np.maximum(low, LEAST)

    def machine(p):
        return {**values, **dict(zip(told, np.asarray(p).tolist(), strict=True))}

    p = np.clip([values[name] for name in told], low, high)
    def fitted(p):
        own, shared = errors_of(machine(p))
        more = [moved(flows_of, machine(p), name, doubts[name]) for name in stay]
        return fitting.curved(lambda p: flows_of(machine(p)), p, flows_m3_s, own,
                              [*shared, *more], (low, high))

    # The errors go by the machine as it is found.
    return Found(told, fitted(fitted(p).values))


def told_by(flows_of: Flows, names: tuple[str, ...], values: Mapping[str, Any],
            doubts: Mapping[str, float], errors_of: Errors) -> tuple[str, ...]:
    """Return those of some figures that points at a machine as stated tell; one at least."""
    own, shared = errors_of(values)
    told = names
    while len(told) > 1:
        stay = [moved(flows_of, values, name, doubts[name]) for name in names if name not in told]
        columns = np.array([moved(flows_of, values, name, 1.0) for name in told]).T
        design = fitting.linear(columns, np.zeros(len(columns)), own, shared=[*shared, *stay])
        worse = [design.u(place) / doubts[name] for place, name in enumerate(told)]
        if max(worse) <= 1.0:
            break
        told = tuple(name for name in told if name != told[int(np.argmax(worse))])
    return told


def moved(flows_of: Flows, values: Mapping[str, Any], name: str, by: float) -> np.ndarray:
    """Return by how much the flows move if a figure that stays is off by so much."""
    step = STEP * abs(values[name])
    return (flows_of({**values, name: values[name] + step}) - flows_of(values)) / step * by


def run(sitting: Sitting) -> Outcome:
    """Sweep the light through setpoints; return the figures of valve and wheel."""
    rig, outcome = sitting.rig, Outcome("sweep")
    if not sitting.do("sweep", "The light will go through its steps for some minutes each:"
                      " see that nobody needs it steady, and that the tank is half full or"
                      " more"):
        raise CalibrateError("without the sweep there is nothing to fit")
    points = []
    for number, power_W in enumerate(setpoints(rig.lamps.steps_W), 1):
        found = sitting.read(f"setpoint_{number}", lambda power_W=power_W: _point(
            sitting.line, power_W))
        if "refused" in found:
            outcome.notes.append(f"At {power_W:.3g} W the board refuses: {found['refused']}.")
        else:
            points.append(found)
    sitting.read("sweep_release", lambda: reading.ordered(sitting.line, orders.RELEASE))
    if len(points) < 2:
        raise CalibrateError("two setpoints or more are needed: the others were refused")
    _fits(rig, outcome, points)
    return outcome


def setpoints(steps_W) -> list[float]:
    """Return the lamp powers [W] of a sweep: the steps, and one between each two."""
    steps = sorted(steps_W)
    between = [math.sqrt(one * other) for one, other in zip(steps, steps[1:], strict=False)]
    return sorted([*steps, *between, *([0.7 * steps[0]] if len(steps) < 2 else [])],
                  reverse=True)


def _point(line, power_W):
    """Let the light settle at a power, and return the means of what is read."""
    reading.ordered(line, orders.PUMP_ALLOWED, 0, MINUTES * 2)
    refusal = line.order(orders.LIGHT, round(power_W * MILLI), MINUTES)
    if refusal != orders.DONE:
        return {"refused": REFUSALS[refusal]}
    reading.until(line, ("state",), lambda seen: seen["state"] == modes.RUNNING, WAIT_S,
                  "no light comes: look at forebay watch for what holds it off")
    line.rest(SETTLE_S)
    return {name: list(one) for name, one in reading.means(line, READ, MEAN_S).items()}


def _fits(rig, outcome, points):
    values, doubts = rig.plant(), doubt(rig)
    columns = {name: np.array([one[name] for one in points]) for name in READ}
    flows = columns["flow_down_uL_s"][:, 0]
    pulses_m3 = (rig.sensors.pulses_down or rig.sensors.pulses_per_litre) * L_PER_M3
    own = np.sqrt(columns["flow_down_uL_s"][:, 1] ** 2 + (FULL_WIDTH / pulses_m3 / MEAN_S) ** 2
                  + (STEADY_FRAC * flows) ** 2)
    volts, amps = columns["generator_mV"], columns["lamp_mA"]
    powers = volts[:, 0] * amps[:, 0]
    heads = rig.upper.base_height_m + columns["level_mm"][:, 0]
    travels = np.clip(columns["valve_permille"][:, 0], STEP, 1.0)
    _valve(rig, outcome, values, doubts, (travels, heads, flows, own))
    _wheel(rig, outcome, values, doubts, (powers, flows, own))
    _specific(rig, outcome, powers, flows, own)


def valve_errors(rig: Rig, doubts, travels, heads, flows, own) -> Errors:
    """Return the errors of flows by travel: see `fit`; own: of each flow itself [m3/s]."""
    def errors(values):
        def flows_of(values):
            return valve_flows(values, travels, heads)

        by_travel = (valve_flows(values, np.minimum(travels + STEP, 1.0), heads)
                     - valve_flows(values, travels - STEP, heads)) / (2 * STEP)
        # A play of the gear is each point's own, the sensor's zero is shared.
        return np.hypot(own, by_travel * rig.valve.backlash * FULL_WIDTH), [
            rig.sensors.flow_frac * flows, rig.sensors.valve_frac * by_travel,
            *(moved(flows_of, values, name, doubts[name]) for name in OF_VALVE)]
    return errors


def wheel_errors(rig: Rig, doubts, powers, flows, own) -> Errors:
    """Return the errors of flows by lamp power: see `fit`; own: of each flow itself [m3/s]."""
    sensors = rig.sensors

    def errors(values):
        def flows_of(values):
            return wheel_flows(values, powers)

        by_power = (wheel_flows(values, powers * (1 + STEP)) - flows_of(values)) / STEP
        return own, [
            sensors.flow_frac * flows, sensors.voltage_frac * by_power,
            sensors.current_frac * by_power,
            *(moved(flows_of, values, name, doubts[name]) for name in OF_WHEEL)]
    return errors


def _valve(rig, outcome, values, doubts, read):
    travels, heads, flows, own = read
    errors_of = valve_errors(rig, doubts, travels, heads, flows, own)
    found = fit(lambda values: valve_flows(values, travels, heads), VALVE, values, doubts, flows,
                errors_of)
    _state(rig, outcome, VALVE, found, "valve")
    _draw(outcome, ("Water by the valve's travel", "travel"), travels,
          (flows, errors_of(values)[0]),
          valve_flows({**values, **found.values()}, travels, heads), found.fit)


def _wheel(rig, outcome, values, doubts, read):
    powers, flows, own = read
    found = fit(lambda values: wheel_flows(values, powers), WHEEL, values, doubts, flows,
                wheel_errors(rig, doubts, powers, flows, own))
    _state(rig, outcome, WHEEL, found, "turbine")
    _draw(outcome, ("Water by the lamps' power", "lamp power, W"), powers, (flows, own),
          wheel_flows({**values, **found.values()}, powers), found.fit)


def _draw(outcome, titles, x, read, fitted, found):
    flows, own = (one * L_MIN for one in read)
    order = np.argsort(x)
    outcome.drawn.append(Drawn(
        titles[0], titles[1], "flow, L/min", x.tolist(), flows.tolist(),
        (own * found.stretch).tolist(), [f"{titles[1]} {one:.3f}" for one in x],
        found.apart(), x[order].tolist(), (fitted[order] * L_MIN).tolist()))


def _state(rig, outcome, names, found, what):
    """State what was told, and say which figure stands."""
    outcome.figures += [figure(rig, NAME_OF[name], float(found.fit.values[place]),
                               found.fit.u(place)) for place, name in enumerate(found.names)]
    outcome.notes += [f"{NAME_OF[name]} stands: the sweep tells it less well than it is known."
                      for name in names if name not in found.names]
    outcome.notes += apart_said(found.fit, [f"the {what}'s point {one + 1}"
                                            for one in range(len(found.fit.residuals))])
    outcome.notes += stretched_said(found.fit, f"the {what}")


def _specific(rig, outcome, powers, flows, own):
    """Tell the energy that a litre gives at each power: what the night is planned by."""
    sensors = rig.sensors
    for power, flow, u in zip(powers, flows, own, strict=True):
        joules = power / (flow * L_PER_M3)
        frac = math.hypot(sensors.voltage_frac, sensors.current_frac, sensors.flow_frac, u / flow)
        outcome.told.append((f"at {power:.3f} W", f"{flow * L_MIN:.3f} L/min,"
                             f" {joules:.2f} J/L (u {joules * frac:.2g})"))
