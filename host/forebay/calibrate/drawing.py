"""A fit as letters for a terminal, and as a page; both of `outcomes.Drawn`."""

import math
from html import escape
from typing import Any

from forebay import paper
from forebay.calibrate.outcomes import Drawn, Outcome, said, said_u

WIDTH, HEIGHT = 62, 12         # of the field in letters
POINT, APART, CURVE = "o", "x", "."
SVG_W, SVG_H, LEFT, BOTTOM, TOP = 720, 300, 64, 40, 14
MARGIN_FRAC = 0.05
TICKS = 5


def lines(drawn: Drawn) -> list[str]:
    """Return a drawing of at most 80 columns: o = a point, x = one that lies apart, . = fit."""
    low_x, high_x, low_y, high_y = _frame(drawn)
    field = [[" "] * WIDTH for _ in range(HEIGHT)]

    def put(x, y, letter):
        column = round((x - low_x) / (high_x - low_x) * (WIDTH - 1))
        row = round((high_y - y) / (high_y - low_y) * (HEIGHT - 1))
        if 0 <= column < WIDTH and 0 <= row < HEIGHT:
            field[row][column] = letter

    for column in range(WIDTH):
        x = low_x + (high_x - low_x) * column / (WIDTH - 1)
        y = _maybe_on_curve(drawn, x)
        if y is not None:
            put(x, y, CURVE)
    for place, (x, y) in enumerate(zip(drawn.x, drawn.y, strict=True)):
        put(x, y, APART if place in drawn.apart else POINT)
    found = [f"{drawn.title} (o = point, x = apart, . = fit)"]
    for row, letters in enumerate(field):
        label = f"{high_y:9.4g}" if row == 0 else f"{low_y:9.4g}" if row == HEIGHT - 1 else " " * 9
        found.append(f"{label} |{''.join(letters).rstrip()}")
    found.append(" " * 10 + "+" + "-" * WIDTH)
    ends = f"{low_x:.4g}", f"{high_x:.4g}"
    found.append(" " * 11 + ends[0] + ends[1].rjust(WIDTH - len(ends[0])))
    found.append(" " * 11 + drawn.across)
    return found


def _frame(drawn):
    xs, ys = [*drawn.x, *drawn.curve_x], [*drawn.y, *drawn.curve_y]
    low_x, high_x, low_y, high_y = min(xs), max(xs), min(ys), max(ys)
    off_x = (high_x - low_x) * MARGIN_FRAC or abs(high_x) or 1.0
    off_y = (high_y - low_y) * MARGIN_FRAC or abs(high_y) or 1.0
    return low_x - off_x, high_x + off_x, low_y - off_y, high_y + off_y


def _maybe_on_curve(drawn, x):
    """Return the fitted curve at a place, by straight pieces; None beyond its ends."""
    pairs = list(zip(drawn.curve_x, drawn.curve_y, strict=True))
    for (x0, y0), (x1, y1) in zip(pairs, pairs[1:], strict=False):
        if min(x0, x1) <= x <= max(x0, x1):
            return y0 if x0 == x1 else y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return None


