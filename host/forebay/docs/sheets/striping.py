"""The page on the strip board: what each piece of strip is, where its wires go."""

from forebay.docs.schematic import strips
from forebay.docs.sheets import text
from forebay.hardware import cables
from forebay.hardware.build import Build

DRAWING = "strips"
HOLE_mm = 2.54   # between two holes of a strip board; common practice
_HEAD = """\
# Strip board: {name}

{drawn}

{drawings}

One way to solder what stands in the box: {parts} parts over {rows} strips of
{columns} holes ({wide_mm} x {high_mm} mm at 2.54 mm), a net a piece of strip, cut where the
next begins: drill out one hole after its last. Longer boards than are made are
cut between two columns, and each strip that goes on is joined by wire. Letters
are strips, numbers are columns of holes. A part stands in its column, its legs in
the strips of the second table; one whose legs do not reach has them lengthened by
wire in a sleeve. First the cuts, then wires along strips, then low parts, then
high ones: sockets, not chips, until all is measured. A piece that carries a lead's
current gets a bare wire of its cable's section soldered along it. Modules (board,
converter, charger, monitors, shunts) are joined by wire. 0 V has two pieces, of what carries power
and of signals: they touch nowhere, and each goes to the star point TP0 (a bolt
or a bus bar in the box) by a wire of its own, the pump's thick one beside that of
the panel's minus. Solder cut by cut, and measure each
piece against its neighbours before the first power: no contact.
"""


def page(build: Build) -> str:
    """The page."""
    parts = strips.soldered(build.netlist)
    found = strips.pieces(parts)
    of = {piece.net: piece for piece in found}
    rows = []
    for piece in found:
        joints = [f"{part.id} {pin}" for part in parts for pin, net in part.pins.items()
                  if net == piece.net]
        heavy = "bare wire along it" if piece.net == strips.GROUNDS[cables.POWER] or (
            cables.carries_power(piece.net, build.netlist)) else ""
        rows.append((piece.number, strips.place_of(piece), piece.net, ", ".join(joints),
                     ", ".join(strips.leads(build, piece.net, parts)), heavy))
    high = max(piece.row for piece in found) + 1
    head = _HEAD.format(name=build.name, drawn=text.MADE, parts=len(parts), rows=high,
                        columns=len(parts), wide_mm=round(HOLE_mm * len(parts)),
                        high_mm=round(HOLE_mm * high), drawings="\n".join(
                            f"![Strip board]({file})" for file in names(build)))
    grounds = [f"piece {piece.number}" for piece in found if piece.net in strips.GROUNDS.values()]
    rows.append((strips.STAR, "-", "0 V, star point", "-", ", ".join(grounds + strips.star(build)),
                 "a bolt: each by a wire of its own"))
    legs = [(column, part.id, part.kind, part.value, ", ".join(
        f"{pin} in {strips.letter(of[net].row)} (piece {of[net].number})"
        for pin, net in part.pins.items())) for column, part in enumerate(parts, start=1)]
    return "\n".join([
        head, "## Pieces of strip\n",
        text.table(("piece", "where", "net", "joints", "wires to", "note"), rows),
        "## Parts, column by column\n",
        text.table(("column", "part", "is", "value", "legs"), legs)])


def names(build: Build) -> dict[str, int]:
    """Return the pages of the drawing by their files' names."""
    return {file: place for place, file in enumerate(
        text.pages(DRAWING, strips.pages(strips.soldered(build.netlist))))}
