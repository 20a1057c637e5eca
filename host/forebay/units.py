"""Quantities as people write them: text with a unit, or a number in the SI unit.

Owns the table of dimensions and units, reading ("9.2 m", "3/4 in", "1 1/2 in",
"12 degC") and showing.  A table of our own rather than a units library: such a
library costs more start-up time than the rest of the command line, knows
hundreds of units that no rig needs, and cannot say which units fit a key.

Text is read exactly (as a fraction) and rounded once, so that "55 mL/s" gives
the same float as 55e-6.
"""

import math
import re
from fractions import Fraction
from typing import NamedTuple

# Longest text that is looked at, and most digits of an exponent: no quantity of
# a rig needs more, and an exponent of nine digits would take hours to expand.
_LONGEST_TEXT = 60
_NUMBER = re.compile(
    r"\s*(?P<sign>[+-]?)\s*"
    r"(?:(?:(?P<whole>\d+)[ -]+)?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)"
    r"|(?P<plain>(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,2})?))"
    r"(?P<unit>.*)",
    re.ASCII,  # digits of other scripts are refused, not guessed at
)
_COMMA = re.compile(r",\s*\d", re.ASCII)
# Other spellings of the same sign, replaced before a unit is looked up.
_SPELLINGS = (
    ("\N{DEGREE SIGN}", "deg"),
    ("\N{MICRO SIGN}", "u"),
    ("\N{GREEK SMALL LETTER MU}", "u"),
    ("\N{GREEK CAPITAL LETTER OMEGA}", "ohm"),
    ("\N{OHM SIGN}", "ohm"),
    ("\N{PER MILLE SIGN}", "permille"),
    ("\N{SUPERSCRIPT TWO}", "2"),
    ("\N{SUPERSCRIPT THREE}", "3"),
    ("\N{MIDDLE DOT}", ""),
    ("\N{MINUS SIGN}", "-"),
    ("^", ""),
    ("*", ""),
    (" ", ""),
)

# Exact by definition: the international inch and the US gallon of 231 in3.
_INCH_m = Fraction("0.0254")
_US_GALLON_m3 = 231 * _INCH_m**3
# The pound-force per square inch: 4.4482216152605 N over one square inch.
_PSI_Pa = Fraction("4.4482216152605") / _INCH_m**2
# 1 US gal/min at 1 psi in m3/h at 1 bar (IEC 60534-1 prints 0.865).
_CV_m3_h = 60 * _US_GALLON_m3 / Fraction(math.sqrt(float(_PSI_Pa) / 1e5))
_RPM_rad_s = Fraction(math.pi) / 30
_ZERO_DEGC_K = Fraction("273.15")


class Dimension(NamedTuple):
    """A kind of quantity: the unit of plain numbers and the units that text may use."""

    unit: str  # SI unit that a plain number is in; "" = none
    suffix: str  # how a name that holds such a value ends; "" = nothing
    units: dict[str, Fraction]  # value in `unit` of one of each unit
    zeros: dict[str, Fraction] = {}  # value in `unit` of the zero of a unit, where not 0


def _table(unit: str, suffix: str, **factors: str | Fraction) -> Dimension:
    return Dimension(unit, suffix, {name: Fraction(value) for name, value in factors.items()})


def _named(unit: str, suffix: str, factors: dict[str, str | Fraction]) -> Dimension:
    return _table(unit, suffix, **factors)


