"""Voltages and currents of the monitors against a hand meter: how much true over read."""

import math
from typing import NamedTuple

from forebay.calibrate import fitting, reading
from forebay.calibrate.outcomes import Drawn, Figure, Outcome, apart_said, stretched_said
from forebay.calibrate.sitting import Sitting
from forebay.rig.instruments import fitted
from forebay.rig.schema import KEYS

COUNTS = (2, 1, 3, 4, 5)
MEAN_S = 5.0          # before and after each hand reading
STEP_SHARE = 1 / math.sqrt(12)   # of a step or a drift that may lie anywhere (GUM F.2.2.1)


class Kind(NamedTuple):
    """Voltage or current: its dimension, unit, most that a hand meter reads, and doubts."""

    name: str
    unit: str
    most: float
    frac: str         # key of [sensors] that states the error
    resolution: str


class Place(NamedTuple):
    """One reading of the board.

    name: of its register; tag; meters: instruments that read it; when: under which it has a
    steady size; where: to hold the hand meter.
    """

    name: str
    tag: str
    meters: tuple[str, ...]
    when: str
    where: str


VOLTAGE = Kind("voltage", "V", 60.0, "voltage_frac", "voltage_resolution_V")
CURRENT = Kind("current", "A", 10.0, "current_frac", "current_resolution_A")
VOLTAGES = {
    "panel": Place("panel_mV", "EI-PAN", ("panel_meter", "pump_meter"), "in steady sun",
                   "across the panel's leads at the board"),
    "generator": Place("generator_mV", "EI-GEN", ("generator_meter", "lamp_meter"),
                       "in steady light", "across the rectifier's output"),
    "supply": Place("supply_mV", "EI-SUP", ("supply_meter",), "at rest",
                    "across the battery's leads at the board"),
}
CURRENTS = {
    "panel": Place("panel_mA", "II-PAN", ("panel_meter",), "in steady sun, the pump running",
                   "in line with the panel's plus"),
    "pump": Place("pump_mA", "II-PMP", ("pump_meter",), "while the pump runs in steady sun",
                  "in line with the pump's plus"),
    "generator": Place("generator_mA", "II-GEN", ("generator_meter",), "in steady light",
                       "in line behind the rectifier"),
    "lamp": Place("lamp_mA", "II-LMP", ("lamp_meter",), "in steady light",
                  "in line with the lamps' plus"),
    "supply": Place("supply_mA", "II-SUP", ("supply_meter",), "while it charges in steady sun",
                    "in line with the battery's plus"),
}


def fit(read, by_hand, u_read, digit, frac) -> fitting.Fit:
    """Return the fit of by_hand = figure 0 x read [one unit].

    u_read: standard uncertainties of the board's means; digit: of each hand reading; frac:
    of the hand meter itself, which all share [-].
    """
    return fitting.proportional(read, by_hand, digit, u_read,
                                [[frac * abs(one) for one in by_hand]])


def voltage(sitting: Sitting) -> Outcome:
    """Have voltages read by hand; return what each node's reading is multiplied by."""
    return _run(sitting, VOLTAGE, VOLTAGES, _factor)


def current(sitting: Sitting) -> Outcome:
    """Have currents read by hand; return the shunt of each monitor as it acts."""
    return _run(sitting, CURRENT, CURRENTS, _shunt)


def _run(sitting, kind, places, figure) -> Outcome:
    outcome = Outcome(kind.name)
    rig = sitting.rig
    there = {name: one for name, one in places.items()
             if set(one.meters) & fitted(rig.sensors)}
    frac = sitting.needed(f"meter_{kind.unit}_frac", f"How sure is the hand meter at {kind.name}s,"
                          " as a part of the reading (standard uncertainty: a half of what its"
                          " sheet allows)", "ratio", "%", 1e-5, 0.1)
    digit = sitting.needed(f"meter_{kind.unit}_digit", "And what is the last digit that it shows",
                           kind.name, kind.unit, 1e-6, 1.0) * STEP_SHARE
    fracs = {}
    for name, place in there.items():
        found = _pairs(sitting, kind, name, place)
        if found:
            fracs[name] = _one(sitting, outcome, kind, place, name, found, (digit, frac), figure)
    stated = getattr(rig.sensors, kind.frac)
    if len(fracs) == len(there) and fracs:
        low, high = KEYS[f"sensors.{kind.frac}"].bounds
        outcome.doubts[f"sensors.{kind.frac}"] = (min(max(low, *fracs.values()), high), stated)
    elif fracs:
        lacking = ", ".join(places[name].tag for name in there if name not in fracs)
        outcome.notes.append(f"sensors.{kind.frac} stands: it speaks for all of them, and"
                             f" {lacking} was not measured.")
    return outcome


