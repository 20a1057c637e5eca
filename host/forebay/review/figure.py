"""The plot of a review, as data: rows over one axis of time, and what happened above them.

Rows exist for what is read; what the rig lacks has none.  Where no level is read, what the rig
did and its floats stand in its place.  Colours are names of the page's style sheet: the page's
script puts in those of light, dark or paper.
"""

import base64
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from forebay.balance.spans import FILL_STATES
from forebay.review.words import WEIGHTS
from forebay.shelf.local import iso_local
from keeper.modes import RUNNING

BINS = 2880              # that a curve has at most: of half a minute each in a day
LONGEST_BRIDGE_S = 600.0  # a line is broken where nothing is known for longer
EVENTS_MOST = 3000       # marks in the plot
ROW_PX, LANES_PX, BAND_PX, GAP_PX = 118, 168, 24, 32
TOP_PX, BOTTOM_PX = 8, 46
MS = 1000.0
NOTES_LANE = "your notes"
LANES = (*WEIGHTS, NOTES_LANE)
# Curves that lie on each other are all seen: the broader ones lie below.
WIDTHS = {"dot": 2.8, "dash": 2.4, "solid": 1.4}
MARK_SHIFT = 0.2         # of a mark below the middle of its lane, whose name stands above
SYMBOLS = ("x", "diamond", "circle-open", "star")
LANE_COLOURS = ("grave", "panel", "soft", "pump")
WRAP = 60                # letters in a line of what is shown under the pointer
GRID_HOURS = (1, 2, 3, 4, 6, 12, 24, 48, 168, 672)
MOST_TICKS = 9
# title, unit, curves: (name, attribute of the series, style, dashes)
ROWS = (
    ("Panel gives", "W", (("available", "available_W", "soft", "dot"),
                               ("all", "panel_W", "panel", "solid"),
                               ("pump", "pump_W", "pump", "dash"))),
    ("Light", "W", (("planned", "setpoint_W", "soft", "dot"),
                    ("generator", "generator_W", "level", "dash"),
                    ("lamps", "lamp_W", "lamp", "solid"))),
    ("Flow", "L/min", (("up", "up_L_min", "pump", "solid"),
                       ("down", "down_L_min", "lamp", "dash"))),
    ("Level, upper tank", "m", (("level", "level_m", "level", "solid"),)),
    ("Temperature", "degC", (("motor", "motor_degC", "grave", "solid"),
                             ("water", "water_degC", "pump", "dash"))),
    ("Voltage", "V", (("panel", "panel_V", "panel", "solid"),
                      ("generator", "generator_V", "lamp", "dash"),
                      ("supply", "supply_V", "level", "dot"))),
    ("Valve", "% open", (("position", "valve_percent", "pump", "solid"),)),
)


class Row:
    """One row of the plot: title, unit, and its curves (name, values, style, dashes)."""

    def __init__(self, title: str, unit: str, curves: list):
        self.title, self.unit, self.curves = title, unit, curves


def rows_of(review) -> list[Row]:
    """Return the rows of what was read, in order."""
    found = []
    for title, unit, curves in ROWS:
        known = [(name, values, style, dashes) for name, attribute, style, dashes in curves
                 if (values := _values(review, attribute)) is not None]
        # What was planned alone is no reading.
        if any(name not in ("planned", "available") for name, *_ in known):
            found.append(Row(title, unit, known))
    return found


def _values(review, attribute):
    """Return the values of a curve, one a row of the series; None if none is known."""
    series = review.series
    if attribute == "available_W":
        if review.available is None:
            return None
        at_s, watts = review.available
        values = np.interp(series.utc_s, at_s, watts, left=np.nan, right=np.nan)
    else:
        values = getattr(series, attribute)
    return values if np.isfinite(values).any() else None


def bands_of(review) -> list[tuple[str, np.ndarray, str]]:
    """Return (name, mask of rows, style) of what tells of the water where no level does."""
    series = review.series
    if np.isfinite(series.level_m).any():
        return []
    return [("pump on", np.isin(series.state, FILL_STATES), "pump"),
            ("light on", series.state == RUNNING, "lamp"),
            *[(name, says, "level") for name, says in series.floats]]


