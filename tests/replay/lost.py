"""Records with something missing: rows that were lost, a begin of which nothing is known."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from forebay.replay.jobs import Span
from forebay.rig import load
from forebay.shelf import Journal
from keeper import channels as ch
from keeper.journal.rows import NOT_TRUSTED
from tests.replay.played import BEGIN_S, LIT_S, PUMPING_S, STANDING_S, clock, journal_of, period

LOST_S = 300.0           # rows of five minutes
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


def _gap(at_s):
    return lambda span_of: span_of(without(journal_of(JACKET), at_s, at_s + LOST_S), clock(),
                                   load(), period(), 0.0, remembers=False)


def _late(at_s, remembers):
    def made(span_of):
        return span_of(from_on(journal_of(JACKET), at_s), clock(), load(),
                       (BEGIN_S + at_s, period()[1]), 0.0, remembers=remembers)
    return made


def _blind(span_of):
    """The motor's heat and temperature unknown: no thermometer answered, and the begin is lost."""
    journal = from_on(journal_of(((STANDING_S, "motor-sensor-open"),)), PUMPING_S)
    assert (journal.rows.stored[ch.MOTOR_MDEGC] == NOT_TRUSTED).all()
    return span_of(journal, clock(), load(), (BEGIN_S + PUMPING_S, period()[1]), 0.0,
                   remembers=True)


# By name, how each is made with `span_of`.
LOST: dict[str, Callable[..., Span]] = {
    "five minutes lost, standing": _gap(STANDING_S),
    "five minutes lost, pumping": _gap(PUMPING_S - LOST_S),
    "five minutes lost, with a trip": _gap(PUMPING_S + LOST_S / 2),
    "five minutes lost, lit": _gap(LIT_S),
    "begins while it pumps": _late(PUMPING_S - LOST_S, False),
    "begins while it pumps, remembered": _late(PUMPING_S - LOST_S, True),
    "begins hot": _late(PUMPING_S + 2 * LOST_S, True),
    "begins lit": _late(LIT_S, True),
    "begins without a thermometer": _blind,
}
