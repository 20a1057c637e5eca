"""How a sheet looks: the symbols of the trade by the library schemdraw, as SVG.

Symbols after IEC 60617 where the library has them. Owns which symbol a kind has and how
text looks; where all stands is `layout`'s. No script, no font, no picture from elsewhere.
"""

import math
import re
import textwrap
from collections.abc import Mapping
from functools import partial
from typing import Any
from xml.sax.saxutils import escape

import schemdraw
from schemdraw import elements as el

from forebay.docs.schematic.layout import BOX_HALF, CHAR, LINE, Sheet, Symbol, joints

FONT = "sans-serif"
SIZES = {"note": 9.5, "net": 9.3, "title": 12.0, "head": 14.0}
COLOURS = {"note": "#111", "net": "#333", "title": "#000", "head": "#000"}
POINT_RADIUS = 0.33
LINK_HALF = 0.5  # of the thick piece of a link
ASIDE = 0.1  # by which the library moves a label off its point, to the right and up
BELOW = 160  # letters of a line under the title, at most
HEAD_LOWEST, HEAD_APART = 0.39, 0.6  # of the last of them over the sheet; of the title over them
NARROWEST = 12.0  # for which a title has room
UNIT, EDGE = 36.0, 8.0  # a unit of the drawing, and what is left at its right edge [px]
SIDES: Mapping[str, Any] = {"start": "left", "middle": "center", "end": "right"}

KINDS: Mapping[str, Any] = {
    "resistor": el.ResistorIEC, "shunt": el.ResistorIEC, "link": el.Line,
    "capacitor": el.Capacitor,
    "polarised capacitor": partial(el.Capacitor, polar=True), "diode": el.Diode,
    "tvs": el.Zener, "two-way tvs": el.DiodeTVS, "contact": el.Switch, "button": el.Button,
    "fuse": el.FuseIEC, "ptc": el.FuseIEC, "coil": el.Inductor2,
    "motor": el.Motor, "reversed motor": el.Motor, "lamps": el.Lamp, "panel": el.Solar,
    "battery": el.Battery, "generator": el.SourceSin, "thermistor": el.Thermistor,
}
# Drawn from the second point to the first: the library's arrow, and the longer plate of its
# panel, point the other way.
TURNED = ("tvs", "panel")


def svg(sheet: Sheet, title: str, below: str) -> str:
    """Return a sheet as one SVG file; title and below: what stands at its head."""
    schemdraw.use("svg")
    with schemdraw.Drawing(show=False, canvas="svg") as drawing:
        drawing.config(fontsize=SIZES["note"], font=FONT, lw=1.4, color="#111")
        right = max(sheet.right, NARROWEST)
        lines = textwrap.wrap(below, min(BELOW, int(right / CHAR)))
        # The last line stays where it is; what stands over it moves up.
        lowest = HEAD_LOWEST + LINE * (len(lines) - 1)
        _write(drawing, (title,), 0.0, lowest + HEAD_APART, "start", "head")
        _write(drawing, lines, 0.0, lowest, "start", "net")
        for x1, y1, x2, y2 in sheet.wires:
            drawing += el.Line().at((x1, y1)).to((x2, y2))
        for symbol in sheet.symbols:
            _symbol(drawing, symbol)
        for frame in sheet.frames:
            _frame(drawing, frame)
        for x, y in joints(sheet):
            drawing += el.Dot(radius=0.07).at((x, y))
        for _, x, y in sheet.dots:
            drawing += el.Dot(radius=0.07).at((x, y))
        for x, y in sheet.grounds:
            drawing += el.Ground().at((x, y))
        for _, x, y in sheet.rails:
            drawing += el.Line().at((x - 0.3, y)).to((x + 0.3, y))
        for name, x, y in sheet.points:
            drawing += el.Dot(radius=POINT_RADIUS, open=True, fill="none").at((x, y))
            _write(drawing, (name.removeprefix("TP"),), x, y - 0.12, "middle", "note")
        for text in sheet.texts:
            _write(drawing, text.words, text.x, text.y, text.anchor, text.style)
    return _settled(drawing.get_imagedata("svg").decode(), title, right * UNIT + EDGE)


def _write(drawing, words, x: float, y: float, anchor: str, style: str) -> None:
    """Write lines of text downwards from a point."""
    side = SIDES[anchor]
    for place, line in enumerate(words):
        # What was drawn before must not turn it.
        drawing += el.Label().at((x - ASIDE, y - 0.36 * place - ASIDE)).theta(0).label(
            escape(line), loc="center", halign=side, valign="base", fontsize=SIZES[style],
            color=COLOURS[style], ofst=(0, 0))


def _symbol(drawing, symbol: Symbol) -> None:
    start, end = (symbol.x1, symbol.y1), (symbol.x2, symbol.y2)
    kind = symbol.part.kind
    if kind == "n-mosfet":
        _mosfet(drawing, symbol)
        return
    if kind in _BOXED:
        _boxed(drawing, symbol)
        return
    if kind == "link":
        _linked(drawing, symbol)
        return
    if kind in TURNED:
        start, end = end, start
    if kind in ("contact", "change-over"):
        _closed(drawing, symbol)
        return
    drawing += KINDS[kind]().endpoints(start, end)


_BOXED = ("gate driver", "buck", "charger", "high-side switch")


