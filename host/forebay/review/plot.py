"""The plot of a review: strips over one axis of time, as inline SVG.

Light powers lie a hundred times below the sun's, so each has a strip of its
own.  What no instrument reads has none; where the sun's side is not read the motor's
warmth stands for it, where the level is not what the rig did and its floats.  Colours
come from the page's style sheet; nothing is loaded.
"""

import math
from datetime import UTC, datetime, timedelta

import numpy as np

from forebay.balance.spans import FILL_STATES
from forebay.paper import nice_step
from keeper.modes import RUNNING

WIDTH, LEFT, RIGHT = 860, 56, 12
STRIP, GAP, TOP, BOTTOM = 120, 26, 22, 34
BAND, BAR = 18, 10       # of what is or is not, instead of a curve
BINS = 400
# A line is broken where nothing is known for longer than this.
LONGEST_BRIDGE_S = 600.0
GRID_HOURS = (1, 2, 3, 4, 6, 12, 24, 48, 168)
MOST_GRID_LINES = 13
HOUR_S = 3600.0


def svg(review) -> str:
    """Return the plot of a review; a sentence instead if no row has a time."""
    series = review.series
    known = np.isfinite(series.utc_s)
    if np.count_nonzero(known) < 2:
        return "<p>No row of the journal has a known time, so there is no plot.</p>"
    begin_s, end_s = float(series.utc_s[known].min()), float(series.utc_s[known].max())
    strips, bands = strips_of(series), bands_of(series)
    height = TOP + len(strips) * (STRIP + GAP) + (
        len(bands) * BAND + GAP if bands else 0) + BOTTOM - GAP
    shown = ", ".join([title for title, _, _ in strips] + [name for name, _, _ in bands])
    parts = [f'<svg viewBox="0 0 {WIDTH} {height}" role="img" aria-label="{shown}, over time">']
    parts += _time_grid(review, begin_s, end_s, height)
    for index, (title, unit, curves) in enumerate(strips):
        top = TOP + index * (STRIP + GAP)
        parts += _strip(top, title, unit, curves, series.utc_s, begin_s, end_s)
    for index, (name, mask, style) in enumerate(bands):
        top = TOP + len(strips) * (STRIP + GAP) + index * BAND
        parts += _band(top, name, mask, style, series.utc_s, begin_s, end_s)
    parts.append("</svg>")
    return "\n".join(parts)


def strips_of(series) -> list:
    """Return (title, unit, curves) of what is read; a curve: (name, values, style)."""
    sun = [("panel", series.panel_W, "panel"), ("pump", series.pump_W, "pump")]
    strips = [
        ("Sun", "W", sun),
        ("Light", "W", [("lamps", series.lamp_W, "lamp")]),
        ("Level in the upper tank", "m", [("level", series.level_m, "level")]),
    ]
    if not any(np.isfinite(values).any() for _, values, _ in sun):
        strips[0] = ("Warmth of the pump's motor", "degC",
                     [("motor", series.motor_degC, "pump")])
    known = [(title, unit, [one for one in curves if np.isfinite(one[1]).any()])
             for title, unit, curves in strips]
    return [strip for strip in known if strip[2]]


def bands_of(series) -> list:
    """Return (name, mask of rows, style) of what tells of the water where no level does."""
    if np.isfinite(series.level_m).any():
        return []
    return [("pump on", np.isin(series.state, FILL_STATES), "pump"),
            ("light on", np.isin(series.state, (RUNNING,)), "lamp"),
            *[(name, says, "level") for name, says in series.floats]]


def _band(top, name, mask, style, utc_s, begin_s, end_s):
    """Return bars over the rows that a mask selects, one for each stretch of them."""
    parts = [f'<text class="tick end" x="{LEFT - 6}" y="{top + BAR}">{name}</text>']
    known = np.isfinite(utc_s)
    on, at_s = mask[known].astype(int), utc_s[known]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], on, [0]])))
    for first, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        # A row ends at its time, and began where the one before it ended.
        left, right = _x(at_s[max(first - 1, 0)], begin_s, end_s), _x(
            at_s[end - 1], begin_s, end_s)
        parts.append(f'<rect class="{style}" x="{left:.1f}" y="{top}"'
                     f' width="{max(right - left, 1.0):.1f}" height="{BAR}"/>')
    return parts


