"""How a value is written for a reader: the one place that picks units and digits.

A value comes in the SI unit of its dimension; each dimension has a ladder of units, the
largest first, with the value from which it is used.
"""

import math

from forebay import units

DIGITS = 3
# Of what the model cannot know better: hours of light, shares, how many of something.
FEWER = {"time": 2, "ratio": 2, "count": 2}
# Units of forebay.units by dimension, each from so many of itself on.
LADDERS: dict[str, tuple[tuple[str, float], ...]] = {
    "length": (("m", 1.0), ("mm", 0.0)),
    "volume": (("m3", 20.0), ("L", 0.0)),
    "flow": (("L/min", 0.0),),
    "time": (("h", 1.0), ("min", 1.0), ("s", 0.0)),
    "power": (("kW", 1.0), ("W", 0.1), ("mW", 0.0)),
    "temperature": (("degC", -math.inf),),
}
# Dimensions that no rig is described in: (unit, its size in SI, from so many of it on).
OTHERS: dict[str, tuple[tuple[str, float, float], ...]] = {
    "energy": (("TJ", 1e12, 0.1), ("GJ", 1e9, 1.0), ("MJ", 1e6, 1.0), ("kJ", 1e3, 1.0),
               ("J", 1.0, 0.0)),
    "energy in hours": (("GWh", 3.6e12, 0.1), ("MWh", 3.6e9, 1.0), ("kWh", 3.6e6, 1.0),
                        ("Wh", 3.6e3, 0.1), ("mWh", 3.6, 0.0)),
    "energy by volume": (("J/L", 1e3, 0.0),),
    "mass": (("t", 1e3, 10.0), ("kg", 1.0, 0.0)),
    "speed": (("m/s", 1.0, 0.0),),
    "ratio": (("%", 0.01, 0.0),),
    "count": (("", 1.0, 0.0),),
}
# Signs that a page has and a rig's file has not.
PRINTED = {"m3": "m\N{SUPERSCRIPT THREE}", "degC": "\N{DEGREE SIGN}C"}
NO_BREAK = "\N{NO-BREAK SPACE}"


def said(value: float, dimension: str) -> str:
    """Return a value [SI unit of its dimension] with a unit that suits its size."""
    if dimension in LADDERS:
        rungs = [(unit, units.convert(value, dimension, unit), least)
                 for unit, least in LADDERS[dimension]]
    else:
        rungs = [(unit, value / size, least) for unit, size, least in OTHERS[dimension]]
    count = FEWER.get(dimension, DIGITS)
    unit, number, _ = next((rung for rung in rungs if rounded(abs(rung[1]), count) >= rung[2]),
                           rungs[-1])
    return f"{digits(number, count)}{NO_BREAK}{PRINTED.get(unit, unit)}".rstrip(NO_BREAK)


def rounded(number: float, count: int = DIGITS) -> float:
    """Return a number with so many digits."""
    return float(f"{number:.{count}g}")


def digits(number: float, count: int = DIGITS) -> str:
    """Return a number as text with so many digits, without an exponent; 0 as 0."""
    short = rounded(number, count)
    if not short:
        return "0"
    decimals = max(count - 1 - math.floor(math.log10(abs(short))), 0)
    text = f"{short:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
