"""The page on the strip board: what each piece of strip is, where its wires go."""

from forebay.docs.schematic import strips
from forebay.docs.sheets import text
from forebay.hardware import cables
from forebay.hardware.build import Build
from forebay.hardware.netlist import BOX, Part

DRAWING = "strips"
WHERE = {"button": "on the door", "link": "a wire from end to end", "board": "in its socket",
         "shunt": "on the terminals", "gate driver": "on an adapter beside the board"}
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
wire in a sleeve. Columns that no part has are room for the bodies beside them.
First the cuts, then wires along strips, then low parts, then high ones: sockets,
not chips, until all is measured. A piece that carries a lead's current gets a
bare wire of its cable's section soldered along it. Modules (board, converter,
charger, monitors, shunts), drivers of eight legs (each on an adapter, its
capacitor beside it) and what is too large for its holes stand beside the board,
joined by wire: the third table. 0 V has two pieces, of what carries power
and of signals: they touch nowhere, and each goes to the star point TP0 (a bolt
or a bus bar in the box) by a wire of its own, the pump's thick one beside that of
the panel's minus. Solder cut by cut, and measure each
piece against its neighbours before the first power: no contact.
"""


def page(build: Build) -> str:
    """The page."""
    parts = strips.soldered(build.netlist)
    found, columns = strips.pieces(parts), strips.holes(parts)
    of = {piece.net: piece for piece in found}
    rows = []
    for piece in found:
        joints = [f"{part.id} {pin}" for part in parts for pin, net in part.pins.items()
                  if net == piece.net]
        heavy = "bare wire along it" if piece.net == strips.GROUNDS[cables.POWER] or (
            cables.carries_power(piece.net, build.netlist)) else ""
        rows.append((piece.number, strips.place_of(piece, columns), piece.net, ", ".join(joints),
                     ", ".join(strips.leads(build, piece.net, parts)), heavy))
    high = max(piece.row for piece in found) + 1
    head = _HEAD.format(name=build.name, drawn=text.MADE, parts=len(parts), rows=high,
                        columns=columns[-1], wide_mm=round(strips.HOLE_mm * columns[-1]),
                        high_mm=round(strips.HOLE_mm * high), drawings="\n".join(
                            f"![Strip board]({file})" for file in names(build)))
    grounds = [f"piece {piece.number}" for piece in found if piece.net in strips.GROUNDS.values()]
    rows.append((strips.STAR, "-", "0 V, star point", "-", ", ".join(grounds + strips.star(build)),
                 "a bolt: each by a wire of its own"))
    rows += [("-", "no strip", net, "-", ", ".join(ends), _by_wire(build, net))
             for net, ends in strips.wires(build, parts).items()]
    legs = [(column, part.id, part.kind, part.value, ", ".join(
        f"{pin} in {strips.letter(of[net].row)} (piece {of[net].number})"
        for pin, net in part.pins.items())) for column, part in zip(columns, parts, strict=True)]
    beside = [(part.id, part.kind, part.value or part.row, _stands(part))
              for part in build.netlist if part.at == BOX and strips.is_beside(part)]
    return "\n".join([
        head, "## Pieces of strip\n",
        text.table(("piece", "where", "net", "joints", "wires to", "note"), rows),
        "## Parts, column by column\n",
        text.table(("column", "part", "is", "value", "legs"), legs),
        "## Beside the board\n",
        text.table(("part", "is", "value", "where"), beside)])


def _by_wire(build: Build, net: str) -> str:
    power = cables.carries_power(net, build.netlist) or build.netlist.most.get(
        net, cables.SMALL[0]) not in cables.SMALL
    return "a wire of its cable's section" if power else "a wire"


def _stands(part: Part) -> str:
    if part.kind in strips.MODULES:
        return WHERE.get(part.kind, "a module of its own")
    return strips.body(part)["where"]


def names(build: Build) -> dict[str, int]:
    """Return the pages of the drawing by their files' names."""
    return {file: place for place, file in enumerate(
        text.pages(DRAWING, strips.pages(strips.soldered(build.netlist))))}
