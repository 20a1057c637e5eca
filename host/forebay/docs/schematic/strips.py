"""A strip board for what is soldered in the box: a net a piece of strip, a part a column.

Strips run from left to right and are cut where one net ends and another begins; each part
stands across them, in the order of its circuits. Owns the packing, and that 0 V has two
pieces, of what carries power and of signals, which meet at the star point alone; converters,
board, monitors, shunts, what has eight legs or is too large for its holes stands beside it,
joined by wire. How much room a part takes is a `[[body]]` of hardware/parts.toml.
"""

import math
import string
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, NamedTuple
from xml.sax.saxutils import escape

from forebay.hardware import cables, tables
from forebay.hardware.build import Build
from forebay.hardware.cables import group_of
from forebay.hardware.netlist import BOX, GROUND, Netlist, Part, quantity

# What is no part for a strip board: modules, what is on the door, what carries much.
MODULES = ("board", "buck", "charger", "shunt", "bridge", "direction bridge", "high-side switch",
           "monitor", "line driver", "button", "link", "gate driver")
HOLE_mm = 2.54   # between two holes of a strip board; common practice
# The bolt or bus bar at which all 0 V meet, and the pieces of 0 V that are led to it, each by
# a wire of its own: a pump's current must not pass beside a sensor's millivolts.
STAR = "TP0"
GROUNDS = {cables.POWER: f"{GROUND}, power", cables.SIGNAL: f"{GROUND}, signals"}
# A page is A4, standing: 190 mm for its width, so that 12 px are 2.6 mm of print [px].
BAND, COLUMN, ROW, LEFT, TOP, HEAD, GAP = 20, 42, 32, 24, 122, 48, 26
END, BEYOND = 9, 19   # of a strip beyond its last hole; of one that goes on
WIDTH = LEFT + BAND * COLUMN + LEFT
HIGHEST = WIDTH * 277 // 190
# Parts whose legs may be exchanged, and what a leg's name is on the drawing.
ALIKE = ("resistor", "capacitor", "contact", "ptc", "fuse", "coil", "two-way tvs")
NAMED = {"plus": "+", "minus": "\u2212", "supply": "sup"}
_LEGEND = (
    "From the side of the parts: a part stands in its column, a dot is a joint, no dot none."
    " Grey: strips.",
    "Below its name: its column of holes; those left out are room for bodies. Numbers below"
    " strips: pieces",
    "(strips.md: net, wires). Cut between two pieces; an arrow: it goes on.",
)
_STYLE = """\
text { font-family: sans-serif; font-size: 13px; fill: #111; }
.h { font-size: 19px; } .s { fill: #333; } .n { font-size: 12px; } .b { font-weight: bold; }
.c { stroke: #ccc; stroke-width: 10; }
.l { stroke: #111; stroke-width: 1.6; fill: none; }
"""


class Piece(NamedTuple):
    """A piece of strip: its number, net, row, first and last column."""

    number: int
    net: str
    row: int
    first: int
    last: int


def is_beside(part: Part) -> bool:
    """Whether a part of the box does not stand on the strip board."""
    return part.kind in MODULES or body(part).get("beside", False)


def body(part: Part) -> Mapping[str, Any]:
    """Return the row of parts.toml of what a part takes on the board: the first that it fits."""
    return next(row for row in tables.load("parts")["body"] if part.kind in row["kinds"]
                and part.row in row.get("rows", (part.row,))
                and all(_size(part, key) <= row[f"up_to_{key}"] for key in _SIZES
                        if f"up_to_{key}" in row))


_SIZES = ("A", "W", "F")


def _size(part: Part, key: str) -> float:
    if key == "F":
        return quantity(part.value)
    rows = [row for row in tables.load("parts")["part"] if row["name"] == part.row]
    units = [rating["rated"] for row in rows for rating in row.get("rating", ())
             if rating["unit"] == key]
    return max([part.rated.get(key, 0.0), *units])


def holes(parts: list[Part]) -> list[int]:
    """Return the column of holes in which each part stands, from 1: bodies touch nowhere."""
    found, end_mm = [], 0.0
    for part in parts:
        half_mm = body(part)["wide_mm"] / 2
        # Its middle is over a hole, its edge beyond the edge of the part before it.
        place = max(math.ceil((end_mm + half_mm) / HOLE_mm), found[-1] + 1 if found else 1)
        found.append(place)
        end_mm = place * HOLE_mm + half_mm
    return found


def soldered(netlist: Netlist) -> list[Part]:
    """Return the parts that stand on the strip board, in their order, each on its own 0 V."""
    there = [part for part in netlist if part.at == BOX and not is_beside(part)]
    return [replace(part, pins={pin: GROUNDS[group_of(part, netlist)] if net == GROUND else net
                                for pin, net in part.pins.items()}) for part in there]


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
                        if part.at == BOX and is_beside(part)
                        and group_of(part, build.netlist) == group]


