"""Quantities as people read them: a value in SI, shown in the unit that suits its size.

Owns which units of `forebay.units` are shown in metric and in US units, and how
a number and its spread are rounded.  Knows neither who shows them nor why.
"""

import math
from decimal import ROUND_HALF_EVEN, Decimal
from typing import NamedTuple

from forebay import units

NOTHING = "-"  # shown for a value that is not known
_MOST_DIGITS = 6  # of a value with a narrow spread; a guess at what anybody reads
_SPREAD_DIGITS = 2  # the GUM gives an uncertainty two digits at most (JCGM 100, 7.2.6)
# Decimal exponents between which a number is written without "e".
_PLAIN_LOW, _PLAIN_HIGH = -4, 6
_NO_PLACE = -99  # a zero has no last digit


class System(NamedTuple):
    """A system of units: for each dimension those shown, small before large.

    A dimension that is missing is shown in its SI unit.  least: how many of itself a
    unit is shown from, where that is not one.
    """

    name: str
    shown: dict[str, tuple[str, ...]]
    least: dict[str, float] = {}


METRIC = System("metric", {
    "length": ("mm", "m", "km"),
    "area": ("mm2", "cm2", "m2"),
    "cross-section": ("mm2",),
    "volume": ("mL", "L"),
    "flow": ("L/min",),
    "time": ("ms", "s", "min", "h"),
    "voltage": ("mV", "V"),
    "current": ("mA", "A"),
    "resistance": ("mohm", "ohm", "kohm"),
    "mass": ("g", "kg"),
    "force": ("N", "kN"),
    "pressure": ("Pa", "kPa", "bar"),
    "load by area": ("kN/m2",),
    "power": ("mW", "W", "kW"),
    "energy": ("J", "Wh", "kWh"),
    "energy by volume": ("J/L",),
    "charge": ("mAh", "Ah"),
    "rotational speed": ("r/min",),
    "torque": ("uN m", "mN m", "N m"),
    "moment of inertia": ("g cm2", "kg cm2", "kg m2"),
    "heat capacity": ("J/K", "kJ/K"),
    "relative change": ("%/K",),
    "voltage by speed": ("mV/rpm",),
    "ratio": ("%",),
    "rate of travel": ("%/s",),
})
# What the trade counts in electrical or SI units there as well stays as it is.
US = System("us", {
    **METRIC.shown,
    "length": ("in", "ft"),
    "area": ("in2", "ft2"),
    "volume": ("US fl oz", "US gal"),
    "flow": ("US gal/min",),
    "speed": ("ft/s",),
    "mass": ("lb",),
    "force": ("lbf",),
    "temperature": ("degF",),
    "temperature difference": ("degF",),
    "pressure": ("psi",),
    "load by area": ("psf",),
    "flow coefficient": ("Cv",),
})
SYSTEMS = {system.name: system for system in (METRIC, US)}


def unit_of(value: float | None, dimension: str, system: System = METRIC,
            digits: int = 3) -> str:
    """Return the unit that a value [SI unit of its dimension] is shown in; "" = none.

    It is the largest of the system's in which the value is 1 or more (or what the
    system says), else the smallest.  For an axis or a table, ask once with its largest value.
    """
    choice = system.shown.get(dimension, (units.DIMENSIONS[dimension].unit,))
    if value is None or not math.isfinite(value) or not value:
        value = 1.0
    for unit in reversed(choice[1:]):
        number = abs(float(_rounded(in_unit(value, dimension, unit), digits)))
        if number >= system.least.get(unit, 1):
            return unit
    return choice[0]


def in_unit(value: float, dimension: str, unit: str) -> float:
    """Return a value [SI unit of its dimension] in one of its units, "" = the SI unit.

    Raises KeyError if the unit is not one of the dimension.
    """
    if unit == units.DIMENSIONS[dimension].unit or not math.isfinite(value):
        return value
    return units.convert(value, dimension, unit)


def shown(value: float | None, dimension: str, system: System = METRIC, digits: int = 3,
          spread: float | None = None) -> str:
    """Return a value as text with its unit, such as "2.1 mm" or "3.4 +- 0.5 h".

    Args:
        value: what is shown [SI unit of the dimension]; None and NaN give "-"
        dimension: a key of forebay.units.DIMENSIONS
        system: METRIC or US
        digits: significant digits of the value
        spread: standard uncertainty [SI unit of the dimension, a difference], shown
            to the same last place as the value, with one or two digits; left out if it
            is 0 or less than the sixth digit of the value
    Example:
        >>> shown(0.0021, "length"), shown(0.0021, "length", US)
        ('2.1 mm', '0.0827 in')
        >>> shown(12345.0, "time", digits=2, spread=1800.0)
        '3.4 +- 0.5 h'
    """
    if value is None or math.isnan(value):
        return NOTHING
    if math.isinf(value):
        return "inf" if value > 0 else "-inf"
    if spread and math.isfinite(spread):
        unit = unit_of(max(abs(value), abs(spread)), dimension, system, digits)
        number = Decimal(repr(in_unit(value, dimension, unit)))
        width = Decimal(repr(_difference(abs(spread), dimension, unit)))
        place = _common_place(number, width, digits)
        number, width = _to_place(number, place), _to_place(width, place)
        if width:
            return _with_unit(f"{_text(number)} +- {_text(width)}", unit)
    unit = unit_of(value, dimension, system, digits)
    return _with_unit(in_digits(in_unit(value, dimension, unit), digits), unit)


def in_digits(number: float, digits: int = 3) -> str:
    """Return a number as text with so many significant digits, no zeros behind the last."""
    return _text(_rounded(number, digits).normalize())


def _difference(spread: float, dimension: str, unit: str) -> float:
    """Return a difference of two values in a unit, whose zero does not matter."""
    if not unit or unit == units.DIMENSIONS[dimension].unit:
        return spread
    return spread / float(units.DIMENSIONS[dimension].units[unit])


def _common_place(number: Decimal, width: Decimal, digits: int) -> int:
    """Return the last decimal place that a number and its spread are both worth."""
    place = max(_place(number, digits), _place(width, _SPREAD_DIGITS))
    # A narrow spread takes more digits of the number with it, but not without end.
    return max(min(place, _place(width, 1)), _place(number, _MOST_DIGITS))


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if unit else text


def _place(number: Decimal, digits: int) -> int:
    """Return the decimal exponent of the last of so many significant digits."""
    if not number:
        return _NO_PLACE
    place = number.adjusted() - digits + 1
    return place + (_to_place(number, place).adjusted() > number.adjusted())  # 9.996 is 10.0


def _to_place(number: Decimal, place: int) -> Decimal:
    """Return a number rounded to a decimal place, a half to the even neighbour."""
    return number.quantize(Decimal(1).scaleb(place), ROUND_HALF_EVEN)


def _rounded(number: float, digits: int) -> Decimal:
    exact = Decimal(repr(number))
    return _to_place(exact, _place(exact, digits))


def _text(number: Decimal) -> str:
    if not number:
        return "0"
    if _PLAIN_LOW <= number.adjusted() < _PLAIN_HIGH:
        return f"{number:f}"
    return f"{number.normalize():e}"
