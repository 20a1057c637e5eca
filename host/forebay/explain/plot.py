"""Curves of a page, as inline SVG that is as wide as a telephone.

A drawing is WIDTH units wide and its letters TEXT units high, so that they can be read
where one unit is one pixel; wider screens enlarge it.  Curves differ by their dashes and
their names as well as by colour.  Knows nothing of rigs.
"""

import math
from collections.abc import Sequence
from html import escape
from typing import NamedTuple

from forebay.paper import nice_step
from forebay.showing import in_digits

WIDTH, TEXT = 360, 12
LEFT, RIGHT, TOP, BOTTOM = 44, 16, 24, 40
LETTER = 0.55            # mean width of a letter over its height; a guess
TICKS = 5
NEAR = 14                # lines of text lie no closer than this

Point = tuple[float, float]


class Curve(NamedTuple):
    """Points in the units of the axes, how it is drawn and named; a name stands at its end."""

    points: Sequence[Point]
    style: str           # class names of the page's style sheet
    name: str = ""
    at: int = -1         # which point the name stands at


class Mark(NamedTuple):
    """A point of its own, with a text beside it."""

    x: float
    y: float
    text: str


class Strip(NamedTuple):
    """One plot over an axis of x that several share."""

    title: str
    curves: Sequence[Curve]
    marks: Sequence[Mark] = ()
    height: float = 150


def figure(svg_id: str, title: str, description: str, height: float, parts: list[str]) -> str:
    """Return a drawing with its name and its description for who cannot see it."""
    return (f'<svg viewBox="0 0 {WIDTH} {height:.0f}" role="img"'
            f' aria-labelledby="{svg_id}-t {svg_id}-d"><title id="{svg_id}-t">{escape(title)}'
            f'</title><desc id="{svg_id}-d">{escape(description)}</desc>\n'
            + "\n".join(parts) + "\n</svg>")


def text(x: float, y: float, words: str, style: str = "") -> str:
    """Return a line of text that begins at a place, or ends or has its middle there by style."""
    return f'<text class="{style}" x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'


def wide(words: str) -> float:
    """Return about how wide a line of text is."""
    return LETTER * TEXT * len(words)


def plot(svg_id: str, title: str, description: str, x_title: str, x_most: float,
         strips: Sequence[Strip]) -> str:
    """Return strips one above the other over one axis of x, from 0 to x_most."""
    x_step = nice_step(x_most, TICKS)
    parts, top = [], TOP
    for strip in strips:
        parts += _strip(strip, top, x_most, x_step)
        top += strip.height + TOP + 6
    bottom = top - TOP - 6
    for count in range(math.floor(x_most / x_step + 1e-9) + 1):
        x = _x(count * x_step, x_most)
        parts.append(text(x, bottom + 15, in_digits(count * x_step), "tick mid"))
    parts.append(text((LEFT + WIDTH - RIGHT) / 2, bottom + 32, x_title, "axis mid"))
    return figure(svg_id, title, description, bottom + BOTTOM, parts)


def _x(value, most):
    return LEFT + value / most * (WIDTH - LEFT - RIGHT)


def _strip(strip, top, x_most, x_step):
    highest = max(y for curve in strip.curves for _, y in curve.points)
    step = nice_step(highest, 3)
    ceiling = step * max(math.ceil(highest / step - 1e-9), 1)
    bottom = top + strip.height

    def y_of(value):
        return bottom - min(value, ceiling) / ceiling * strip.height

    parts = [text(0, top - 9, strip.title, "axis")]
    for count in range(round(ceiling / step) + 1):
        y = y_of(count * step)
        parts += [_line(LEFT, y, WIDTH - RIGHT, y),
                  text(LEFT - 5, y + 4, in_digits(count * step), "tick end")]
    parts += [_line(x, top, x, bottom) for x in (
        _x(count * x_step, x_most) for count in range(math.floor(x_most / x_step + 1e-9) + 1))]
    for curve in strip.curves:
        parts += _curve(curve, x_most, y_of)
    for mark in strip.marks:
        x, y = _x(mark.x, x_most), y_of(mark.y)
        parts += [f'<circle class="mark" cx="{x:.1f}" cy="{y:.1f}" r="4"/>',
                  text(x, y + 18, mark.text, "name mid")]
    return parts


def _line(x1, y1, x2, y2):
    return f'<line class="grid" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'


def _curve(curve, x_most, y_of):
    points = [(_x(x, x_most), y_of(y)) for x, y in curve.points]
    path = "".join(f"{'L' if place else 'M'}{x:.1f} {y:.1f}"
                   for place, (x, y) in enumerate(points))
    parts = [f'<path class="curve {curve.style}" d="{path}"/>']
    if curve.name:
        x, y = points[curve.at]
        fits = x + 5 + wide(curve.name) <= WIDTH
        parts.append(text(x + 5 if fits else x - 5, y - 6, curve.name,
                          f"name {curve.style}{'' if fits else ' end'}"))
    return parts


def spread(places: Sequence[float], least: float = NEAR) -> list[float]:
    """Return places in their order, moved down as little as keeps them `least` apart."""
    found: list[float] = []
    for place in places:
        found.append(max(place, found[-1] + least) if found else place)
    return found
