"""Quantities as people write them: text with a unit, or a number in the SI unit.

Owns the table of dimensions and units, reading ("9.2 m", "3/4 in", "1 1/2 in",
"12 degC") and showing in the SI unit; `forebay.showing` picks units for people.
A table of our own: the units library that was measured more than doubles the
time to load a rig, reads "1 1/2 in" as half an inch, and cannot say which units
fit a key; the tests compare this table with it (host/docs/design.md).

Text is read exactly (as a fraction) and rounded once, so that "55 mL/s" gives
the same float as 55e-6.
"""

import math
import re
from collections.abc import Callable
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
# Other spellings of the same sign or unit, replaced before a unit is looked up.
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
    ("gpm", "gal/min"),
    ("gph", "gal/h"),
    ("lbf/in2", "psi"),
    ("lbf/ft2", "psf"),
)

# Exact by definition: the international inch and the US gallon of 231 in3.
_INCH_m = Fraction("0.0254")
_FOOT_m = 12 * _INCH_m
_MILE_m = 5280 * _FOOT_m
_US_GALLON_m3 = 231 * _INCH_m**3
# Of the United Kingdom's weights and measures: 4.54609 dm3.
_IMPERIAL_GALLON_m3 = Fraction("4.54609e-3")
# The international pound, and its weight under standard gravity, 9.80665 m/s2.
_POUND_kg = Fraction("0.45359237")
_POUND_FORCE_N = _POUND_kg * Fraction("9.80665")
_PSI_Pa = _POUND_FORCE_N / _INCH_m**2
_PSF_Pa = _POUND_FORCE_N / _FOOT_m**2
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
    sizes: dict[str, Callable[[float], float]] = {}  # numbered sizes: value in `unit` of a number


def _table(unit: str, suffix: str, **factors: str | Fraction) -> Dimension:
    return Dimension(unit, suffix, {name: Fraction(value) for name, value in factors.items()})


def _named(unit: str, suffix: str, factors: dict[str, str | Fraction]) -> Dimension:
    return _table(unit, suffix, **factors)


_PRESSURES = {
    "Pa": "1", "kPa": "1e3", "MPa": "1e6", "bar": "1e5", "mbar": "1e2", "N/m2": "1",
    "kN/m2": "1e3", "psi": _PSI_Pa, "psf": _PSF_Pa}
_ENERGIES: dict[str, str | Fraction] = {
    "J": "1", "kJ": "1e3", "MJ": "1e6", "GJ": "1e9", "TJ": "1e12", "mWh": "3.6", "Wh": "3600",
    "kWh": "3.6e6", "MWh": "3.6e9", "GWh": "3.6e12"}

def _gauge_section_m2(gauge: float) -> float:
    """Return the cross-section of a wire [m2] by its American gauge."""
    # Where it is asked for: what reads a quantity needs nothing of the board otherwise.
    from keeper.physics.electrical import gauge_section_m2

    return gauge_section_m2(gauge)


DIMENSIONS: dict[str, Dimension] = {
    "length": _named("m", "m", {
        "m": "1", "mm": "1e-3", "cm": "1e-2", "um": "1e-6", "km": "1e3", "in": _INCH_m,
        "ft": _FOOT_m}),
    "area": _named("m2", "m2", {
        "m2": "1", "cm2": "1e-4", "mm2": "1e-6", "in2": _INCH_m**2, "ft2": _FOOT_m**2}),
    # Of a conductor, which is sold by mm2 or by the American wire gauge (ASTM B258).
    "cross-section": Dimension(
        "m2", "m2", {"m2": Fraction(1), "mm2": Fraction("1e-6")},
        sizes={"AWG": _gauge_section_m2}),
    "volume": _named("m3", "m3", {
        "m3": "1", "L": "1e-3", "l": "1e-3", "mL": "1e-6", "dm3": "1e-3", "cm3": "1e-6",
        "ft3": _FOOT_m**3, "US gal": _US_GALLON_m3, "US fl oz": _US_GALLON_m3 / 128,
        "imp gal": _IMPERIAL_GALLON_m3}),
    "flow": _named("m3/s", "m3_s", {
        "m3/s": "1", "L/s": "1e-3", "L/min": Fraction(1, 60000), "L/h": Fraction(1, 3600000),
        "mL/s": "1e-6", "mL/min": Fraction(1, 60000000), "m3/h": Fraction(1, 3600),
        "US gal/min": _US_GALLON_m3 / 60, "US gal/h": _US_GALLON_m3 / 3600}),
    "speed": _named("m/s", "m_s", {
        "m/s": "1", "km/h": Fraction(10, 36), "ft/s": _FOOT_m, "mph": _MILE_m / 3600}),
    "mass": _named("kg", "kg", {"kg": "1", "g": "1e-3", "t": "1e3", "lb": _POUND_kg}),
    "force": _named("N", "N", {"N": "1", "kN": "1e3", "lbf": _POUND_FORCE_N}),
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
    "pressure": _named("Pa", "Pa", _PRESSURES),
    # Read as a pressure; shown as builders say it.
    "load by area": _named("Pa", "Pa", _PRESSURES),
    "power": _named("W", "W", {"W": "1", "mW": "1e-3", "kW": "1e3"}),
    "energy": _named("J", "J", _ENERGIES),
    # The same, for whoever shows it both ways.
    "energy in hours": _named("J", "J", _ENERGIES),
    "energy by volume": _named("J/m3", "J_m3", {
        "J/m3": "1", "J/L": "1e3", "kJ/m3": "1e3", "Wh/m3": "3600",
        "J/US gal": 1 / _US_GALLON_m3}),
    "irradiance": _named("W/m2", "W_m2", {"W/m2": "1", "kW/m2": "1e3"}),
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
    name: {_key(unit): unit for unit in (*dimension.units, *dimension.sizes)}
    for name, dimension in DIMENSIONS.items()
}


def fitting(dimension: str) -> str:
    """Return the units that fit a dimension, as a list in words: "m, mm, cm or in"."""
    units = [*DIMENSIONS[dimension].units, *DIMENSIONS[dimension].sizes]
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
    if unit in kind.sizes:
        return _size(number, unit, kind)
    return float(number * kind.units[unit] + kind.zeros.get(unit, 0))


def _size(number: Fraction, unit: str, kind: Dimension) -> float:
    try:
        return kind.sizes[unit](float(number))
    except ValueError as error:
        raise UnitError(f"no size in {unit}: {error}") from None


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
