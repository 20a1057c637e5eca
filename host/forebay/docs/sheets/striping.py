"""The page on the strip board: what each piece of strip is, where its wires go."""

from forebay.docs.schematic import strips
from forebay.docs.sheets import text
from forebay.hardware import cables
from forebay.hardware.build import Build

DRAWING = "strips.svg"
_HEAD = """\
# Strip board: {name}

{drawn}

![Strip board](strips.svg)

One way to solder what stands in the box: {parts} parts over {rows} strips, a net a
piece of strip, cut where the next begins. Drivers and transistors stand on their
pins in the order of the row below. A piece that carries a lead's current gets a
bare wire of its cable's section soldered along it. Modules (board, converter,
charger, monitors, shunts) are joined by wire. 0 V has two pieces, of what carries power
and of signals: they touch nowhere, and each goes to the star point TP0 (a bolt
or a bus bar in the box) by a wire of its own, the pump's thick one beside that of
the panel's minus. Solder cut by cut, and measure each
piece against its neighbours before the first power: no contact.
"""


def page(build: Build) -> str:
    """The page."""
    parts = strips.soldered(build.netlist)
    found = strips.pieces(parts)
    rows = []
    for piece in found:
        joints = [f"{part.id} {pin}" for part in parts for pin, net in part.pins.items()
                  if net == piece.net]
        heavy = "bare wire along it" if piece.net == strips.GROUNDS[cables.POWER] or (
            cables.carries_power(piece.net, build.netlist)) else ""
        rows.append((piece.number, piece.net, ", ".join(joints),
                     ", ".join(strips.leads(build, piece.net, parts)), heavy))
    head = _HEAD.format(name=build.name, drawn=text.MADE, parts=len(parts),
                        rows=max(piece.row for piece in found) + 1)
    grounds = [f"piece {piece.number}" for piece in found if piece.net in strips.GROUNDS.values()]
    rows.append((strips.STAR, "0 V, star point", "-", ", ".join(grounds + strips.star(build)),
                 "a bolt: each by a wire of its own"))
    return head + "\n" + text.table(("piece", "net", "joints", "wires to", "note"), rows)
