"""How a page says a value to the readers of one system of units.

Owns what a page shows otherwise than `forebay.showing` does: energies of any size, fewer
digits, and signs.
"""

from typing import NamedTuple

from forebay.explain.everyday import EVERYDAY, Everyday
from forebay.showing import METRIC, US, System, in_digits, shown

DIGITS = 3
# Of what the model cannot know better: hours of light, shares, how many of something.
FEWER = {"time": 2, "ratio": 2, "temperature difference": 2, "count": 2}
# From so many of itself on: a lamp takes 0.3 W, not 300 mW; a tank holds 900 kg, not 0.9 t.
LEAST = {"W": 0.1, "m3": 20.0, "t": 10.0, "Wh": 0.1, "GWh": 0.1, "TJ": 0.1}
ENERGIES = {"energy": ("J", "kJ", "MJ", "GJ", "TJ"),
            "energy in hours": ("mWh", "Wh", "kWh", "MWh", "GWh")}
# What a system shows otherwise on a page, by its name; a jet is no car, so no mph.
OTHERWISE: dict[str, dict[str, tuple[str, ...]]] = {
    METRIC.name: {**ENERGIES, "volume": ("mL", "L", "m3"), "mass": ("kg", "t")},
    US.name: {**ENERGIES, "energy by volume": ("J/US gal",), "speed": ("ft/s",)},
}
# Signs that a page has and a rig's file has not.
PRINTED = {" ": "\N{NO-BREAK SPACE}", "m3": "m\N{SUPERSCRIPT THREE}", "deg": "\N{DEGREE SIGN}"}


class Saying(NamedTuple):
    """How readers of one system are told: call it with a value and its dimension."""

    system: System
    everyday: Everyday

    def __call__(self, value: float, dimension: str) -> str:
        """Return a value [SI unit of its dimension; "count" has none] with a unit of its size."""
        digits = FEWER.get(dimension, DIGITS)
        return printed(in_digits(value, digits) if dimension == "count"
                       else shown(value, dimension, self.system, digits))


def saying(system: System) -> Saying:
    """Return how a page tells the readers of a system of units."""
    shown_so = {**system.shown, **OTHERWISE[system.name]}
    return Saying(System(system.name, shown_so, LEAST), EVERYDAY[system.name])


def printed(text: str) -> str:
    """Return a quantity with the signs of a page."""
    for plain, sign in PRINTED.items():
        text = text.replace(plain, sign)
    return text
