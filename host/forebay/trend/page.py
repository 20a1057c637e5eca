"""The section "Trend" of a page: findings, then one small drawing a figure on one axis of days."""

from datetime import timedelta
from html import escape

from forebay.paper import section
from forebay.trend.found import DAY_S, Line, Trend
from forebay.trend.text import HOW, anew_said, behind, finding_said, no_finding_said

WIDTH, HEIGHT = 640, 88
LEFT, RIGHT, TOP, BOTTOM = 64, 12, 14, 20
ROOM_FRAC = 0.15         # above and below the values
DOT = 2.2
TICK = 6             # a person's note


def html(trend: Trend) -> str:
    """Return the section as HTML: no script, no other file."""
    said = [f'<p{" class=grave" if one.is_open and one.is_worse else ""}>'
            f"{escape(finding_said(one))}</p>" for one in trend.findings]
    drawn = [_drawing(trend, one) for one in trend.lines if not one.why_not]
    lacking = [f"<li>{escape(one.figure.label)}: {escape(one.why_not)}</li>"
               for one in trend.lines if one.why_not]
    parts = [*(said or [f"<p>{escape(no_finding_said(trend))}</p>"]), *drawn]
    if trend.anew:
        parts.append(f'<p class="soft">{escape(anew_said(trend))} Dotted lines show it.</p>')
    if lacking:
        parts.append(f"<p>Not known:</p><ul>{''.join(lacking)}</ul>")
    parts += [f'<p class="soft">{escape(one)}</p>' for one in (*behind(trend), HOW)]
    return section("Trend", "\n".join(parts))


def _drawing(trend: Trend, line: Line) -> str:
    """Return one figure as SVG: a dot a day, a bar where something changed.

    Dotted, where another description was flashed; a tick below, where a person left a note.
    """
    assert trend.first
    values = line.shown()
    low, high = float(values.min()), float(values.max())
    room = ROOM_FRAC * (high - low) or 1.0
    low, high = low - room, high + room
    span = max(1.0, float(trend.days - 1), float(line.series.days[-1]))

    def x(day):
        return LEFT + (WIDTH - LEFT - RIGHT) * day / span

    def y(value):
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (value - low) / (high - low)

    title = f"{line.figure.label} [{line.figure.unit}]"
    last = trend.first + timedelta(span)
    told = f"{title}: usual {line.usual:.4g}, lately {line.lately:.4g}"
    parts = [f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(told)}">',
             f'<text class="axis" x="{LEFT}" y="10">{escape(title)}</text>']
    for value in (float(values.min()), float(values.max())):
        parts.append(f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y(value):.1f}"'
                     f' y2="{y(value):.1f}"/><text class="end" x="{LEFT - 6}"'
                     f' y="{y(value) + 4:.1f}">{value:.4g}</text>')
    parts += _marks(trend, x)
    for one in line.findings:
        name = "grave" if one.is_open and one.is_worse else "soft"
        parts.append(f'<line x1="{x(one.change.day):.1f}" x2="{x(one.change.day):.1f}" y1="{TOP}"'
                     f' y2="{HEIGHT - BOTTOM}" stroke="var(--{name})" stroke-dasharray="3 2"/>')
    dots = "".join(f'<circle cx="{x(day):.1f}" cy="{y(value):.1f}" r="{DOT}"'
                   ' fill="var(--level)"/>'
                   for day, value in zip(line.series.days, values, strict=True))
    parts += [dots, f'<text x="{LEFT}" y="{HEIGHT - 4}">{trend.first}</text>'
              f'<text class="end" x="{WIDTH - RIGHT}" y="{HEIGHT - 4}">{last}</text></svg>']
    return "".join(parts)


def _marks(trend, x):
    """Return what else was done to the rig, as lines of an SVG."""
    foot = HEIGHT - BOTTOM
    marks = [((one.first - trend.first).days, TOP, "1 3", f"{one.first}: another description")
             for one in trend.anew]
    marks += [((one.utc_s - trend.begin_s) / DAY_S, foot - TICK, "", f"noted: {one.text}")
              for one in trend.notes]
    return [f'<line x1="{x(day):.1f}" x2="{x(day):.1f}" y1="{top}" y2="{foot}"'
            f' stroke="var(--soft)" stroke-dasharray="{dashes}"><title>{escape(said)}</title>'
            "</line>" for day, top, dashes, said in marks]
