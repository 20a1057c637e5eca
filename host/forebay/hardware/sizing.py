"""Values of parts that follow from the rig: shunts, clamp, dump, suppressors, fuse, charger.

Owns the rule of each `sized` of a part; preferred values are those that are made.
"""

import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, NamedTuple

from forebay.docs.sheets import worst
from forebay.hardware import tables
from forebay.hardware.netlist import CircuitError, Part
from forebay.rig import batteries
from forebay.rig.wired import MONITORS

__all__ = ["MONITORS", "Fault", "chemistry", "sized"]

# IEC 60063, E24: the preferred values of resistors.
E24 = (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1,
       5.6, 6.2, 6.8, 7.5, 8.2, 9.1)
# Stand-off voltages in which suppressors are made, and what they clamp at over what they stand
# off, at their full pulse; data sheets of the common 600 W series, from memory.
STAND_OFF_V = (5.8, 6.5, 7.5, 8.5, 10.0, 12.0, 13.0, 15.0, 16.0, 18.0, 20.0, 22.0, 24.0, 26.0,
               28.0, 30.0, 33.0, 36.0, 40.0, 45.0, 48.0, 51.0, 58.0, 64.0, 70.0)
CLAMP_RATIO = 1.62
REFERENCE_V = 2.495       # of the clamp's reference; data sheets, from memory
# Divider of the clamp: its lower resistor, so that 0.1 to 1 mA flow in it.
LOWER_ohm = (3.3e3, 2e4)
_DECADES = 8
# Least room of a rating over the worst; derating as is common practice, no source: resistors
# to half their power, volts and amperes to four fifths.
LEAST = {"W": 1.0, "V": 0.25, "A": 0.25, "off": 0.0}
# In which sizes parts without a row of parts.toml are made; common practice.
SIZES = {
    ("resistor", "W"): (0.25, 0.5, 1.0, 2.0), ("capacitor", "V"): (25.0, 50.0, 100.0, 200.0),
    ("polarised capacitor", "V"): (25.0, 50.0, 63.0, 100.0), ("diode", "V"): (40.0, 60.0, 100.0),
    ("diode", "A"): (1.0, 3.0, 5.0, 10.0, 20.0, 40.0), ("n-mosfet", "V"): (60.0, 100.0),
}


class Fault(CircuitError):
    """A value that no part is made for: what, and what is there."""


class Sized(NamedTuple):
    """What a rule gives: the value as text, and what the part then stands."""

    value: str
    rated: Mapping[str, float] = {}