def _x(utc_s, begin_s, end_s):
    span = max(end_s - begin_s, 1.0)
    return LEFT + (utc_s - begin_s) / span * (WIDTH - LEFT - RIGHT)


def _time_grid(review, begin_s, end_s, height):
    """Return lines and labels at whole hours of the review's zone."""
    hours = (end_s - begin_s) / HOUR_S
    step = next((h for h in GRID_HOURS if hours / h <= MOST_GRID_LINES), GRID_HOURS[-1])
    local = datetime.fromtimestamp(begin_s, UTC).astimezone(review.zone)
    at = local.replace(hour=0, minute=0, second=0, microsecond=0)
    parts = []
    bottom = height - BOTTOM
    while at.timestamp() <= end_s:
        # The hour that a change of the clocks leaves out is no place on the axis.
        is_there = at.astimezone(UTC).astimezone(at.tzinfo).hour == at.hour
        if is_there and at.timestamp() >= begin_s:
            x = _x(at.timestamp(), begin_s, end_s)
            parts.append(
                f'<line class="grid" x1="{x:.1f}" y1="{TOP}" x2="{x:.1f}" y2="{bottom}"/>'
            )
            label = at.strftime("%H:%M" if step < 24 else "%d %b")
            parts.append(f'<text class="tick mid" x="{x:.1f}" y="{bottom + 14}">{label}</text>')
        at += timedelta(hours=step)
    parts.append(
        f'<text class="axis mid" x="{(LEFT + WIDTH - RIGHT) / 2}" y="{bottom + 29}">'
        f"local time ({review.offset()})</text>"
    )
    return parts


def _strip(top, title, unit, curves, utc_s, begin_s, end_s):
    """Return one strip: frame, scale, curves and their names."""
    highest = max((_greatest(values) for _, values, _ in curves), default=0.0)
    step = nice_step(highest)
    ceiling = step * max(math.ceil(highest / step - 1e-9), 1)
    bottom = top + STRIP
    parts = [f'<text class="axis" x="{LEFT}" y="{top - 7}">{title} [{unit}]</text>']
    for count in range(round(ceiling / step) + 1):
        value = count * step
        y = bottom - value / ceiling * STRIP
        parts.append(f'<line class="grid" x1="{LEFT}" y1="{y:.1f}" x2="{WIDTH - RIGHT}"'
                     f' y2="{y:.1f}"/>')
        parts.append(f'<text class="tick end" x="{LEFT - 6}" y="{y + 4:.1f}">{value:g}</text>')
    legend_x = WIDTH - RIGHT
    for name, values, style in reversed(curves):
        path = _path(utc_s, values, begin_s, end_s, bottom, ceiling)
        parts.append(f'<path class="curve {style}" d="{path}"/>')
        parts.append(f'<text class="name end {style}" x="{legend_x}" y="{top - 7}">{name}</text>')
        legend_x -= 14 + 7 * len(name)
    return parts


def _greatest(values):
    known = values[np.isfinite(values)]
    return float(known.max()) if len(known) else 0.0


def _path(utc_s, values, begin_s, end_s, bottom, ceiling):
    """Return the means of `BINS` bins as an SVG path, broken where nothing is known."""
    known = np.isfinite(values) & np.isfinite(utc_s)
    width_s = max((end_s - begin_s) / BINS, 1.0)
    place = np.minimum(((utc_s[known] - begin_s) / width_s).astype(int), BINS - 1)
    count = np.bincount(place, minlength=BINS)
    middle = np.bincount(place, utc_s[known], BINS)
    height = np.bincount(place, values[known], BINS)
    parts = []
    before_s = -math.inf
    for index in np.flatnonzero(count):
        at_s = middle[index] / count[index]
        value = min(max(height[index] / count[index], 0.0), ceiling)
        joined = at_s - before_s <= max(LONGEST_BRIDGE_S, 3 * width_s)
        parts.append(
            f"{'L' if joined else 'M'}{_x(at_s, begin_s, end_s):.1f}"
            f" {bottom - value / ceiling * STRIP:.1f}"
        )
        before_s = at_s
    return "".join(parts)
