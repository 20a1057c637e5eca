"""A figure of a rig moved by what it is not known by, and what comes of all of them."""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from forebay.errors import InputError
from forebay.plan.answers import COVERING

STEPS = (1.0, -1.0, 0.25, -0.25)   # of a standard uncertainty, till one is within the physics

Values = Mapping[str, Any]


class Spread(NamedTuple):
    """Relative standard uncertainties of what is planned, and what each figure adds to them."""

    frac: dict[str, float]                  # by output, the model's part with them
    by_figure: dict[str, dict[str, float]]  # "section.key_unit" -> output -> change [-]

    def covering(self, most: float = 1.0) -> dict[str, float]:
        """Return the relative spreads as they are shown [-]: of nothing none is known."""
        return {name: min(most, COVERING * one) for name, one in self.frac.items()}


def moved(values: Values, name: str, by: float) -> dict[str, Any]:
    """Return the values with one figure moved; a list all in proportion."""
    old = values[name]
    if not isinstance(old, list):
        return {**values, name: old + by}
    return {**values, name: [one * (1.0 + by / old[-1]) if old[-1] else one for one in old]}


def first_within(values: Values, name: str, u: float,
                 made: Callable[[Values], Any]) -> tuple[Any, float]:
    """Return what is made of the values with a figure moved, and by how many u it was."""
    for step in STEPS:
        try:
            return made(moved(values, name, step * u)), step
        except ValueError:  # beyond the range of the physics: the other way, or not so far
            continue
    raise InputError(f"{name}: known so badly, to {u:.3g}, that no plan can be made with it;"
                     " measure it, and take its name out of [assumed]")
