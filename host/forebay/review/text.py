"""The review in a terminal: at most 80 columns, no colour needed."""

import textwrap

from forebay.paper import CAUTION
from forebay.review import equivalents
from forebay.review.figures import LEGEND, figure
from forebay.review.firsts import FIRST_TRIP, LACKS, NOTES, banner, first_trip, firsts, hours
from forebay.review.gather import Review
from forebay.review.lacking import closures, untold, verdicts
from forebay.review.tables import tables
from forebay.review.words import ROUTINE

WIDTH = 80
LABEL = 52
NUMBER = 12
EVENTS_MOST = 12


def summary(review: Review, events: bool = True) -> str:
    """Return the review as lines of at most 80 columns; events: with the list of them."""
    found = review.balance
    parts = [
        _title(review),
        _rehearsed(review),
        _first(review),
        _wrapped(hours(review), ""),
        _first_trip(review),
        *[_table(one) for one in tables(found)],
        LEGEND if found.has_models else "",
        "\n".join(["Does it close?", *[_wrapped(f"{label}: {said}", "  ")
                                       for label, _, _, said in closures(found)],
                   *[_wrapped(line, "  ") for line in verdicts(found)]]),
        _listed("What this rig cannot tell", untold(found)),
        _section(review.trend),
        _section(review.expected),
        _equivalents(review),
        _told(review),
        _events(review) if events else "",
        _listed("Assumed, bridged or left out", review.notes),
        _listed(LACKS, [" ".join(one.strip() for one in review.lacking_short)]
                if review.lacking_short else []),
        _wrapped(CAUTION, ""),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _title(review):
    return _wrapped(f"{review.name}: {review.covers('%d %b %Y %H:%M')} ({review.offset()})", "")


def _table(one):
    lines = [f"{one.title:<{LABEL}}{one.unit:>{NUMBER}}{'+- 2 u':>{NUMBER}}"]
    for key, label in one.rows:
        value, spread, mark = figure(one.values[key], one.told[key], one.scale)
        lines.append(
            f"{'  ' + label:<{LABEL}}{value:>{NUMBER}}{spread:>{NUMBER}} {mark}".rstrip())
    return "\n".join([*lines, *([_wrapped(one.note, "  ")] if one.note else [])])


def _listed(title, lines):
    """Return a part with a title, "" where it has no lines."""
    return "\n".join([title, *[_wrapped(line, "  ") for line in lines]]) if lines else ""


def _first_trip(review):
    said = first_trip(review)
    return _listed(FIRST_TRIP, [" ".join(said)]) if said else ""


def _equivalents(review):
    said = equivalents.lines(review.balance)
    return _listed("In everyday terms", [*said, equivalents.SOURCES] if said else [])


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
    return "\n".join([NOTES, *[_dated(review, one.utc_s, one.text) for one in review.told]])


def _dated(review, utc_s, text):
    when = review.time(utc_s)
    return textwrap.fill(text, WIDTH, initial_indent=f"  {when}  ",
                         subsequent_indent=" " * (len(when) + 4), break_on_hyphens=False)


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


def _wrapped(text, indent):
    return textwrap.fill(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent + ("  " if indent else ""),
        break_on_hyphens=False)