def svg(drawn: Drawn) -> str:
    """Return the drawing as an SVG element, points with bars of two standard uncertainties."""
    low_x, high_x, low_y, high_y = _frame(drawn)

    def at_x(x):
        return LEFT + (x - low_x) / (high_x - low_x) * (SVG_W - LEFT - 10)

    def at_y(y):
        return TOP + (high_y - y) / (high_y - low_y) * (SVG_H - TOP - BOTTOM)

    parts = [f'<svg viewBox="0 0 {SVG_W} {SVG_H}" role="img" aria-label="{escape(drawn.title)}">']
    for value in _ticks(low_x, high_x):
        parts.append(f'<text class="mid" x="{at_x(value):.1f}" y="{SVG_H - BOTTOM + 16}">'
                     f"{value:.4g}</text>")
    for value in _ticks(low_y, high_y):
        parts.append(f'<path class="grid" d="M{LEFT} {at_y(value):.1f}H{SVG_W - 10}"/>'
                     f'<text class="end" x="{LEFT - 6}" y="{at_y(value) + 4:.1f}">'
                     f"{value:.4g}</text>")
    curve = " ".join(f"{at_x(x):.1f},{at_y(y):.1f}"
                     for x, y in zip(drawn.curve_x, drawn.curve_y, strict=True))
    parts.append(f'<path class="curve level" d="M{curve.replace(" ", " L")}"/>')
    for place, (x, y, u) in enumerate(zip(drawn.x, drawn.y, drawn.u_y, strict=True)):
        kind = "lamp" if place in drawn.apart else "pump"
        parts.append(f'<path class="curve {kind}" d="M{at_x(x):.1f} {at_y(y - 2 * u):.1f}'
                     f'V{at_y(y + 2 * u):.1f}"/>'
                     f'<rect class="{kind}" x="{at_x(x) - 3:.1f}" y="{at_y(y) - 3:.1f}" width="6"'
                     f' height="6"><title>{escape(drawn.names[place])}</title></rect>')
    parts.append(f'<text class="axis mid" x="{SVG_W / 2}" y="{SVG_H - 6}">'
                 f"{escape(drawn.across)}</text></svg>")
    return "".join(parts)


def _ticks(low, high):
    step = paper.nice_step(high - low, TICKS)
    first = math.ceil(low / step)
    return [number * step for number in range(first, math.floor(high / step) + 1)]


def page(name: str, outcome: Outcome, when: str) -> str:
    """Return the page of a calibration; name: of the rig; when: a day, as text."""
    title = f"{name}: calibration of {outcome.task}"
    body = [f'<h1>{escape(title)}</h1><p class="when">{escape(when)}</p>']
    if outcome.figures or outcome.doubts:
        body.append(paper.section("Figures", _table(outcome)))
    if outcome.told:
        rows = "".join(f"<tr><td>{escape(what)}</td><td>{escape(text)}</td></tr>"
                       for what, text in outcome.told)
        body.append(paper.section("Besides", f'<div class="scroll"><table>{rows}</table></div>'))
    for one in outcome.drawn:
        body.append(paper.section(escape(one.title), f"{svg(one)}<p class='soft'>Bars are two"
                                  " standard uncertainties; a point in another colour lies"
                                  " apart.</p>"))
    if outcome.notes:
        notes = "".join(f"<li>{escape(one)}</li>" for one in outcome.notes)
        body.append(paper.section("To know", f"<ul>{notes}</ul>"))
    body.append(f'<p class="caution">{paper.CAUTION}</p>')
    return paper.document(title, "\n".join(body))


def _table(outcome: Outcome) -> str:
    rows: list[tuple[Any, ...]] = [
        (one.place, said_u(one.place, one.value, one.u),
         said_u(one.place, one.before, one.before_u), f"{one.moved_u:+.1f}")
        for one in outcome.figures]
    rows += [(place, said(place, new), said(place, before), "")
             for place, (new, before) in outcome.doubts.items()]
    cells = "".join("<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>"
                    for row in rows)
    return ('<div class="scroll"><table><tr><th>figure</th><th>found</th><th>before</th>'
            f"<th>moved, in u</th></tr>{cells}</table></div>")


def text(outcome: Outcome) -> list[str]:
    """Return what was found as lines for a terminal."""
    found = []
    for one in outcome.drawn:
        found += [*lines(one), ""]
    for one in outcome.figures:
        found.append(f"{one.place}")
        found.append(f"    found {said_u(one.place, one.value, one.u)},"
                     f" before {said_u(one.place, one.before, one.before_u)}:"
                     f" moved {one.moved_u:+.1f} u")
    for place, (new, before) in outcome.doubts.items():
        found.append(f"{place}\n    found {said(place, new)}, before {said(place, before)}")
    found += [f"{what}: {told}" for what, told in outcome.told]
    return found
