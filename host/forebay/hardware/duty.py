"""What each part of a rig's circuit must stand, beside what it is rated for.

Volts come from the nets' highest, amperes from the figure that a part `carries`, watts
from both.  Least margins are `sizing`'s; the figures are forebay.docs.sheets.worst's.
"""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from forebay.docs.sheets import worst
from forebay.hardware import sizing, tables
from forebay.hardware.netlist import Netlist, Part

NAMES = {"W": ("power", "W"), "V": ("voltage", "V"), "A": ("current", "A"),
         "off": ("stands off", "V")}


class Stress(NamedTuple):
    """One rating beside its worst."""

    who: str       # part of the circuit, or row of parts.toml
    what: str
    rated: float
    worst: float
    unit: str
    margin: float
    least: float
    by: str        # name of the figure that is its worst; "" = the circuit's own

    @property
    def holds(self) -> bool:
        """Whether its least margin is kept."""
        return self.margin >= self.least


def stresses(netlist: Netlist, values: Mapping[str, Any],
             figures: Mapping[str, float]) -> list[Stress]:
    """Return every rating of a rig's hardware: of its rows of parts.toml, of its other parts."""
    return [*_rows(netlist, values, figures),
            *(one for part in netlist for one in _own(part, netlist, figures))]


# Rows that stand for no part of the circuit are of water and wood: every rig has them.
def used_rows(netlist: Netlist) -> list[Mapping[str, Any]]:
    """Return the rows of parts.toml that a rig needs, in their order."""
    electric = {part.get("row", "") for sheet in tables.sheets().values()
                for block in sheet["circuit"] for part in block["part"].values()}
    there = {part.row for part in netlist}
    return [row for row in tables.load("parts")["part"]
            if row["name"] in there or row["name"] not in electric]


def _rows(netlist: Netlist, values, figures) -> Iterator[Stress]:
    parts = tables.load("parts")
    monitors = {part.monitors for part in netlist.of_kind("monitor")}
    for row in used_rows(netlist):
        for rating in row.get("rating", ()):
            if "monitors" in rating and not monitors & set(rating["monitors"]):
                continue
            meets = figures[rating["worst"]]
            stands = worst.rated(rating, values, parts, meets)
            yield Stress(row["name"], rating["what"], stands, meets, rating["unit"],
                         worst.margin(rating, stands, meets), rating["least"], rating["worst"])


def _own(part: Part, netlist: Netlist, figures: Mapping[str, float]) -> Iterator[Stress]:
    for name, stands in part.rated.items():
        if name not in NAMES:
            continue
        what, unit = NAMES[name]
        meets = meets_of(part, name, netlist, figures)
        margin = stands / meets - 1 if meets > 0.0 else float("inf")
        yield Stress(part.id, what, stands, meets, unit, margin, sizing.LEAST[name],
                     _by(part, name, netlist, figures))


def meets_of(part: Part, name: str, netlist: Netlist, figures: Mapping[str, float]) -> float:
    """Return the worst of one rating of a part, in its unit."""
    volts = _volts(part, netlist, figures)
    amperes = figures[part.carries] if part.carries else 0.0
    if name in ("V", "off"):
        return volts
    if name not in NAMES:
        return 0.0
    if name == "A":
        return amperes
    if part.kind == "shunt":
        return figures[_shunt_worst(part)] ** 2 * part.ohm
    return amperes ** 2 * part.ohm if part.carries else volts ** 2 / part.ohm


def _volts(part: Part, netlist: Netlist, figures: Mapping[str, float]) -> float:
    """Highest volts between two of its pins: no lower than any of its nets', but for 0 V."""
    return max((figures[one] for one in _nets_most(part, netlist)), default=0.0)


def _nets_most(part: Part, netlist: Netlist) -> list[str]:
    return [netlist.most[net] for net in part.pins.values() if net in netlist.most]


def _by(part: Part, name: str, netlist: Netlist, figures: Mapping[str, float]) -> str:
    """Return the name of the figure from which the worst of a rating follows."""
    if part.kind == "shunt":
        return _shunt_worst(part)
    if part.carries and name in ("A", "W"):
        return part.carries
    return max(_nets_most(part, netlist), key=lambda one: figures[one], default="")


def _shunt_worst(part: Part) -> str:
    name = part.sized.removesuffix("_shunt")
    return next(row["worst"] for row in tables.load("parts")["monitor"] if row["name"] == name)
