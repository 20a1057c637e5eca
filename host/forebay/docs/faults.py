"""Draws the page of faults: python -m forebay.docs.faults > host/docs/faults.md."""

import sys

from forebay.twin import faults
from forebay.words.operation import MODES

_HEAD = """# Faults that a rehearsal can bring on

`forebay rehearse --fault NAME@HH:MM` brings on one of these at a local time of
the rehearsed day, and says at the end which element acted first and how long
after. Most stay until the day ends. This page is drawn from the twin's table.

*Mode* is the one in which the fault shows: bring it on while the rig is in it.
*At most* is counted from the moment that the element's own condition is true
(the tank is over-full, the voltage has passed its limit), not from the moment
the fault begins; on a board one stall of its flash may be added. The elements
are in [protection.md](protection.md). A rehearsal is no proof of a real rig:
what must act without a program is in
[hardware/README.md](../../hardware/README.md).

| fault | what sticks | mode | first element | at most | what follows |
|---|---|---|---|---|---|
"""


def cells(row) -> list[str]:
    """Return the cells of one fault, as the page shows them."""
    modes: dict[object, str] = {faults.ANY_MODE: "any", **MODES}
    within_s = row[faults.F_WITHIN_S]
    return [f"`{row[faults.F_NAME]}`", row[faults.F_WHAT], modes[row[faults.F_MODE]],
            row[faults.F_FIRST] or "none", f"{within_s:g} s" if within_s else "-",
            row[faults.F_SEEN]]


def page() -> str:
    """Return the page as Markdown."""
    return _HEAD + "".join(f"| {' | '.join(cells(row))} |\n" for row in faults.FAULTS)


if __name__ == "__main__":
    sys.stdout.write(page())
