"""Thermometers against references: melting ice, and warm water beside a known thermometer.

A digital sensor on the board's one-wire line has no figure that could be put right: what it
is off by counts in its uncertainty (GUM F.2.4.5).  A thermistor's two figures follow from a
straight line, ln R by 1/T.
"""

import math

import numpy as np

from forebay.calibrate import fitting, reading
from forebay.calibrate.outcomes import Drawn, Figure, Outcome, apart_said, stretched_said
from forebay.calibrate.sitting import Sitting
from forebay.rig.instruments import FITTED
from forebay.rig.schema import KEYS
from keeper.boards import wiring

MEAN_S = 30.0
ICE_degC = 0.0
ICE_K = 0.05          # of melting ice made of tap water, stirred; common practice, no source
READ_K = 0.1          # of reading the known thermometer; a guess
STEP_K = 0.0625 / math.sqrt(12)
ZERO_K, ROOM_K = 273.15, 298.15
SENSORS = {
    "motor": ("TI-MOT", "motor_mdegC", "motor_temperature"),
    "water": ("TI-WTR", "water_mdegC", "water_temperature"),
}
REFERENCES = {
    "ice": "crushed ice in just enough water to fill its gaps, stirred, ten minutes",
    "cool": "water of the tank, ten minutes, beside the known thermometer",
    "warm": "hand-warm water, 45 degC at most, stirred, beside the known thermometer",
}


def fit_offset(read_degC, true_degC, u_read_K, u_true_K, shared_K) -> fitting.Fit:
    """Return the fit of true - read = figure 0 [K]; shared_K: what all of it share [K], each."""
    off = np.asarray(true_degC) - np.asarray(read_degC)
    return fitting.constant(off, np.hypot(u_read_K, u_true_K), [np.asarray(shared_K, float)],
                            weighs_shared=True)


def fit_thermistor(ohms, true_degC, u_ohm_frac, u_true_K, shared_K) -> fitting.Fit:
    """Return the fit of ln R = figure 0 + figure 1 (1/T - 1/298.15 K).

    Figure 0 is the logarithm of the ohms at 25 degC, figure 1 beta [K]; u_ohm_frac: of each
    resistance [-]; u_true_K: of each temperature's own [K]; shared_K: what all share, each.
    """
    kelvin = np.asarray(true_degC) + ZERO_K
    x = 1 / kelvin - 1 / ROOM_K
    y = np.log(ohms)
    slope = (y[0] - y[-1]) / (x[0] - x[-1]) if len(x) > 1 and x[0] != x[-1] else 1.0
    moved = [-slope / kelvin**2 * np.asarray(shared_K, float)]
    return fitting.straight(x, y, u_ohm_frac, np.asarray(u_true_K) / kelvin**2, moved,
                            weighs_shared=True)


def run(sitting: Sitting) -> Outcome:
    """Have the thermometers held into references; return what they are off."""
    rig, outcome = sitting.rig, Outcome("temperature")
    known_K = sitting.needed("known_thermometer", "How sure is the known thermometer (standard"
                             " uncertainty)", "temperature difference", "K", 1e-3, 5.0)
    there = [name for name, (_, _, key) in SENSORS.items()
             if getattr(rig.sensors, key) == FITTED]
    lefts = []
    for name in there:
        found = _points(sitting, name, known_K)
        if found:
            lefts.append(_one(rig, outcome, name, found))
    if len(lefts) == len(there) and lefts:
        low, high = KEYS["sensors.temperature_uncertainty"].bounds
        outcome.doubts["sensors.temperature_uncertainty"] = (
            min(max(low, *lefts), high), rig.sensors.temperature_uncertainty_K)
    elif lefts:
        outcome.notes.append("sensors.temperature_uncertainty stands: it speaks for both"
                             " thermometers, and one was not measured.")
    return outcome


def _points(sitting, name, known_K):
    """Return (reference, read, its u, true, its own u, what it shares) of each reference."""
    tag, register, _ = SENSORS[name]
    points = []
    for reference, what in REFERENCES.items():
        key = f"{name}_{reference}"
        if not sitting.do(key, f"{tag}: take the sensor out, and hold it into {what}"):
            continue
        if reference == "ice":
            true, own_K, shared_K = ICE_degC, ICE_K, 0.0
        else:
            true = sitting.number(f"{key}_known", "What does the known thermometer show",
                                  "temperature", "degC", -5.0, 45.0)
            own_K, shared_K = READ_K, known_K
        if true is None:
            continue
        read = sitting.read(f"{key}_board", lambda register=register: list(
            reading.means(sitting.line, (register,), MEAN_S)[register]))
        points.append((reference, read[0], math.hypot(read[1], STEP_K), true, own_K, shared_K))
    return points


def _one(rig, outcome, name, points) -> float:
    """State what a thermometer is off; return the uncertainty that stays [K]."""
    tag = SENSORS[name][0]
    _, read, u_read, true, own, shared = zip(*points, strict=True)
    names = [f"{tag} in {one[0]}" for one in points]
    offset = fit_offset(read, true, u_read, own, shared)
    outcome.notes += apart_said(offset, names) + stretched_said(offset, tag)
    off_K = float(offset.values[0])
    outcome.told.append((f"{tag} reads", f"{-off_K:+.2f} K off (u {offset.u(0):.2g} K)"))
    outcome.drawn.append(Drawn(
        f"{tag}: reference less reading", "read, degC", "off, K", list(read),
        [one - other for one, other in zip(true, read, strict=True)],
        [math.hypot(a, b) for a, b in zip(u_read, own, strict=True)], names, offset.apart(),
        [min(read), max(read)], [off_K, off_K]))
    if name == "motor" and rig.board.motor_sensor == wiring.THERMISTOR and len(points) > 1:
        return _thermistor(rig, outcome, points)
    outcome.notes.append(f"{tag} has no figure on the board that could be put right: what it is"
                         " off counts in its uncertainty.")
    return math.hypot(off_K, offset.u(0))


def _thermistor(rig, outcome, points) -> float:
    """State a thermistor's figures; return the uncertainty that stays at 25 degC [K]."""
    _, read, u_read, true, own, shared = zip(*points, strict=True)
    board = rig.board
    kelvin = np.asarray(read) + ZERO_K
    # Back from what the board made of them to the ohms.
    ohms = board.thermistor_ohm * np.exp(
        board.thermistor_beta_K * (1 / kelvin - 1 / ROOM_K))
    per_K = board.thermistor_beta_K / kelvin**2
    found = fit_thermistor(ohms, true, per_K * np.asarray(u_read), own, shared)
    ohm, beta_K = math.exp(float(found.values[0])), float(found.values[1])
    stated_K = rig.sensors.temperature_uncertainty_K
    room_per_K = board.thermistor_beta_K / ROOM_K**2
    outcome.figures += [
        Figure("board.thermistor_ohm", ohm, ohm * found.u(0), board.thermistor_ohm,
               board.thermistor_ohm * room_per_K * stated_K),
        Figure("board.thermistor_beta_K", beta_K, found.u(1), board.thermistor_beta_K,
               board.thermistor_beta_K * stated_K * math.sqrt(2) / max(np.ptp(kelvin), 1.0))]
    return max(found.along([1.0, 1 / (one + ZERO_K) - 1 / ROOM_K])
               * (one + ZERO_K)**2 / beta_K for one in (*true, ROOM_K - ZERO_K))
