"""Draws the page of faults: python -m forebay.docs.faults > host/docs/faults.md."""

import sys

from forebay.rehearse import lesser
from forebay.rig import DEMOS, load
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


_BESIDE = """
## On a rig with less

What acts, and how late at most, on the full demonstration and on the modest one
(`rehearse --demo orchard`), which lacks most instruments. Only faults that it can have, and
that the full set sees. *Perhaps* depends on the weather, the sun or the water in the tank;
where nothing acts, what remains is the hardware and a person, as the rig's own summary says
by name.

| fault | full set | at most | modest rig | at most |
|---|---|---|---|---|
"""


def _time(within_s: float) -> str:
    """Return a time as a person says it."""
    for unit_s, name in ((3600.0, "h"), (60.0, "min")):
        if within_s >= 3 * unit_s:
            return f"{within_s / unit_s:.0f} {name}"
    return f"{within_s:.2g} s" if within_s < 10.0 else f"{within_s:.0f} s"


def beside_cells(one: lesser.Beside) -> list[str]:
    """Return the cells of one fault on a full rig and on one with less."""
    own = " or ".join(one.firsts)
    if own and not one.is_sure:
        own = f"perhaps {own}"
    return [f"`{one.fault}`", one.full_first, _time(one.full_s), own or "none",
            _time(one.within_s) if own else "-"]


def page() -> str:
    """Return the page as Markdown."""
    rig = load(demo=DEMOS[1])
    others = lesser.beside(rig.plant(), rig.settings())
    return "".join((
        _HEAD, *(f"| {' | '.join(cells(row))} |\n" for row in faults.FAULTS),
        _BESIDE, *(f"| {' | '.join(beside_cells(one))} |\n" for one in others)))


if __name__ == "__main__":
    sys.stdout.write(page())
