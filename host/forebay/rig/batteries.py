"""The kinds of battery that a rig may name, and which one a voltage alone suggests.

What each stands and wants is in hardware/parts.toml, `[[chemistry]]`.
"""

from collections.abc import Mapping
from typing import Any

LITHIUM_IRON, LITHIUM_ION, LEAD, NICKEL = (
    "lithium iron phosphate", "lithium ion", "lead", "nickel metal hydride")
CHEMISTRIES = (LITHIUM_IRON, LITHIUM_ION, LEAD, NICKEL)
# Rated volts of a cell, in the order in which they are tried; from memory.
_CELLS_V = ((LITHIUM_IRON, 3.2), (LEAD, 2.0), (LITHIUM_ION, 3.6), (NICKEL, 1.2))
_WHOLE = 0.01  # cells from a whole number of them


def chemistry_of(rated_V: float) -> str:
    """Return the kind whose cells make up a rated voltage [V]; if none does, the first."""
    for name, cell_V in _CELLS_V:
        cells = rated_V / cell_V
        if abs(cells - round(cells)) < _WHOLE:
            return name
    return LITHIUM_IRON


def of(values: Mapping[str, Any]) -> str:
    """Return the kind of a rig's battery, as it says or by its voltage."""
    return values.get("supply.chemistry") or chemistry_of(values["supply.voltage_V"])
