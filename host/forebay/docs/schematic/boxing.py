"""The box as a drawing: which circuit's parts stand where in it, and its strip of terminals.

Owns the order: power at one end, signals at the other, terminals below, glands under them.
Sizes are of a drawing, not of a box: take one in which it has room and its wires a bend.
"""

import math
import textwrap
from xml.sax.saxutils import escape

from forebay.docs.schematic.layout import Box
from forebay.docs.schematic.plumbing import Picture
from forebay.hardware import tables
from forebay.hardware.build import Build
from forebay.hardware.netlist import BOX, GROUND

COLUMN, GAP, LEFT, TOP = 258, 14, 24, 96
WORDS, LINE = 32, 15      # of a zone's text: letters in a line, height of a line [px]
TERMINAL, PER_ROW = 52, 20
LETTER = 6.6              # width of a letter of a net's name, which stands upright [px]
_STYLE = """\
text { font-family: sans-serif; font-size: 12px; fill: #111; }
.h { font-size: 18px; } .s { fill: #444; } .b { font-weight: bold; }
.f { stroke: #111; stroke-width: 1.4; fill: #fff; }
.p { stroke: #111; stroke-width: 3; fill: none; }
.l { stroke: #111; stroke-width: 1.2; fill: none; }
"""
# From the end of power to the end of signals.
ORDER = ("panel", "generator", "supply", "valves", "board", "buses", "sensors", "contacts")
COLUMNS = 4


def svg(build: Build) -> str:
    """Return the drawing as one SVG file."""
    picture, width, height = drawn(build)
    head = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
            f'width="{width}" height="{height}" role="img" '
            f'aria-label="Box: {escape(build.name)}">')
    return "\n".join([head, f"<style>\n{_STYLE}</style>",
                      f'<rect width="{width}" height="{height}" fill="#fff"/>', *picture.shapes,
                      "</svg>", ""])


def drawn(build: Build) -> tuple[Picture, int, int]:
    """Return what is on it, its width and height [px]."""
    picture = Picture()
    width = 2 * LEFT + COLUMNS * (COLUMN + GAP)
    picture.text(LEFT, 34, f"Box: {build.name}", style="h")
    picture.text(LEFT, 56, "Power at the left, signals at the right; 0 V of both meet at TP0"
                 " alone. Glands below, drip loops; clamp and dump stay outside.", style="s")
    picture.text(LEFT, 74, "Which parts stand together; sizes are not those of a box.", style="s")
    bottoms = [TOP] * COLUMNS
    for place, (title, words) in enumerate(_zones(build)):
        column = place * COLUMNS // max(1, len(_zones(build)))
        bottoms[column] = _zone(picture, LEFT + column * (COLUMN + GAP), bottoms[column], title,
                                words)
    bottom = _terminals(picture, build, max(bottoms) + 20)
    picture.path("p", f"M{LEFT - 12} {TOP - 12}H{width - 12}V{bottom}H{LEFT - 12}z")
    return picture, width, bottom + 24


def _zones(build: Build) -> list[tuple[str, str]]:
    """Return (title, the ids of its parts in the box) of each sheet."""
    found = []
    circuits = build.netlist.circuits()
    sheets = tables.sheets()
    for name in ORDER:
        parts = [part for block in sheets[name]["circuit"]
                 for part in circuits.get(block["name"], ()) if part.at == BOX]
        if parts:
            found.append((sheets[name]["title"], " ".join(part.id for part in parts)))
    return found


def _zone(picture: Picture, x: int, y: int, title: str, words: str) -> int:
    lines = textwrap.wrap(words, WORDS)
    height = LINE * (len(lines) + 1) + 14
    picture.path("f", f"M{x} {y}h{COLUMN}v{height}h-{COLUMN}z")
    picture.text(x + 8, y + 17, title, style="b")
    for place, line in enumerate(lines):
        picture.text(x + 8, y + 17 + LINE * (place + 1), line)
    return y + height + GAP


def _terminals(picture: Picture, build: Build, y: int) -> int:
    """Draw the strip in rows; under each its net and the core on it. Return its lower edge."""
    cores = [(core.terminal, f"{cable.id}.{place}", core.net) for cable in build.cables
             for place, core in enumerate(cable.cores, start=1) if core.terminal]
    # The bolt to which all 0 V are led: as wide as a terminal here, thicker in the box.
    cores.insert(0, ("TP0", "star", GROUND))
    deep = LETTER * max(len(net) for _, _, net in cores)
    picture.text(LEFT, y, "Terminals, with cable and core, and net; lengths and far ends:"
                 " cables.md", style="b")
    y += 12
    for begin in range(0, len(cores), PER_ROW):
        for place, (terminal, core, net) in enumerate(cores[begin:begin + PER_ROW]):
            x = LEFT + place * TERMINAL
            picture.path("f", f"M{x} {y}h{TERMINAL - 4}v22h-{TERMINAL - 4}z")
            picture.text(x + (TERMINAL - 4) / 2, y + 15, terminal, "middle")
            picture.text(x + (TERMINAL - 4) / 2, y + 37, core, "middle", "s")
            _upright(picture, x + (TERMINAL - 4) / 2 + 4, y + 46, net)
        y += 60 + math.ceil(deep)
    return y


def _upright(picture: Picture, x: float, y: float, words: str) -> None:
    """Write a line upwards, its end at a point."""
    picture.boxes.append((words, Box(x - 10, y, x + 3, y + LETTER * len(words))))
    picture.shapes.append(f'<text class="s" x="{x:g}" y="{y:g}" text-anchor="end"'
                          f' transform="rotate(-90 {x:g} {y:g})">{escape(words)}</text>')


def overlaps(boxes: list[tuple[str, Box]]) -> list[tuple[str, str]]:
    """Return the pairs of texts that lie over each other."""
    return [(words, other) for place, (words, box) in enumerate(boxes)
            for other, its in boxes[place + 1:] if box.overlaps(its)]