def _linked(drawing, symbol: Symbol) -> None:
    """Draw a soldered wire: a thick piece between two small rings."""
    along_x, along_y = _unit(symbol)
    middle_x, middle_y = (symbol.x1 + symbol.x2) / 2, (symbol.y1 + symbol.y2) / 2
    one, other = ((middle_x + part * along_x, middle_y + part * along_y)
                  for part in (-LINK_HALF, LINK_HALF))
    drawing += el.Line().at((symbol.x1, symbol.y1)).to(one)
    drawing += el.Line().at(one).to(other).linewidth(4)
    drawing += el.Line().at(other).to((symbol.x2, symbol.y2))
    for end in (one, other):
        drawing += el.Dot(radius=0.12, open=True).at(end)


def _closed(drawing, symbol: Symbol) -> None:
    """Draw a contact that is closed at rest: its blade lies on the other terminal.

    A change-over has its third terminal on the blade's other side.
    """
    along_x, along_y = _unit(symbol)
    up = -1.0 if along_x < 0 else 1.0
    middle_x, middle_y = (symbol.x1 + symbol.x2) / 2, (symbol.y1 + symbol.y2) / 2

    def at(along: float, aside: float) -> tuple[float, float]:
        return (middle_x + along * along_x - up * aside * along_y,
                middle_y + along * along_y + up * aside * along_x)

    drawing += el.Line().at((symbol.x1, symbol.y1)).to(at(-0.5, 0.0))
    drawing += el.Line().at(at(-0.5, 0.0)).to(at(0.55, 0.22))
    drawing += el.Line().at(at(0.45, 0.32)).to(at(0.45, 0.0))
    drawing += el.Line().at(at(0.45, 0.0)).to((symbol.x2, symbol.y2))
    if symbol.ports:
        for words, (x, y) in (("c", at(-0.9, 0.12)), ("nc", at(0.9, 0.12)),
                              ("no", at(0.9, -0.62))):
            _write(drawing, (words,), x, y, "middle", "net")


def _unit(symbol: Symbol) -> tuple[float, float]:
    length = math.hypot(symbol.x2 - symbol.x1, symbol.y2 - symbol.y1)
    return (symbol.x2 - symbol.x1) / length, (symbol.y2 - symbol.y1) / length


def _boxed(drawing, symbol: Symbol) -> None:
    """Draw a box in a line; its supply and 0 V leave it below."""
    middle, half = (symbol.x1 + symbol.x2) / 2, 0.75
    drawing += el.Line().at((symbol.x1, symbol.y1)).to((middle - half, symbol.y1))
    drawing += el.Rect(corner1=(middle - half, symbol.y1 - BOX_HALF),
                       corner2=(middle + half, symbol.y1 + BOX_HALF)).at((0, 0)).theta(0)
    drawing += el.Line().at((middle + half, symbol.y1)).to((symbol.x2, symbol.y2))
    words = {"gate driver": "driver", "high-side switch": "switch"}.get(symbol.part.kind,
                                                                        symbol.part.kind)
    _write(drawing, (words,), middle, symbol.y1 - 0.12, "middle", "net")


def _mosfet(drawing, symbol: Symbol) -> None:
    """Draw a MOSFET that hangs or stands, its gate at the left, each pin with its letter."""
    middle = (symbol.y1 + symbol.y2) / 2
    down = symbol.y1 > symbol.y2
    half = 0.5 if down else -0.5
    one = el.NFet(bulk=False).anchor("drain").at((symbol.x1, middle + half)).theta(0).reverse()
    drawing += one if down else one.flip()
    drawing += el.Line().at((symbol.x1, symbol.y1)).to(one.drain)
    drawing += el.Line().at(one.source).to((symbol.x2, symbol.y2))
    for pin, x, y in (("d", 0.12, middle + 1.3 * half), ("s", 0.12, middle - 1.6 * half),
                      ("g", -1.35, middle - half / 2 - 0.42)):
        _write(drawing, (pin,), symbol.x1 + x, y, "start", "net")


def _frame(drawing, frame) -> None:
    box = frame.box
    drawing += el.Rect(corner1=(box.left, box.bottom),
                       corner2=(box.right, box.top)).at((0, 0)).theta(0)
    for pin, x, y, side, _ in frame.pins:
        inside, anchor = (0.2, "start") if side == "left" else (-0.2, "end")
        _write(drawing, (pin,), x + inside, y - 0.1, anchor, "net")


def _settled(text: str, title: str, right: float) -> str:
    """Return the same SVG on white, with a role and a name, its places to a tenth.

    right: how far it reaches at least [px]: the library knows no text's width.
    """
    text = re.sub(r"<[^>]+>", lambda tag: re.sub(
        r"-?\d+\.\d+(?:e-?\d+)?", lambda found: f"{float(found[0]):.1f}", tag[0]), text)
    head, _, rest = text.partition(">")
    shown = re.search(r'viewBox="([-\d. ]+)"', head)
    left, top, narrow, high = (shown[1] if shown else "0 0 0 0").split()
    wide = f"{max(float(narrow), right - float(left)):.1f}"
    head = head.replace(f'width="{narrow}pt"', f'width="{wide}pt"')
    head = re.sub(r'viewBox="[^"]*"', f'viewBox="{left} {top} {wide} {high}"', head)
    white = f'<rect x="{left}" y="{top}" width="{wide}" height="{high}" fill="#fff"/>'
    return f'{head} role="img" aria-label="{escape(title)}">{white}{rest}\n'
