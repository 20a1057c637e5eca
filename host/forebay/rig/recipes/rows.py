"""What a row of the table of recipes is; it must not know which keys there are."""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from forebay.rig.instruments import any_fitted

Used = Callable[[Mapping[str, Any]], bool]


class Spread(NamedTuple):
    """A standard uncertainty: a share of the figure, or an amount in the key's plain unit."""

    amount: float
    is_share: bool = False


class Stated(NamedTuple):
    """A standard uncertainty that a key of [model] says; key: its name there.

    share: what part of it falls to this figure [-]; way: SHARE, AMOUNT or SURFACE.
    """

    key: str
    share: float = 1.0
    way: str = "share"


SHARE = "share"      # of the figure
AMOUNT = "amount"    # in the key's plain unit
SURFACE = "surface"  # a level [m]: times the plan area of the tank there, a volume


def always(values: Mapping[str, Any]) -> bool:
    """Return True: every rig has the figure."""
    return True


class Row(NamedTuple):
    """How one figure is found, and what may be wrong with it.

    assumed, measured: standard uncertainty of a figure that was only carried over from a
    typical part, and of one found by the recipe; None = a plain fact, which is so or not.
    used: whether a rig has the figure at all, of values by "section.key_unit".
    follows: a default of the key says no more than other keys do, so it is no guess.
    """

    recipe: str
    assumed: Spread | None = None
    measured: Spread | Stated | None = None
    used: Used = always
    follows: bool = False


def part(share: float) -> Spread:
    """Return a standard uncertainty as a share of the figure [-]."""
    return Spread(share, True)


def plus(amount: float) -> Spread:
    """Return a standard uncertainty in the key's plain unit."""
    return Spread(amount)


def with_any(*names: str) -> Used:
    """Return what tells whether a rig has any of some instruments."""
    return lambda values: any_fitted(values, names)