def missing(review) -> list[str]:
    """Return the names of curves that no instrument of this rig gives."""
    return [f"{title}: {name}" for title, _, curves in ROWS for name, attribute, *_ in curves
            if attribute not in ("available_W", "setpoint_W")
            and _values(review, attribute) is None]


class Binned:
    """The rows of a review in bins of one width, empty ones left out, gaps marked.

    Attributes: at_s, the middle of each [s since 1970 UTC].  Between two bins that lie further
    apart than LONGEST_BRIDGE_S stands one without values.
    """

    def __init__(self, utc_s: np.ndarray, bins: int = BINS):
        self._known = np.flatnonzero(np.isfinite(utc_s))
        at_s = utc_s[self._known]
        begin_s = float(at_s.min())
        width_s = max((float(at_s.max()) - begin_s) / bins, 1.0)
        place = ((at_s - begin_s) / width_s).astype(int)
        used, self._place = np.unique(place, return_inverse=True)
        self._count = len(used)
        middle_s = np.bincount(self._place, at_s, self._count) / np.bincount(
            self._place, minlength=self._count)
        far = np.flatnonzero(np.diff(middle_s) > max(LONGEST_BRIDGE_S, 3 * width_s))
        self._gaps = far + 1
        self.at_s = np.insert(middle_s, self._gaps, (middle_s[far] + middle_s[far + 1]) / 2)

    def means(self, values: np.ndarray) -> np.ndarray:
        """Return the mean of each bin, NaN where nothing is known."""
        values = values[self._known]
        known = np.isfinite(values)
        count = np.bincount(self._place[known], minlength=self._count)
        total = np.bincount(self._place[known], values[known], self._count)
        means = np.where(count, total / np.maximum(count, 1), np.nan)
        return np.insert(means, self._gaps, np.nan)


def figure(review) -> dict[str, Any] | None:
    """Return the plot as the plotting library's data and layout; None if no row has a time."""
    series = review.series
    known = np.isfinite(series.utc_s)
    if np.count_nonzero(known) < 2:
        return None
    binned = Binned(series.utc_s)
    shift_s = _shift_s(review, binned.at_s[0])
    rows, bands = rows_of(review), bands_of(review)
    height = TOP_PX + LANES_PX + len(rows) * (ROW_PX + GAP_PX) + (
        len(bands) * BAND_PX + GAP_PX if bands else 0) + BOTTOM_PX
    layout: dict[str, Any] = {"annotations": [], "shapes": []}
    frame = _Frame(height)
    traces = _event_traces(review, shift_s, frame, layout)
    for place, row in enumerate(rows, 2):
        traces += _row_traces(row, place, binned, frame, layout)
    if bands:
        traces += _band_traces(bands, len(rows) + 2, series, shift_s, frame, layout)
    layout |= _axes_of_time(review, binned, shift_s)
    return {"x": _packed((binned.at_s + shift_s) * MS, "f8"), "traces": traces,
            "layout": layout, "height": height}


class _Frame:
    """Hands out the height of a figure [px], from its top down, as parts of the plot [-]."""

    def __init__(self, height: int):
        self._whole = height - TOP_PX - BOTTOM_PX
        self._at = 0

    def take(self, px: int, gap_px: int = 0) -> list[float]:
        """Return the domain (bottom, top) of so many px below what is taken already."""
        self._at += gap_px
        top = self._at
        self._at += px
        return [max(1 - self._at / self._whole, 0.0), 1 - top / self._whole]


def _packed(values: np.ndarray, kind: str = "f4") -> dict[str, str]:
    """Return numbers as the library's binary form."""
    data = np.ascontiguousarray(values, dtype=f"<{kind}").tobytes()
    return {"dtype": kind, "bdata": base64.b64encode(data).decode("ascii")}


def _shift_s(review, begin_s):
    """Return the zone's offset at a time [s]: the axis shows that clock."""
    local = datetime.fromtimestamp(float(begin_s), UTC).astimezone(review.zone)
    return (local.utcoffset() or timedelta()).total_seconds()


