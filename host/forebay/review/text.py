"""The review in a terminal: at most 80 columns, no colour needed."""

import textwrap

from forebay.balance.model import ENERGIES, STEPS, WATER
from forebay.paper import CAUTION
from forebay.review.figures import J_PER_WH, LEGEND, figure
from forebay.review.firsts import banner, firsts
from forebay.review.gather import Review
from forebay.review.lacking import closures, pump_hours, untold, verdicts
from forebay.review.words import ROUTINE

WIDTH = 80
LABEL = 52
NUMBER = 12
PERCENT = 100.0
EVENTS_MOST = 12
LOSSES = ("What pump, pipes, wheel and generator do not pass on is their loss: a remainder, not a"
          " measurement. Panel to pump is no such step: the rest of the panel feeds the charger.")


def summary(review: Review, events: bool = True) -> str:
    """Return the review as lines of at most 80 columns; events: with the list of them."""
    found = review.balance
    parts = [
        _title(review),
        _rehearsed(review),
        _first(review),
        _table("Energy", "Wh", ENERGIES, found.energies, found.told, 1 / J_PER_WH),
        _table("Step efficiencies", "%", STEPS, found.steps, found.told, PERCENT),
        _table("Water", "L", WATER, found.water, found.told, 1.0),
        LEGEND if found.has_models else "",
        "\n".join(["Does it close?", *[_wrapped(f"{label}: {said}", "  ")
                                       for label, _, _, said in closures(found)],
                   *[_wrapped(line, "  ") for line in verdicts(found)]]),
        "\n".join(["What this rig cannot tell", *[_wrapped(line, "  ") for line in untold(found)]])
        if untold(found) else "",
        _section(review.trend),
        _section(review.expected),
        _hours(review),
        _told(review),
        _events(review) if events else "",
        _notes(review),
        "\n".join(review.lacking_short),
        _wrapped(CAUTION, ""),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _title(review):
    return _wrapped(f"{review.name}: {review.covers('%d %b %Y %H:%M')} ({review.offset()})", "")


def _table(title, unit, rows, values, told, scale):
    lines = [f"{title:<{LABEL}}{unit:>{NUMBER}}{'+- 2 u':>{NUMBER}}"]
    for key, label in rows:
        value, spread, mark = figure(values[key], told[key], scale)
        lines.append(
            f"{'  ' + label:<{LABEL}}{value:>{NUMBER}}{spread:>{NUMBER}} {mark}".rstrip())
    return "\n".join(lines)


def _hours(review):
    found = review.balance
    return _wrapped(
        f"Light {found.light_h:.1f} h, {pump_hours(found)}, trips {found.trips},"
        f" starts of the board {found.boots}, rows {found.rows},"
        f" gaps bridged by totals {found.gaps}.",
        "",
    )


def _rehearsed(review):
    return "\n".join(_wrapped(line, "") for line in banner(review))


def _first(review):
    """Return what matters first: the verdict, and each finding with what to do."""
    lines = ["What matters first"]
    for grade, what, do in firsts(review):
        lines.append(_wrapped(f"{grade.upper()}: {what}", "  "))
        if do:
            lines.append(_wrapped(f"-> {do}", "    "))
    return "\n".join(lines)


def _section(part):
    return "\n".join(part.lines) if part else ""


def _told(review):
    """Return what a person noted."""
    if not review.told:
        return ""
    return "\n".join(["Notes", *[_dated(review, one.utc_s, one.text) for one in review.told]])


def _dated(review, utc_s, text):
    when = review.time(utc_s)
    return textwrap.fill(text, WIDTH, initial_indent=f"  {when}  ",
                         subsequent_indent=" " * (len(when) + 4))


def _events(review):
    shown = most_telling(review.events)
    lines = [_dated(review, one.utc_s, one.text) for one in shown]
    left = len(review.events) - len(shown)
    if left:
        lines.append(f"  ... and {left} more of daily work; the review page has them all.")
    return "\n".join(["Events", *lines]) if lines else ""


def most_telling(events):
    """Return what a terminal shows: all that is more than daily work, and of that what fits."""
    ranked = sorted(range(len(events)), key=lambda index: events[index].weight)
    most = max(EVENTS_MOST, sum(one.weight != ROUTINE for one in events))
    return [events[index] for index in sorted(ranked[:most])]


def _notes(review):
    if not review.notes:
        return ""
    return "\n".join(["Assumed, bridged or left out", *[_wrapped(n, "  ") for n in review.notes]])


def _wrapped(text, indent):
    return textwrap.fill(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent + ("  " if indent else "")
    )
