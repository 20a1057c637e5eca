"""Figures that follow from others: what a litre takes and gives, and what was lost where.

Names as in the trade: a pump set is motor and pump (its overall efficiency: hydraulic power
over electrical, IEC 60041), array energy is what the panel gave, and the array yield for how
many hours at its rated power it would have given as much (IEC 61724-1; both from memory).
What a step does not pass on is a loss only where it has nowhere else to go: of the panel's
energy the charger takes a part, so that step is none of these.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from forebay.balance.measured import Measured, maybe_ratio
from forebay.balance.spill import SPILL
from forebay.balance.ways import MEASURED, MODEL, TANGLED, UNKNOWN, Told

S_PER_H = 3600.0
# Less water than this is chance (a guess: ten seconds of a small light).
LEAST_L = 0.25


class Derived(NamedTuple):
    """A figure: its key, plain words, the figures it rests on, how it follows from them."""

    key: str
    label: str
    uses: tuple[str, ...]
    by: str
    how: Callable[..., Measured | None]


def _a_litre(joules, litres):
    return maybe_ratio(joules, litres, LEAST_L)


SPECIFIC = (
    Derived("lift_J_L", "a litre lifted took of the pump's energy", ("pump", "up"),
            "pump over pumped up", _a_litre),
    Derived("light_J_L", "a litre let down gave to the lamps", ("lamps", "down"),
            "lamps over let down", _a_litre),
)
YIELDS = (
    Derived("array_h", "array yield, in hours at the panel's rated power", ("panel",),
            "panel over its rated power", lambda joules, rated_W: joules / (rated_W * S_PER_H)),
)
LOSSES = (
    Derived("pump_set", "lost in motor, pump and rising main", ("pump", "stored"),
            "pump less stored", lambda taken, kept: taken - kept),
    Derived("turbine_set", "lost in penstock, turbine and generator", ("released", "generator"),
            "released less generator", lambda taken, given: taken - given),
    Derived("charger", "lost in the charger",
            ("charge", "supply_in", "supply_out", "board_load"),
            "its two sides: at the panel less at the battery",
            lambda taken, stored, given, used: taken - (stored - given + used)),
    Derived("battery", "lost in the buffer battery, or still in it", ("supply_in", "supply_out"),
            "into it less out of it", lambda stored, given: stored - given),
)


@dataclass
class DerivedFigures:
    """They: specific [J/L], yields [h], losses [J], spill [L], Measured or None by key.

    told: how known.
    """

    specific: dict[str, Measured | None]
    losses: dict[str, Measured | None]
    spill: dict[str, Measured | None]
    told: dict[str, Told]
    yields: dict[str, Measured | None] = field(default_factory=dict)


def derived(figures: Any, spill: tuple[Told, Measured | None], rated_W: float) -> DerivedFigures:
    """Return what follows from figures (`figures.Figures`).

    spill: as of `spill.spilling`; rated_W: of the panel, by its description, in standard sun
    [W].
    """
    told: dict[str, Told] = {}

    def of(table, *more):
        values = {}
        for one in table:
            told[one.key], values[one.key] = _found(
                one, [figures.values[used] for used in one.uses], figures, more)
        return values

    told[SPILL], spilled = spill
    return DerivedFigures(of(SPECIFIC), of(LOSSES), {SPILL: spilled}, told,
                          of(YIELDS, rated_W))


def _found(one, values, figures, more):
    told = [figures.told[used] for used in one.uses]
    unknown = [each for each in told if not each.is_known]
    if unknown or None in values:
        return Told(UNKNOWN, unknown[0].by if unknown else TANGLED), None
    kinds = {each.kind for each in told}
    if kinds != {MEASURED} and _is_tangled(one, figures):
        return Told(UNKNOWN, TANGLED), None
    return Told(MEASURED if kinds == {MEASURED} else MODEL, one.by), one.how(*values, *more)


def _is_tangled(one, figures):
    """Return whether figures by a model rest on one another: their difference tells nothing."""
    rests = [figures.rests(used) for used in one.uses]
    return any(mine & other for place, mine in enumerate(rests) for other in rests[:place])
