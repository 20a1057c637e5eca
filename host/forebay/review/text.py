"""The review in a terminal: at most 80 columns, no colour needed."""

import textwrap

from forebay.balance.model import ENERGIES, NODES, STEPS, WATER
from forebay.review.figures import J_PER_WH, pair, verdict
from forebay.review.gather import CAUTION, Review

WIDTH = 80
LABEL = 52
NUMBER = 12
PERCENT = 100.0
EVENTS_MOST = 12


def summary(review: Review, events: bool = True) -> str:
    """Return the review as lines of at most 80 columns; events: with the list of them."""
    parts = [
        _title(review),
        _table("Energy", "Wh", ENERGIES, review.balance.energies, 1 / J_PER_WH),
        _table("Step efficiencies", "%", STEPS, review.balance.steps, PERCENT),
        _table("Water", "L", WATER, review.balance.water, 1.0),
        _nodes(review),
        _hours(review),
        _events(review) if events else "",
        _notes(review),
        "\n".join(review.lacking_short),
        _wrapped(CAUTION, ""),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _title(review):
    return _wrapped(f"{review.name}: {review.covers('%d %b %Y %H:%M')} ({review.offset()})", "")


def _table(title, unit, rows, values, scale):
    lines = [f"{title:<{LABEL}}{unit:>{NUMBER}}{'+- 2 u':>{NUMBER}}"]
    for key, label in rows:
        value, spread = pair(values[key], scale)
        lines.append(f"{'  ' + label:<{LABEL}}{value:>{NUMBER}}{spread:>{NUMBER}}".rstrip())
    return "\n".join(lines)


def _nodes(review):
    lines = ["Does it close?"]
    for key, label in NODES:
        lines.append(_wrapped(f"{label}: {verdict(review.balance.nodes[key])}", "  "))
    for key, label in WATER:
        if key.endswith("residual"):
            lines.append(_wrapped(f"{label}: {verdict(review.balance.water[key])}", "  "))
    return "\n".join(lines)


def _hours(review):
    found = review.balance
    return _wrapped(
        f"Light {found.light_h:.1f} h, pump {found.pump_h:.1f} h, trips {found.trips},"
        f" starts of the board {found.boots}, rows {found.rows},"
        f" gaps bridged by totals {found.gaps}.",
        "",
    )


def _events(review):
    shown = _most_telling(review.events)
    lines = [
        textwrap.fill(
            one.text, WIDTH, initial_indent=f"  {review.time(one.utc_s)}  ",
            subsequent_indent=" " * 9,
        )
        for one in shown
    ]
    left = len(review.events) - len(shown)
    if left:
        lines.append(f"  ... and {left} more; the review page has them all.")
    return "\n".join(["Events", *lines]) if lines else ""


def _most_telling(events):
    """The grave ones first where not all fit, in the order in which they came."""
    ranked = sorted(range(len(events)), key=lambda index: not events[index].grave)
    return [events[index] for index in sorted(ranked[:EVENTS_MOST])]


def _notes(review):
    if not review.notes:
        return ""
    return "\n".join(["Assumed, bridged or left out", *[_wrapped(n, "  ") for n in review.notes]])


def _wrapped(text, indent):
    return textwrap.fill(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent + ("  " if indent else "")
    )