def _row_traces(row, place, binned, frame, layout):
    domain = frame.take(ROW_PX, GAP_PX)
    layout[f"yaxis{place}"] = {"domain": domain, "anchor": "x",
                               "rangemode": "normal" if row.unit in ("degC", "m") else "tozero",
                               "nticks": 4, "automargin": False}
    if row.unit == "% open":
        # A shut valve is a flat line, whatever its last digit does.
        layout[f"yaxis{place}"] |= {"range": [-2, 102], "tickvals": [0, 50, 100]}
    layout["annotations"].append(_title(f"{row.title} [{row.unit}]", domain[1]))
    # The page's script puts the colour in.
    shown = "   ".join(f"<span style='color:{{{style}}}'>{_glyph(dashes)}</span> {name}"
                       for name, _, style, dashes in row.curves)
    layout["annotations"].append(_title(shown, domain[1], "right"))
    return [{
        "type": "scatter", "mode": "lines", "name": f"{row.title}, {name}", "yaxis": f"y{place}",
        "y": _packed(binned.means(values)),
        "line": {"color": style, "width": WIDTHS[dashes], "dash": dashes},
        "connectgaps": False, "showlegend": False,
        "hovertemplate": f"%{{y:.4~g}} {row.unit} {name}<extra></extra>",
    } for name, values, style, dashes in row.curves]


def _glyph(dashes):
    return {"solid": "\u2501\u2501", "dash": "\u2578\u2578", "dot": "\u00b7\u00b7\u00b7"}[dashes]


def _title(text, y, side="left"):
    """Return an annotation just above a row, at its left or right end."""
    return {"text": text, "xref": "paper", "yref": "paper", "x": 0 if side == "left" else 1,
            "y": y, "xanchor": side, "yanchor": "bottom", "showarrow": False,
            "font": {"size": 13, "color": "ink"}}


def _event_traces(review, shift_s, frame, layout):
    """Return a trace for each lane: the weights of events, and a person's notes."""
    domain = frame.take(LANES_PX)
    layout["yaxis"] = {"domain": domain, "range": [len(LANES) - 0.5, -0.5], "fixedrange": True,
                       "tickvals": [], "zeroline": False, "showgrid": False}
    traces = []
    for lane, name in enumerate(LANES):
        told = [(one.utc_s, one.text) for one in review.told] if name == NOTES_LANE else [
            (one.utc_s, one.text) for one in review.events if one.weight == lane]
        told = [one for one in told if np.isfinite(one[0])][:EVENTS_MOST]
        layout["annotations"].append({
            "text": name, "xref": "paper", "yref": "y", "x": 0, "y": lane - 0.27,
            "xanchor": "left", "yanchor": "middle", "showarrow": False,
            "font": {"size": 12, "color": "soft"}})
        traces.append({
            "type": "scatter", "mode": "markers", "name": name, "lane": lane, "yaxis": "y",
            "x": [(at_s + shift_s) * MS for at_s, _ in told], "y": [lane + MARK_SHIFT] * len(told),
            "cliponaxis": False,
            "marker": {"symbol": SYMBOLS[lane], "size": 9, "color": LANE_COLOURS[lane],
                       "line": {"width": 1.6, "color": LANE_COLOURS[lane]}},
            "text": [f"{review.time(at_s)} {wrapped(text)}" for at_s, text in told],
            "hovertemplate": "%{text}<extra></extra>", "showlegend": False})
        if name == NOTES_LANE:
            layout["shapes"] += [_upright((at_s + shift_s) * MS, "pump") for at_s, _ in told]
    return traces


def wrapped(text: str) -> str:
    """Return a text in short lines for what is shown under the pointer, safe as markup."""
    import textwrap
    from html import escape

    return "<br>".join(escape(line) for line in textwrap.wrap(text, WRAP, break_on_hyphens=False))


