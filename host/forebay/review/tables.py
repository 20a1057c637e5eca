"""The tables of figures, in the one order in which page and terminal show them."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from forebay.balance import Balance
from forebay.balance.derived import LOSSES, SPECIFIC, YIELDS
from forebay.balance.model import ENERGIES, STEPS, WATER
from forebay.balance.spill import SPILL, SPILL_LABEL
from forebay.balance.ways import Told
from forebay.review.figures import J_PER_WH

PERCENT = 100.0
REMAINDER = ("What pump, pipes, turbine and generator do not pass on is their loss: a remainder,"
             " not a measurement. Panel to pump is no such step: the rest of the panel feeds the"
             " charger.")


class Table(NamedTuple):
    """One table: its title, the unit of its figures, (key, label) of its rows.

    values: Measured by key; told: how each is known; scale: from the unit of the values to that
    of the table [-]; note: what is to be known of it, "" = nothing.
    """

    title: str
    unit: str
    rows: list[tuple[str, str]]
    values: Mapping[str, Any]
    told: Mapping[str, Told]
    scale: float
    note: str = ""


def tables(found: Balance) -> list[Table]:
    """Return the tables of a balance."""
    shown = [Table("Energy", "Wh", list(ENERGIES), found.energies, found.told, 1 / J_PER_WH),
             Table("Step efficiencies", "%", list(STEPS), found.steps, found.told, PERCENT),
             Table("Water", "L", list(WATER), found.water, found.told, 1.0)]
    more = found.derived
    if more is None:
        return shown

    def derived(title, unit, rows, values, scale=1.0, note=""):
        return Table(title, unit, rows, values, more.told, scale, note)

    return [*shown,
            derived("Losses", "Wh", _named(LOSSES), more.losses, 1 / J_PER_WH, REMAINDER),
            derived("A litre of water", "J", _named(SPECIFIC), more.specific),
            derived("Yield", "h", _named(YIELDS), more.yields),
            derived("Spilled", "L", [(SPILL, SPILL_LABEL)], more.spill)]


def _named(rows):
    return [(one.key, one.label) for one in rows]