DIMENSIONS: dict[str, Dimension] = {
    "length": _named("m", "m", {
        "m": "1", "mm": "1e-3", "cm": "1e-2", "um": "1e-6", "km": "1e3", "in": _INCH_m,
        "ft": 12 * _INCH_m}),
    "volume": _named("m3", "m3", {
        "m3": "1", "L": "1e-3", "l": "1e-3", "mL": "1e-6", "dm3": "1e-3", "cm3": "1e-6",
        "ft3": (12 * _INCH_m) ** 3, "US gal": _US_GALLON_m3}),
    "flow": _named("m3/s", "m3_s", {
        "m3/s": "1", "L/s": "1e-3", "L/min": Fraction(1, 60000), "L/h": Fraction(1, 3600000),
        "mL/s": "1e-6", "mL/min": Fraction(1, 60000000), "m3/h": Fraction(1, 3600),
        "US gal/min": _US_GALLON_m3 / 60}),
    "time": _named("s", "s", {"s": "1", "ms": "1e-3", "min": "60", "h": "3600"}),
    "temperature": Dimension(
        "degC", "degC",
        {"degC": Fraction(1), "K": Fraction(1), "degF": Fraction(5, 9)},
        {"K": -_ZERO_DEGC_K, "degF": -Fraction(160, 9)}),
    "temperature difference": _named("K", "K", {
        "K": "1", "mK": "1e-3", "degC": "1", "degF": Fraction(5, 9)}),
    "voltage": _named("V", "V", {"V": "1", "mV": "1e-3", "kV": "1e3"}),
    "current": _named("A", "A", {"A": "1", "mA": "1e-3"}),
    "resistance": _named("ohm", "ohm", {"ohm": "1", "mohm": "1e-3", "kohm": "1e3"}),
    "pressure": _named("Pa", "Pa", {
        "Pa": "1", "kPa": "1e3", "MPa": "1e6", "bar": "1e5", "mbar": "1e2",
        "psi": _PSI_Pa}),
    "power": _named("W", "W", {"W": "1", "mW": "1e-3", "kW": "1e3"}),
    "charge": _named("Ah", "Ah", {"Ah": "1", "mAh": "1e-3"}),
    "angle": _named("deg", "deg", {"deg": "1", "rad": 180 / Fraction(math.pi)}),
    "rotational speed": _named("rad/s", "rad_s", {
        "rad/s": "1", "rpm": _RPM_rad_s, "r/min": _RPM_rad_s}),
    "torque": _named("N m", "N_m", {"N m": "1", "mN m": "1e-3", "uN m": "1e-6"}),
    "moment of inertia": _named("kg m2", "kg_m2", {
        "kg m2": "1", "kg cm2": "1e-4", "g m2": "1e-3", "g cm2": "1e-7"}),
    "thermal resistance": _named("K/W", "K_W", {"K/W": "1", "degC/W": "1"}),
    "heat capacity": _named("J/K", "J_K", {"J/K": "1", "kJ/K": "1e3"}),
    "relative change": _named("1/K", "per_K", {
        "1/K": "1", "/K": "1", "%/K": "1e-2", "%/degC": "1e-2", "ppm/K": "1e-6"}),
    "voltage by speed": _named("V s/rad", "V_s_rad", {
        "V s/rad": "1", "mV s/rad": "1e-3", "V/rpm": 1 / _RPM_rad_s,
        "mV/rpm": Fraction("1e-3") / _RPM_rad_s}),
    "flow coefficient": _named("m3/h", "m3_h", {"m3/h": "1", "Cv": _CV_m3_h}),
    "pulses by volume": _named("1/L", "", {"1/L": "1", "/L": "1", "1/m3": "1e-3"}),
    "ratio": _named("", "", {"%": "1e-2", "permille": "1e-3"}),
    "rate of travel": _named("1/s", "per_s", {"1/s": "1", "%/s": "1e-2", "permille/s": "1e-3"}),
}


class UnitError(ValueError):
    """Text that is no quantity of the dimension asked for; `reason` says why and what fits."""

    def __init__(self, reason: str):
        super().__init__(reason)
        self.reason = reason


def _key(unit: str) -> str:
    for spelling, plain in _SPELLINGS:
        unit = unit.replace(spelling, plain)
    return unit


_UNITS_BY_KEY = {
    name: {_key(unit): unit for unit in dimension.units} for name, dimension in DIMENSIONS.items()
}


def fitting(dimension: str) -> str:
    """Return the units that fit a dimension, as a list in words: "m, mm, cm or in"."""
    units = list(DIMENSIONS[dimension].units)
    return " or ".join(part for part in (", ".join(units[:-1]), units[-1]) if part)


def _split(text: str) -> tuple[Fraction, str] | None:
    """Return the number and the unit of a text; None if it does not begin with a number."""
    match = _NUMBER.fullmatch(text.replace("\N{MINUS SIGN}", "-"))
    if len(text) > _LONGEST_TEXT or not match or match["bottom"] in ("0", "00"):
        return None
    if match["plain"]:
        number = Fraction(match["plain"])
    elif int(match["bottom"]):
        number = int(match["whole"] or 0) + Fraction(int(match["top"]), int(match["bottom"]))
    else:
        return None
    return (-number if match["sign"] == "-" else number), match["unit"].strip()


def parse(text: str, dimension: str) -> float:
    """Return a text such as "9.2 m" as a value in the SI unit of its dimension.

    Args:
        text: number or fraction, then a unit; without one it is in the SI unit
        dimension: a key of DIMENSIONS
    Returns:
        value [the unit of the dimension]
    Raises:
        UnitError: no number, a decimal comma, or a unit of another dimension
    Example:
        >>> parse("3/4 in", "length")
        0.01905
    """
    kind = DIMENSIONS[dimension]
    example = f'"1 {kind.unit}"' if kind.unit else '0.5 or "50 %"'
    if _COMMA.search(text):
        raise UnitError("has a comma; use a decimal point")
    parts = _split(text)
    if parts is None:
        raise UnitError(f"not a number with a unit, such as {example}")
    number, written = parts
    if not written:
        return float(number)
    unit = _UNITS_BY_KEY[dimension].get(_key(written))
    if unit is None:
        raise UnitError(f"{written} does not fit a {dimension}; use {fitting(dimension)}")
    return float(number * kind.units[unit] + kind.zeros.get(unit, 0))


def has_unit(text: str) -> bool:
    """Return whether a text is a number with a unit behind it."""
    parts = _split(text)
    return parts is not None and bool(parts[1])


def convert(value: float, dimension: str, unit: str) -> float:
    """Return a value [SI unit of its dimension] in another unit of that dimension.

    Raises KeyError if the unit is not one of the dimension.
    """
    kind = DIMENSIONS[dimension]
    return float((Fraction(value) - kind.zeros.get(unit, 0)) / kind.units[unit])


def show(value: float, dimension: str) -> str:
    """Return a value [SI unit of its dimension] as text with that unit, four digits."""
    unit = DIMENSIONS[dimension].unit
    return f"{value:.4g} {unit}" if unit else f"{value:.4g}"
