"""A strip board for what is soldered in the box: a net a piece of strip, a part a column.

Strips run from left to right and are cut where one net ends and another begins; each part
stands across them, in the order of its circuits. Owns the packing, and that 0 V has two
pieces, of what carries power and of signals, which meet at the star point alone; converters,
board, monitors and shunts are modules beside it, joined by wire.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple
from xml.sax.saxutils import escape

from forebay.hardware import cables
from forebay.hardware.build import Build
from forebay.hardware.netlist import BOX, GROUND, Netlist, Part

# What is no part for a strip board: modules, what is on the door, what carries much.
MODULES = ("board", "buck", "charger", "shunt", "bridge", "direction bridge", "high-side switch",
           "monitor", "line driver", "button", "link")
# The bolt or bus bar at which all 0 V meet, and the pieces of 0 V that are led to it, each by
# a wire of its own: a pump's current must not pass beside a sensor's millivolts.
STAR = "TP0"
GROUNDS = {cables.POWER: f"{GROUND}, power", cables.SIGNAL: f"{GROUND}, signals"}
COLUMN, ROW, LEFT, TOP = 19, 24, 40, 150   # [px]
_STYLE = """\
text { font-family: sans-serif; font-size: 11px; fill: #111; }
.h { font-size: 18px; } .s { fill: #444; font-size: 12px; } .n { font-size: 9px; }
.c { stroke: #bbb; stroke-width: 9; stroke-linecap: round; }
.l { stroke: #111; stroke-width: 1.6; }
"""


class Piece(NamedTuple):
    """A piece of strip: its number, net, row, first and last column."""

    number: int
    net: str
    row: int
    first: int
    last: int


def soldered(netlist: Netlist) -> list[Part]:
    """Return the parts that stand on the strip board, in their order, each on its own 0 V."""
    return [replace(part, pins={pin: GROUNDS[group_of(part, netlist)] if net == GROUND else net
                                for pin, net in part.pins.items()})
            for part in netlist if part.at == BOX and part.kind not in MODULES]


def group_of(part: Part, netlist: Netlist) -> str:
    """Return whether a part's 0 V carries power or signals; a monitor only looks at power."""
    power = part.kind != "monitor" and any(
        cables.carries_power(net, netlist) for net in part.pins.values() if net != GROUND)
    return cables.POWER if power else cables.SIGNAL


def pieces(parts: list[Part]) -> list[Piece]:
    """Return the pieces of strip: each net over the columns of its parts, packed into rows.

    Left to right, each into the first row that is free: an interval graph needs no more rows
    than nets that lie over one column.
    """
    spans: dict[str, list[int]] = {}
    for column, part in enumerate(parts):
        for net in part.pins.values():
            spans.setdefault(net, []).append(column)
    free: list[int] = []  # first column that is free again, by row
    found = []
    for net, columns in sorted(spans.items(), key=lambda item: (min(item[1]), item[0])):
        first, last = min(columns), max(columns)
        row = next((row for row, begin in enumerate(free) if begin <= first), len(free))
        if row == len(free):
            free.append(0)
        # A hole is left for the cut.
        free[row] = last + 2
        found.append(Piece(len(found) + 1, net, row, first, last))
    return found


def leads(build: Build, net: str, parts: list[Part]) -> list[str]:
    """Return where a wire goes from a net's piece: terminals of the box, pins of modules."""
    if net in GROUNDS.values():
        group = next(one for one, name in GROUNDS.items() if name == net)
        # What carries power has a wire to the star point for each lead.
        return [STAR] + (_grounds(build, group) if group == cables.SIGNAL else [])
    ids = {part.id for part in parts}
    terminals = [core.terminal for cable in build.cables for core in cable.cores
                 if core.net == net and core.terminal]
    return terminals + [f"{part.id} {pin}" for part, pin in build.netlist.on(net)
                        if part.at == BOX and part.id not in ids]


def star(build: Build) -> list[str]:
    """Return what is led to the star point by a wire of its own, beside the pieces of 0 V."""
    return _grounds(build, cables.POWER)


def _grounds(build: Build, group: str) -> list[str]:
    """Return the terminals and modules' pins of 0 V that carry power, or signals."""
    terminals = [core.terminal for cable in build.cables for core in cable.cores
                 if core.net == GROUND and core.terminal and cable.group == group]
    return terminals + [f"{part.id} {pin}" for part, pin in build.netlist.on(GROUND)
                        if part.at == BOX and part.kind in MODULES
                        and group_of(part, build.netlist) == group]


def svg(build: Build) -> str:
    """Return the board as one SVG file."""
    parts = soldered(build.netlist)
    found = pieces(parts)
    rows = {piece.net: piece for piece in found}
    shapes = [_text(LEFT, 34, f"Strip board: {build.name}", "h"),
              _text(LEFT, 56, "From the side of the parts. Grey: strips, cut between two"
                    " numbers; a part stands in its column, a dot is a joint.", "s"),
              _text(LEFT, 74, "Numbers are those of strips.md, which says what each piece is and"
                    " where its wires go. Not to scale.", "s")]
    for piece in found:
        y = _y(piece.row)
        shapes.append(f'<path class="c" d="M{_x(piece.first) - 6} {y}H{_x(piece.last) + 6}"/>')
    for column, part in enumerate(parts):
        shapes += _column(column, part, rows)
    # Last, so that no strip lies over a number.
    shapes += [_text(_x(piece.first) - 7, _y(piece.row) + 13, str(piece.number), "n")
               for piece in found]
    width = max(760, _x(len(parts)) + LEFT)
    height = _y(max(piece.row for piece in found)) + 40
    head = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
            f'width="{width}" height="{height}" role="img" '
            f'aria-label="Strip board: {escape(build.name)}">')
    return "\n".join([head, f"<style>\n{_STYLE}</style>",
                      f'<rect width="{width}" height="{height}" fill="#fff"/>', *shapes,
                      "</svg>", ""])


def _x(column: int) -> int:
    return LEFT + COLUMN * column


def _y(row: int) -> int:
    return TOP + ROW * row


def _column(column: int, part: Part, rows: Mapping[str, Piece]) -> list[str]:
    x = _x(column)
    ys = [_y(rows[net].row) for net in part.pins.values()]
    turned = f'<text x="{x + 4}" y="{TOP - 16}" transform="rotate(-90 {x + 4} {TOP - 16})">'
    return [f'<path class="l" d="M{x} {min(ys)}V{max(ys)}"/>',
            *(f'<circle cx="{x}" cy="{y}" r="3.2"/>' for y in ys),
            f"{turned}{escape(part.id)}</text>"]


def _text(x: int, y: int, words: str, style: str) -> str:
    return f'<text class="{style}" x="{x}" y="{y}">{escape(words)}</text>'