def _upright(x_ms, style):
    return {"type": "line", "xref": "x", "yref": "paper", "x0": x_ms, "x1": x_ms, "y0": 0, "y1": 1,
            "line": {"color": style, "width": 1, "dash": "dot"}}


def _band_traces(bands, place, series, shift_s, frame, layout):
    domain = frame.take(BAND_PX * len(bands), GAP_PX)
    layout[f"yaxis{place}"] = {"domain": domain, "anchor": "x",
                               "range": [len(bands) - 0.5, -0.5], "fixedrange": True,
                               "tickvals": [], "zeroline": False, "showgrid": False}
    layout["annotations"].append(_title("What the rig did, and its floats", domain[1]))
    traces = []
    for lane, (name, mask, style) in enumerate(bands):
        x, y = [], []
        for begin_s, end_s in stretches(mask, series.utc_s):
            x += [(begin_s + shift_s) * MS, (end_s + shift_s) * MS, None]
            y += [lane, lane, None]
        layout["annotations"].append({
            "text": name, "xref": "paper", "yref": f"y{place}", "x": 0, "y": lane,
            "xanchor": "left", "yanchor": "middle", "showarrow": False,
            "font": {"size": 12, "color": "ink"}})
        traces.append({
            "type": "scatter", "mode": "lines", "name": name, "yaxis": f"y{place}", "x": x,
            "y": y, "line": {"color": style, "width": 9}, "opacity": 0.75, "showlegend": False,
            "hovertemplate": f"{name}<extra></extra>"})
    return traces


def stretches(mask: np.ndarray, utc_s: np.ndarray) -> list[tuple[float, float]]:
    """Return (begin, end) [s since 1970 UTC] of each stretch of rows that a mask selects."""
    known = np.isfinite(utc_s)
    on, at_s = mask[known].astype(int), utc_s[known]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], on, [0]])))
    # A row ends at its time, and began where the one before it ended.
    return [(float(at_s[max(first - 1, 0)]), float(at_s[end - 1]))
            for first, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)]


def _axes_of_time(review, binned, shift_s):
    """Return the shared axis; where the clocks change in it, with its hours written out."""
    axis: dict[str, Any] = {
        "type": "date", "anchor": "free", "position": 0, "nticks": MOST_TICKS,
        "title": {"text": f"local time ({review.offset()})", "standoff": 6}, "hoverformat":
        "%d %b %H:%M", "tickformatstops": [
            {"dtickrange": [None, 86_400_000 - 1], "value": "%H:%M"},
            {"dtickrange": [86_400_000 - 1, None], "value": "%d %b"}]}
    begin_s, end_s = float(binned.at_s[0]), float(binned.at_s[-1])
    first_s = review.balance.begin_utc_s  # the first row ends later than it begins
    shown = (begin_s if first_s is None else min(first_s, begin_s), end_s)
    axis["range"] = [(one + shift_s) * MS for one in shown]
    if _shift_s(review, end_s) != shift_s:
        ticks = hour_ticks(begin_s, end_s, review.zone)
        axis |= {"tickvals": [(at_s + shift_s) * MS for at_s, _ in ticks],
                 "ticktext": [text for _, text in ticks]}
    return {"xaxis": axis}


def hour_ticks(begin_s: float, end_s: float, zone) -> list[tuple[float, str]]:
    """Return (time [s since 1970 UTC], label) at whole hours of a zone whose clocks change."""
    hours = (end_s - begin_s) / 3600.0
    step = next((one for one in GRID_HOURS if hours / one <= MOST_TICKS), GRID_HOURS[-1])
    at = datetime.fromtimestamp(begin_s, UTC).astimezone(zone).replace(
        hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    found: dict[float, str] = {}
    while (when_s := at.replace(tzinfo=zone).timestamp()) <= end_s:
        # The hour that a change of the clocks leaves out is no place on the axis.
        is_there = iso_local(when_s, zone, "%H:%M") == f"{at:%H:%M}"
        if is_there and when_s >= begin_s:
            found[when_s] = f"{at:%H:%M}" if step < 24 else f"{at:%d %b}"
        at += timedelta(hours=step)
    return sorted(found.items())
