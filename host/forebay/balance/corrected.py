"""A journal as its voltages would read if the board could be told their calibration.

The board has no figure for the error of a voltage; the rig's description has one, by which
rows and totals are put right here.  What the board did by the wrong reading stays as it was.
"""

from dataclasses import replace

import numpy as np

from forebay.shelf.decode import Journal
from forebay.shelf.rows import total_values
from forebay.shelf.stepwise import TABLES, Step
from forebay.si import are_trusted
from keeper import channels as ch

# A node's voltage: its channel, and the energies that were summed with it.
NODES = {
    "panel": (ch.PANEL_MV, (ch.T_PANEL, ch.T_PUMP)),
    "generator": (ch.GENERATOR_MV, (ch.T_GENERATOR, ch.T_LAMP)),
    "supply": (ch.SUPPLY_MV, (ch.T_SUPPLY_IN, ch.T_SUPPLY_OUT)),
}


def factors(rig) -> dict[str, float]:
    """Return what the voltage of a node is multiplied by [-], of the nodes that have such."""
    found = {name: getattr(rig.sensors, f"{name}_voltage_factor", None) for name in NODES}
    return {name: factor for name, factor in found.items() if factor is not None}


def corrected(step: Step, rig) -> Step:
    """Return a step of a journal with its voltages, and what was summed of them, put right."""
    by = factors(rig)
    if not by:
        return step
    none = step.next_event
    return step._replace(journal=_corrected(step.journal, by), next_event=_table(none, by))


def _corrected(journal: Journal, by) -> Journal:
    rows = replace(journal.rows, stored=journal.rows.stored.copy())
    for name, factor in by.items():
        mine = rows.stored[NODES[name][0]]
        trusted = are_trusted(mine)
        mine[trusted] = np.round(mine[trusted] * factor)
    tables = {name: _table(getattr(journal, name), by) for name in TABLES}
    return replace(journal, rows=rows, **tables)


def _table(table, by):
    """Return a table with the totals of its records put right."""
    table = table.copy()
    whole = total_values(table["totals"])
    for name, factor in by.items():
        for total in NODES[name][1]:
            whole[..., total] = np.round(whole[..., total] * factor)
    table["totals"] = np.stack([whole % ch.LIMB, whole // ch.LIMB], -1)
    return table