def wires(build: Build, parts: list[Part]) -> dict[str, list[str]]:
    """Return what is joined by wire alone: the ends in the box of each net without a strip."""
    there = {net for part in parts for net in part.pins.values()}
    ends = {net: leads(build, net, parts) for net in build.netlist.nets
            if net not in there and net != GROUND}
    return {net: found for net, found in ends.items() if found}


def letter(row: int) -> str:
    """Return the name of a strip, counted from 0."""
    return string.ascii_uppercase[row] if row < len(string.ascii_uppercase) else f"Z{row}"


def place_of(piece: Piece, columns: list[int]) -> str:
    """Return where a piece is: its strip, its first and last column of holes."""
    return f"{letter(piece.row)}, {columns[piece.first]} to {columns[piece.last]}"


def bands(parts: list[Part]) -> int:
    """Return how many bands of columns a board is drawn in, one below the other."""
    return -(-len(parts) // BAND)


def _band_high(found: list[Piece]) -> int:
    return HEAD + ROW * (max(piece.row for piece in found) + 1) + GAP


def _bands_a_page(found: list[Piece]) -> int:
    return max(1, (HIGHEST - TOP) // _band_high(found))


def pages(parts: list[Part]) -> int:
    """Return how many pages a board is drawn on."""
    return -(-bands(parts) // _bands_a_page(pieces(parts)))


def svg(build: Build, place: int) -> str:
    """Return a page of the board as an SVG file."""
    parts = soldered(build.netlist)
    found = pieces(parts)
    each, count = _bands_a_page(found), pages(parts)
    shown = range(place * each, min(bands(parts), (place + 1) * each))
    of = f", {place + 1} of {count}" if count > 1 else ""
    shapes = [_text(LEFT, 30, f"Strip board: {build.name}{of}", "h"),
              *(_text(LEFT, 54 + 18 * line, words, "s") for line, words in enumerate(_LEGEND))]
    for row, band in enumerate(shown):
        shapes += _band(parts, found, band, TOP + row * _band_high(found))
    height = TOP + len(shown) * _band_high(found)
    head = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" '
            f'width="{WIDTH}" height="{height}" role="img" '
            f'aria-label="Strip board: {escape(build.name)}">')
    return "\n".join([head, f"<style>\n{_STYLE}</style>",
                      f'<rect width="{WIDTH}" height="{height}" fill="#fff"/>', *shapes,
                      "</svg>", ""])


def _band(parts: list[Part], found: list[Piece], band: int, top: int) -> list[str]:
    """Draw some columns of the board; what goes on beyond them ends in an arrow."""
    begin, end = band * BAND, min(len(parts), (band + 1) * BAND)
    rows, columns = {piece.net: piece for piece in found}, holes(parts)
    there = [piece for piece in found if piece.first < end and piece.last >= begin]
    shapes = []
    for row in range(max(piece.row for piece in found) + 1):
        shapes.append(_text(6, _y(top, row) + 5, letter(row), "b"))
    for piece in there:
        y, first, last = _y(top, piece.row), max(piece.first, begin), min(piece.last, end - 1)
        left = _x(first - begin) - (BEYOND if piece.first < begin else END)
        right = _x(last - begin) + (BEYOND if piece.last >= end else END)
        shapes.append(f'<path class="c" d="M{left} {y}H{right}"/>')
        if piece.first < begin:
            shapes.append(f'<path class="l" d="M{left} {y}l7 -5m-7 5l7 5"/>')
        if piece.last >= end:
            shapes.append(f'<path class="l" d="M{right} {y}l-7 -5m7 5l-7 5"/>')
    for column in range(begin, end):
        shapes += _column(column - begin, columns[column], parts[column], rows, top)
    # Last, so that nothing lies over a number.
    return shapes + [
        f'<text class="n" x="{_x(max(piece.first, begin) - begin) - 4}"'
        f' y="{_y(top, piece.row) + 19}" text-anchor="end">{piece.number}</text>'
        for piece in there]


def _x(column: int) -> int:
    return LEFT + COLUMN // 2 + COLUMN * column


def _y(top: int, row: int) -> int:
    return top + HEAD + ROW * row


def _column(place: int, column: int, part: Part, rows: Mapping[str, Piece],
            top: int) -> list[str]:
    x = _x(place)
    ys = {pin: _y(top, rows[net].row) for pin, net in part.pins.items()}
    named = ((14, "b", part.id), (29, "n", str(column)))
    return [*(f'<text class="{style}" x="{x}" y="{top + down}" text-anchor="middle">'
              f"{escape(words)}</text>" for down, style, words in named),
            f'<path class="l" d="M{x} {min(ys.values())}V{max(ys.values())}"/>',
            *(f'<circle cx="{x}" cy="{y}" r="3.5"/>' for y in ys.values()),
            *(_text(x + 5, y - 8, NAMED.get(pin, pin), "n") for pin, y in ys.items()
              if part.kind not in ALIKE)]


def _text(x: int, y: int, words: str, style: str) -> str:
    return f'<text class="{style}" x="{x}" y="{y}">{escape(words)}</text>'
