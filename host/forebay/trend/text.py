"""A trend in a terminal: findings first, then a line of bars a figure; 80 columns, no colour."""

import textwrap

import numpy as np

from forebay.shelf.local import iso_local
from forebay.trend.changes import LEAST_DAYS, RAMP
from forebay.trend.found import Finding, Line, Trend

WIDTH = 80
BARS = "▁▂▃▄▅▆▇█"
BAR_COLUMNS = 32
COVERING = 2.0
ALL_WELL = "Nothing has changed that is more than the days' own scatter."
HOW = ("A change is told where chance would make one in at most one year of twenty, all figures"
       " together, looked at each day; at a note of yours, for one figure in a hundred. Every"
       " +- is two standard uncertainties.")


def lines(trend: Trend) -> list[str]:
    """Return the trend as lines."""
    title = f"{trend.name}: {trend.days} day{'s' if trend.days != 1 else ''}"
    if trend.first and trend.last:
        title += f", {trend.first} to {trend.last}"
    said = textwrap.wrap(title, WIDTH, break_on_hyphens=False)
    for one in trend.findings:
        said += _wrapped(finding_said(one), "! " if one.is_open and one.is_worse else "  ")
    if not trend.findings:
        said += _wrapped(no_finding_said(trend), "  ")
    known = [one for one in trend.lines if not one.why_not]
    said += ["", f"  {'':26}{'usual':>9}{'lately':>9}  by day, low to high"]
    said += [_row(one) for one in known]
    said.append("")
    for one in trend.lines:
        if one.why_not:
            said += _wrapped(f"Not known: {one.figure.label}; {one.why_not}.", "  ")
    for one in behind(trend):
        said += _wrapped(one, "  ")
    if trend.anew:
        said += _wrapped(anew_said(trend), "  ")
    return [*said, *_wrapped(HOW, "  ")]


def anew_said(trend: Trend) -> str:
    """Return from when on days are read by another description, in a sentence."""
    when = ", ".join(str(one.first) for one in trend.anew)
    return (f"Another description was flashed: it reads the days from {when} on. A figure that"
            " jumps there may do so by the description alone.")


def _most_days(trend):
    """Return how many days the figure has that is known on the most of them [-]."""
    return max((len(one.series.days) for one in trend.lines), default=0)


def no_finding_said(trend: Trend) -> str:
    """Return that nothing has changed, or that so few days cannot tell."""
    held = _most_days(trend)
    if held >= LEAST_DAYS:
        return ALL_WELL
    there = {0: "there is none", 1: "there is one"}.get(held, f"there are {held}")
    return (f"Whether anything has changed cannot be told yet: that takes {LEAST_DAYS}"
            f" {trend.span}s with the same figure at least, and {there}.")


def behind(trend: Trend) -> list[str]:
    """Return what stands behind the figures: which have too few days, and what a person noted."""
    few = [f"{one.figure.label} ({len(one.series.days)})" for one in trend.lines
           if 0 < len(one.series.days) < LEAST_DAYS]
    said = [f"Fewer than {LEAST_DAYS} {trend.span}s, which show no change yet: {', '.join(few)}."
            ] if few and _most_days(trend) >= LEAST_DAYS else []
    return said + [f"Noted on {iso_local(one.utc_s, trend.zone, '%Y-%m-%d')}: {one.text}"
                   for one in trend.notes]


def finding_said(one: Finding) -> str:
    """Return a change in one or two sentences."""
    figure, change = one.figure, one.change
    size = f"{one.size:+.3g} +- {COVERING * one.u:.2g} {figure.unit}"
    when = f"{one.first}"
    if one.earliest != one.latest:
        when += f" (between {one.earliest} and {one.latest})"
    if change.is_cure:
        said = f"{figure.label.capitalize()}: back by {size} on {when}"
        return said + (f', when it was noted: "{one.note.text}" ({one.noted}).' if (
            one.note) else ".")
    way = f"{size} since then, bit by bit" if change.kind == RAMP else f"{size} at once"
    said = f"{figure.label.capitalize()}: {way}, from {when} on."
    if one.note:
        said += f' It was noted on {one.noted}: "{one.note.text}".'
    if one.anew:
        return said + (" The board was flashed with another description then: it is taken for that"
                       " one's, not for a change of the rig.")
    if not one.is_open:
        return said + " It has gone since."
    return said + (f" That looks like {one.looks_like}." if one.looks_like else "")


def _row(line: Line) -> str:
    return (f"  {f'{line.figure.label} [{line.figure.unit}]':26}{line.usual:9.4g}"
            f"{line.lately:9.4g}  {bars(line)}")


def bars(line: Line) -> str:
    """Return the days as bars from the lowest to the highest value; a blank where none is."""
    days, values = line.series.days, line.shown()
    columns = min(BAR_COLUMNS, int(days[-1] - days[0]) + 1)
    place = np.minimum(((days - days[0]) * columns / (days[-1] - days[0] + 1)).astype(int),
                       columns - 1)
    low, high = float(values.min()), float(values.max())
    said = []
    for column in range(columns):
        here = values[place == column]
        if not len(here):
            said.append(" ")
            continue
        share = (float(here.mean()) - low) / (high - low) if high > low else 0.5
        said.append(BARS[min(int(share * len(BARS)), len(BARS) - 1)])
    return "".join(said)


def _wrapped(text, mark):
    return textwrap.wrap(text, WIDTH - 2, initial_indent=mark, subsequent_indent="  ",
                         break_on_hyphens=False)
