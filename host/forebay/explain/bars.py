"""Bars on one scale, and places on a scale by powers of ten.

A bar shows what a step passes on as a filled part and what it loses as an outlined one; the
numbers stand beside it, so that neither colour nor length is needed to read them.
"""

import math
from collections.abc import Sequence
from html import escape
from typing import NamedTuple

from forebay.explain import plot
from forebay.explain.saying import Saying

UNITS = 1000             # of a bar's width
NOTHING = "none"
ROW = 36                 # height of a row of the scale by powers of ten


class Bar(NamedTuple):
    """One row: what it is, where its loss goes, what passes on and what is lost [J]."""

    name: str
    lost_to: str
    on_J: float
    lost_J: float
    style: str = "level"


class Heading(NamedTuple):
    """A row that only names what follows."""

    name: str


def table(caption: str, rows: Sequence[Bar | Heading], said: Saying) -> str:
    """Return the rows, a heading first, as a table, all bars on one scale from 0."""
    most_J = max(row.on_J + row.lost_J for row in rows if isinstance(row, Bar))
    groups = "".join(_row(row, most_J, said) for row in rows).removeprefix("</tbody>")
    return (f'<table class="bars"><caption>{escape(caption)}</caption>\n<thead><tr>'
            '<th scope="col">step, and where its loss goes</th><th scope="col" class="n">lost</th>'
            f'<th scope="col" class="n">left</th></tr></thead>\n{groups}</tbody></table>')


def _row(row, most_J, said):
    if isinstance(row, Heading):
        return ('</tbody><tbody><tr class="head"><th scope="rowgroup" colspan="3">'
                f"{escape(row.name)}</th></tr>\n")
    on, lost = (UNITS * one / most_J for one in (row.on_J, row.lost_J))
    lost_to = f' <span class="soft">{escape(row.lost_to)}</span>' if row.lost_to else ""
    lost_said = said(row.lost_J, "energy") if row.lost_J else NOTHING
    return (f'<tr><th scope="row">{escape(row.name)}{lost_to}'
            f'<svg class="bar" viewBox="0 0 {UNITS} 10" preserveAspectRatio="none"'
            f' aria-hidden="true"><rect class="{row.style}" width="{on:.1f}" height="10"/>'
            f'<rect class="lost" x="{on:.1f}" width="{lost:.1f}" height="10"/></svg></th>'
            f'<td class="n">{lost_said}</td><td class="n">{said(row.on_J, "energy")}</td></tr>\n')


class Place(NamedTuple):
    """A thing on the scale by powers of ten."""

    name: str
    energy_J: float
    is_this: bool = False


def scale_svg(svg_id: str, title: str, places: Sequence[Place], said: Saying) -> str:
    """Return things by their energy on one scale of which each step is ten times the last."""
    ordered = sorted(places, key=lambda place: place.energy_J)
    low = math.floor(math.log10(ordered[0].energy_J))
    high = math.ceil(math.log10(ordered[-1].energy_J))
    left, right = 12.0, plot.WIDTH - 12.0
    bottom = 8.0 + ROW * len(ordered)

    def x_of(energy_J):
        return left + (math.log10(energy_J) - low) / (high - low) * (right - left)

    parts = [f'<line class="grid" x1="{x_of(10.0 ** power):.1f}" y1="6"'
             f' x2="{x_of(10.0 ** power):.1f}" y2="{bottom:.1f}"/>'
             for power in range(low, high + 1)]
    parts += [plot.text(x_of(10.0 ** power), bottom + 16, said(10.0 ** power, "energy"),
                        "tick mid") for power in range(low, high + 1)
              if power % 3 == 0 and low < power < high]
    for row, place in enumerate(ordered):
        y = 22.0 + ROW * row
        x, words = x_of(place.energy_J), f"{place.name}, {said(place.energy_J, 'energy')}"
        wide = plot.wide(words)
        begin = min(max(x - wide / 2, 0.0), plot.WIDTH - wide)
        style = "this" if place.is_this else "other"
        parts += [f'<line class="reach {style}" x1="{left}" y1="{y + 11:.1f}" x2="{x:.1f}"'
                  f' y2="{y + 11:.1f}"/>',
                  f'<circle class="place {style}" cx="{x:.1f}" cy="{y + 11:.1f}" r="5"/>',
                  plot.text(begin, y, words, "axis strong" if place.is_this else "axis")]
    told = "; ".join(f"{place.name} {said(place.energy_J, 'energy')}" for place in ordered)
    return plot.figure(svg_id, title, told + ".", bottom + 24, parts)