def _one(sitting, outcome, kind, place, name, pairs, hand, figure) -> float:
    """State one figure; return its relative standard uncertainty."""
    digit, frac = hand
    read, by_hand, u_read, names = zip(*pairs, strict=True)
    found = fit(read, by_hand, u_read, digit, frac)
    factor, u_frac = float(found.values[0]), found.u(0) / abs(float(found.values[0]))
    outcome.figures.append(figure(sitting.rig, name, factor, u_frac))
    outcome.notes += apart_said(found, list(names)) + stretched_said(found, place.tag)
    most = max(read, key=abs)
    outcome.drawn.append(Drawn(
        f"{place.tag}: by hand", f"by the board, {kind.unit}", f"by hand, {kind.unit}",
        list(read), list(by_hand), [digit * found.stretch] * len(read), list(names),
        found.apart(), [0.0, most], [0.0, factor * most]))
    return u_frac


def _pairs(sitting, kind, name, place):
    """Return (board's mean, by hand, u of the mean, name) of each hand reading."""
    key = f"{name}_{kind.unit}"
    if not sitting.do(f"{key}_ready", f"{place.tag}: {place.when}, with the hand meter"
                      f" {place.where}"):
        return []
    count = sitting.count(f"{key}_readings", f"How many readings of {place.tag}, if they can be"
                          " of different sizes", COUNTS)
    pairs = []
    for number in range(1, count + 1):
        one = _pair(sitting, kind, place, f"{key}_{number}", number)
        if one is not None:
            pairs.append(one)
    return pairs


def _pair(sitting, kind, place, key, number):
    if not sitting.is_kept(f"{key}_after"):
        sitting.forget(f"{key}_before", *(() if sitting.is_skipped(key) else (key,)))
    if not sitting.is_skipped(key):
        sitting.read(f"{key}_before", lambda: _mean(sitting, place))
    by_hand = sitting.number(key, f"{place.tag}, reading {number}: what does the hand meter show",
                             kind.name, kind.unit, -kind.most, kind.most)
    if by_hand is None:
        return None
    before = sitting.kept.found[f"{key}_before"]
    after = sitting.read(f"{key}_after", lambda: _mean(sitting, place))
    mean = (before[0] + after[0]) / 2
    step = getattr(sitting.rig.sensors, kind.resolution)
    u = math.sqrt((before[1]**2 + after[1]**2) / 4 + (step * STEP_SHARE)**2
                  + ((after[0] - before[0]) * STEP_SHARE)**2)
    return mean, by_hand, u, f"{place.tag} reading {number}"


def _mean(sitting, place):
    return list(reading.means(sitting.line, (place.name,), MEAN_S)[place.name])


def _factor(rig, name, factor, u_frac):
    """A voltage: the board has no figure for it, so the balance multiplies.

    The board's reading is not touched by the factor that stands.
    """
    stood = getattr(rig.sensors, f"{name}_voltage_factor") or 1.0
    return Figure(f"sensors.{name}_voltage_factor", factor, factor * u_frac, stood,
                  stood * rig.sensors.voltage_frac)


def _shunt(rig, name, factor, u_frac):
    """A current: it reads true where the board's shunt is as much smaller as it reads low."""
    stood = getattr(rig.board, f"{name}_shunt_uohm")
    new = stood / factor
    return Figure(f"board.{name}_shunt_uohm", new, abs(new) * u_frac, stood,
                  abs(stood) * rig.sensors.current_frac)