def chemistry(values: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the row of parts.toml of a rig's battery."""
    name = batteries.of(values)
    return next(row for row in tables.load("parts")["chemistry"] if row["name"] == name)


def hold_V(values: Mapping[str, Any]) -> float:
    """Return the voltage [V] at which a rig's battery is held for days."""
    row = chemistry(values)
    return values["supply.voltage_V"] * row.get("hold_V", row["full_V"]) / row["cell_V"]


def sized(part: Part, values: Mapping[str, Any]) -> Part:
    """Return a part with the value that the rig asks for; one without a rule as it is."""
    if not part.sized:
        return part
    if part.sized not in RULES:
        raise CircuitError(f"part {part.id}: sized = {part.sized!r} is none of {', '.join(RULES)}")
    found = RULES[part.sized](values)
    return replace(part, value=found.value, rated={**part.rated, **found.rated})


def figures(values: Mapping[str, Any]) -> dict[str, float]:
    """Return the worst that a rig's parts may meet."""
    return worst.figures(values, tables.load("parts"))


def stepped(part: Part, stress: Callable[[Part, str], float]) -> Part:
    """Return a part with each rating at the first size that keeps its least margin.

    stress: part, rating -> its worst. What is not made in sizes stays as it is.
    """
    rated = {}
    for name, least in part.rated.items():
        worst_value = stress(part, name) * (1 + LEAST.get(name, 0.0))
        sizes = (least, *(one for one in SIZES.get((part.kind, name), ()) if one > least))
        rated[name] = next((one for one in sizes if one >= worst_value), sizes[-1])
    return replace(part, rated=rated)


def up(value: float) -> float:
    """Return the preferred value [same unit] at or above one."""
    scale = 10.0 ** math.floor(math.log10(value))
    return next((one * scale for one in E24 if one * scale >= value * (1 - 1e-9)), 10.0 * scale)


def shown(value: float, unit: str) -> str:
    """Return a value with its prefix, such as 4.7 kohm."""
    for scale, prefix in ((1e6, "M"), (1e3, "k"), (1.0, "")):
        if value >= scale:
            return f"{value / scale:.3g} {prefix}{unit}"
    return f"{value * 1e3:.3g} m{unit}"


def divider(volts: float) -> tuple[float, float]:
    """Return the resistors [ohm] that hold the clamp nearest to a voltage [V]: upper, lower."""
    values = [one * 10.0 ** decade for decade in range(2, _DECADES - 2) for one in E24]
    lowers = [one for one in values if LOWER_ohm[0] <= one <= LOWER_ohm[1]]
    return min(itertools.product(values, lowers), key=lambda pair: (
        abs(REFERENCE_V * (1 + pair[0] / pair[1]) - volts), abs(pair[1] - 1e4)))


def suppressor(volts: float) -> Sized:
    """Return the suppressor that stands off a voltage [V]."""
    found = next((one for one in STAND_OFF_V if one >= volts), None)
    if found is None:
        raise Fault(f"{volts:.3g} V: no suppressor stands it off; {STAND_OFF_V[-1]:g} V are the"
                    " most of those that are made")
    return Sized(f"stands off {found:g} V", {"off": found, "clamps": CLAMP_RATIO * found})


def _shunt(name: str) -> Callable[[Mapping[str, Any]], Sized]:
    def rule(values):
        ohm = abs(values[f"board.{name}_shunt_uohm"]) / 1e6
        watts = 2 * figures(values)[_SHUNT_WORST[name]] ** 2 * ohm
        rated = next((one for one in _SHUNT_W if one >= watts), _SHUNT_W[-1])
        return Sized(f"{ohm * 1e3:g} mohm", {"W": rated})
    return rule


_SHUNT_WORST = {row["name"]: row["worst"] for row in tables.load("parts")["monitor"]}
_SHUNT_W = (0.5, 1.0, 2.0, 3.0, 5.0)  # in which shunts are made; common practice, no source


def _fuse(values: Mapping[str, Any]) -> Sized:
    found = worst.fuse_A(figures(values)["supply_start_A"])
    return Sized(f"{found:g} A, slow", {"A": found})


def _clamp(place: int) -> Callable[[Mapping[str, Any]], Sized]:
    return lambda values: Sized(
        shown(divider(values["generator.clamp_voltage_V"])[place], "ohm") + ", 1 %")


def _charger(values: Mapping[str, Any]) -> Sized:
    full_V, held_V = figures(values)["supply_most_V"], hold_V(values)
    held = f"{held_V:.3g} V held, " if held_V < full_V else ""
    return Sized(f"{held}{full_V:.3g} V, {values['supply.charge_current_A']:g} A at most")


def _battery(values: Mapping[str, Any]) -> Sized:
    return Sized(f"{batteries.of(values)}, {values['supply.voltage_V']:g} V,"
                 f" {values['supply.capacity_Ah']:g} Ah")


RULES: dict[str, Callable[[Mapping[str, Any]], Sized]] = {
    **{f"{name}_shunt": _shunt(name) for name in MONITORS},
    "panel_tvs": lambda values: suppressor(figures(values)["pump_plus_peak_V"]),
    "lamps_tvs": lambda values: suppressor(figures(values)["generator_unclamped_V"]),
    "supply_tvs": lambda values: suppressor(figures(values)["supply_most_V"]),
    "clamp_upper": _clamp(0), "clamp_lower": _clamp(1),
    "dump": lambda values: Sized(shown(up(values["generator.dump_resistance_ohm"]), "ohm")),
    "fuse": _fuse, "charger": _charger, "battery": _battery,
    "thermistor": lambda values: Sized(f"{values['board.thermistor_ohm']:g} ohm at 25 degC,"
                                       f" Beta {values['board.thermistor_beta_K']:g} K"),
    "thermistor_pull": lambda values: Sized(f"{values['board.thermistor_pull_ohm']:g} ohm"),
}
