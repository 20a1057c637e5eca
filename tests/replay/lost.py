"""Records with something missing: rows that were lost, a begin of which nothing is known."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from forebay.replay.jobs import Span, span_of
from forebay.rig import load
from forebay.shelf import Journal
from keeper import channels as ch
from keeper.journal.rows import NOT_TRUSTED
from tests.replay.played import (
    BEGIN_S,
    LAST_MIN,
    LIT_S,
    PUMPING_S,
    STANDING_S,
    clock,
    journal_of,
    period,
)

LOST_S = 300.0           # rows of five minutes
WHOLE_H = LAST_MIN / 60.0
JACKET = ((PUMPING_S, "jacket-blocked"),)


def without(journal: Journal, from_s: float, to_s: float) -> Journal:
    """Returns a journal without the rows between two times [s since its begin]; events stay."""
    ends_s = journal.rows.uptime_ds / 10.0
    kept = np.flatnonzero((ends_s <= from_s) | (ends_s > to_s))
    return replace(journal, rows=journal.rows.take(kept))


def from_on(journal: Journal, from_s: float) -> Journal:
    """Returns a journal of which all before a time [s since its begin] is lost."""
    rows, events = journal.rows, journal.events
    return replace(
        journal, rows=rows.take(np.flatnonzero(rows.uptime_ds / 10.0 > from_s)),
        events=events[events["uptime_ds"] / 10.0 > from_s])


def gap(at_s: float, hours: float = WHOLE_H) -> Span:
    """Returns the day of a blocked jacket without five minutes of its rows."""
    return span_of(without(journal_of(JACKET, hours), at_s, at_s + LOST_S), clock(), load(),
                   period(hours), 0.0, remembers=False)


def late(at_s: float, remembers: bool, hours: float = WHOLE_H, faults=JACKET) -> Span:
    """Returns such a day of which nothing is known before a time [s since its begin]."""
    return span_of(from_on(journal_of(faults, hours), at_s), clock(), load(),
                   (BEGIN_S + at_s, period(hours)[1]), 0.0, remembers=remembers)


def blind() -> Span:
    """Returns a day without motor thermometer, of which the begin is not known either."""
    journal = from_on(journal_of(((STANDING_S, "motor-sensor-open"),)), PUMPING_S)
    assert (journal.rows.stored[ch.MOTOR_MDEGC] == NOT_TRUSTED).all()
    return span_of(journal, clock(), load(), (BEGIN_S + PUMPING_S, period()[1]), 0.0,
                   remembers=True)


# By name, how each is made.
LOST: dict[str, Callable[[], Span]] = {
    "five minutes lost, standing": lambda: gap(STANDING_S),
    "five minutes lost, pumping": lambda: gap(PUMPING_S - LOST_S),
    "five minutes lost, with a trip": lambda: gap(PUMPING_S + LOST_S / 2),
    "five minutes lost, lit": lambda: gap(LIT_S),
    "begins while it pumps": lambda: late(PUMPING_S - LOST_S, False),
    "begins while it pumps, remembered": lambda: late(PUMPING_S - LOST_S, True),
    "begins hot": lambda: late(PUMPING_S + 2 * LOST_S, True),
    "begins locked out, in the dark": lambda: late(LIT_S, True),
    "begins lit": lambda: late(LIT_S, True, faults=()),
    "begins without a thermometer": blind,
}
