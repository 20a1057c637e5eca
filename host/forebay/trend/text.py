"""A trend in a terminal: findings first, then a line of bars a figure; 80 columns, no colour."""

import textwrap

import numpy as np

from forebay.trend.changes import LEAST_DAYS, RAMP
from forebay.trend.found import Finding, Line, Trend

WIDTH = 80
BARS = "▁▂▃▄▅▆▇█"
BAR_COLUMNS = 32
COVERING = 2.0
ALL_WELL = "Nothing has changed that is more than the days' own scatter."
TOO_FEW = (f"Fewer than {LEAST_DAYS} days with a figure show no change: its scatter from day to"
           " day is not known yet.")
HOW = ("A change is told where chance would make one in at most one year of twenty, all figures"
       " together, looked at each day; at a note of yours, for one figure in a hundred. Every"
       " +- is two standard uncertainties.")


def lines(trend: Trend) -> list[str]:
    """Return the trend as lines."""
    title = f"{trend.name}: {trend.days} day{'s' if trend.days != 1 else ''}"
    if trend.first and trend.last:
        title += f", {trend.first} to {trend.last}"
    said = textwrap.wrap(title, WIDTH)
    found = trend.findings
    for one in found:
        said += _wrapped(finding_said(one), "! " if one.is_open and one.is_worse else "  ")
    if not found:
        said += _wrapped(ALL_WELL, "  ")
    known = [one for one in trend.lines if not one.why_not]
    said += ["", f"  {'':26}{'usual':>9}{'lately':>9}  by day, low to high"]
    said += [_row(one) for one in known]
    said.append("")
    for one in trend.lines:
        if one.why_not:
            said += _wrapped(f"Not known: {one.figure.label}; {one.why_not}.", "  ")
    if any(len(one.series.days) < LEAST_DAYS for one in known):
        said += _wrapped(TOO_FEW, "  ")
    if trend.anew:
        said += _wrapped(anew_said(trend), "  ")
    for note in trend.notes:
        said += _wrapped(f"Noted: {note.text}", "  ")
    return [*said, *_wrapped(HOW, "  ")]


def anew_said(trend: Trend) -> str:
    """Return from when on days are read by another description, in a sentence."""
    when = ", ".join(str(one.first) for one in trend.anew)
    return (f"Another description was flashed: it reads the days from {when} on. A figure that"
            " jumps there may do so by the description alone.")


def finding_said(one: Finding) -> str:
    """Return a change in one or two sentences."""
    figure, change = one.figure, one.change
    size = f"{one.size:+.3g} +- {COVERING * one.u:.2g} {figure.unit}"
    when = f"{one.first}"
    if one.earliest != one.latest:
        when += f" (between {one.earliest} and {one.latest})"
    if change.is_cure:
        said = f"{figure.label.capitalize()}: back by {size} on {when}"
        return said + (f', when it was noted: "{one.note.text}".' if one.note else ".")
    way = f"{size} since then, bit by bit" if change.kind == RAMP else f"{size} at once"
    said = f"{figure.label.capitalize()}: {way}, from {when} on."
    if one.note:
        said += f' It was noted: "{one.note.text}".'
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
    return textwrap.wrap(text, WIDTH - 2, initial_indent=mark, subsequent_indent="  ")
