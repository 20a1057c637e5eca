"""Draws the states of operation and their transitions as one plain SVG."""

from collections import defaultdict
from html import escape

from forebay.words.operation import CAUSES, MODES
from keeper.modes import STATES, TRANSITIONS

_BOX_W, _BOX_H = 150, 44
_WIDTH, _HEIGHT = 900, 620
# Where each state stands [px, centre]; a state without a place would be an error.
_PLACES = {
    "standstill": (450, 310), "trial": (150, 120), "pumping": (150, 310),
    "running": (750, 120), "closing": (750, 310), "draining": (450, 540),
    "maintenance": (750, 540),
}
_LINE = 15   # between two lines of a label [px]
_ALONG = 0.36  # of an arrow, where its label stands
_BEND = 26   # how far the two directions between two states keep apart [px]


def _edge(centre, towards):
    """Where the line from a box's centre towards a point leaves the box."""
    (x, y), (u, v) = centre, towards
    dx, dy = u - x, v - y
    scale = min(_BOX_W / 2 / abs(dx) if dx else 9e9, _BOX_H / 2 / abs(dy) if dy else 9e9)
    return x + dx * scale, y + dy * scale


def _arrow(source, target, causes, both):
    (x, y), (u, v) = _PLACES[source], _PLACES[target]
    length = ((u - x) ** 2 + (v - y) ** 2) ** 0.5
    aside = _BEND if both else 0
    shift_x, shift_y = (v - y) / length * aside / 2, (x - u) / length * aside / 2
    start = _edge((x, y), (u, v))
    end = _edge((u, v), (x, y))
    x1, y1, x2, y2 = (start[0] + shift_x, start[1] + shift_y, end[0] + shift_x, end[1] + shift_y)
    parts = [f'<line x1="{x1:.0f}" y1="{y1:.0f}" x2="{x2:.0f}" y2="{y2:.0f}"'
             ' marker-end="url(#head)"/>']
    # Nearer to where the arrow begins: lines that cross do so in their middles.
    label_x = x1 + (x2 - x1) * _ALONG + shift_x * 2
    label_y = y1 + (y2 - y1) * _ALONG + shift_y * 2 - _LINE * (len(causes) - 1) / 2
    for place, cause in enumerate(causes):
        parts.append(f'<text x="{label_x:.0f}" y="{label_y + place * _LINE:.0f}"'
                     f' class="cause">{escape(cause)}</text>')
    return parts


def picture() -> str:
    """Return the SVG of `keeper.modes`: a box a state, an arrow a pair of states."""
    arrows = defaultdict(list)
    for source, cause, target in TRANSITIONS:
        arrows[STATES[source][0], STATES[target][0]].append(CAUSES[cause].name)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}"'
        ' font-family="sans-serif" font-size="14">',
        "<style>line{stroke:#555;stroke-width:1.4}rect{fill:#fff;stroke:#222}"
        "text{text-anchor:middle;fill:#111}.cause{font-size:12px;fill:#333;paint-order:stroke;"
        "stroke:#fff;stroke-width:4px}</style>",
        '<defs><marker id="head" markerWidth="9" markerHeight="8" refX="8" refY="4"'
        ' orient="auto"><path d="M0,0 L9,4 L0,8 z" fill="#555"/></marker></defs>',
        f'<rect width="{_WIDTH}" height="{_HEIGHT}" stroke="none"/>',
    ]
    for (source, target), causes in arrows.items():
        parts += _arrow(source, target, causes, (target, source) in arrows)
    for name, mode in STATES:
        x, y = _PLACES[name]
        parts.append(f'<rect x="{x - _BOX_W / 2:.0f}" y="{y - _BOX_H / 2:.0f}" width="{_BOX_W}"'
                     f' height="{_BOX_H}" rx="6"/>')
        parts.append(f'<text x="{x}" y="{y - 2}">{escape(name)}</text>')
        parts.append(f'<text x="{x}" y="{y + 14}" class="cause">{escape(MODES[mode])}'
                     " mode</text>")
    return "\n".join([*parts, "</svg>"]) + "\n"
