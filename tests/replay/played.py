"""Short days of the demo's rig at the board's 10 Hz, as its keeper wrote them: for replays.

A quarter of an hour of first light, three hours of sun, dusk, light till the end: all modes
within six hours, or some of them.
"""

import functools
import math
from datetime import UTC, datetime
from typing import Any

from forebay.replay.jobs import Span, span_of
from forebay.replay.trying import with_set
from forebay.rig import load
from forebay.shelf import Anchor, Clock, Journal
from forebay.shelf.decode import decode
from forebay.twin.twin import PRESSED, RELEASED
from tests import lives
from tests.once import once
from tests.stories import told

BEGIN_S = datetime(2016, 2, 15, 8, 0, tzinfo=UTC).timestamp()
FIRST_W_M2, NOON_W_M2 = 12.0, 900.0     # of the first light: the panel is no longer dark
SUN_FROM_MIN, SUN_MIN, LAST_MIN = 30, 180, 360
STANDING_S, PUMPING_S, LIT_S = 900.0, 4800.0, 15300.0   # each mode goes on around these
START_M3 = 0.3
PERIODS_PER_S, S_PER_MIN = 10, 60
AFTER_S = 61              # of the board: its newest rows are on flash
AIR_DEGC, WARMED_K_M2_W = 14.0, 0.03


def sun_of(noon_W_m2: float = NOON_W_M2) -> list[list[float]]:
    """Returns the sun of a short day: poa, cells, air by the minute."""
    poa = []
    for minute in range(LAST_MIN + 3):
        along = (minute - SUN_FROM_MIN) / SUN_MIN
        sine = noon_W_m2 * math.sin(math.pi * along) if 0.0 < along < 1.0 else 0.0
        poa.append(max(sine, FIRST_W_M2) if along < 1.0 else 0.0)
    return [poa, [AIR_DEGC + WARMED_K_M2_W * one for one in poa], [AIR_DEGC] * len(poa)]


@functools.cache
def journal_of(faults: tuple[tuple[float, str], ...] = (), hours: float = LAST_MIN / 60.0,
               sets: tuple[str, ...] = (), **changed: Any) -> Journal:
    """Returns the journal of a short day with faults (seconds from its begin, name).

    sets: keys of the description, KEY=VALUE, under which the board has its settings; changed:
    figures of the true rig, "section__key_unit" [SI].
    """
    return decode(one[2] for one in segments_of(faults, hours, sets, **changed))


def segments_of(faults=(), hours=LAST_MIN / 60.0, sets=(),
                **changed) -> list[tuple[int, int, bytes]]:
    """Returns the segments (stream, number, bytes) that the board of such a day has."""
    told = f"day of tests.replay {(sorted(faults), hours, sets, sorted(changed.items()))}"
    return once(told, lambda: _segments_of(faults, hours, sets, changed))


def _segments_of(faults, hours, sets, changed):
    rig = with_set(load(), sets)
    values = {**rig.plant(), "upper.start_volume_m3": START_M3,
              **{name.replace("__", "."): one for name, one in changed.items()}}
    return told(lives.segments, values, rig.settings(), sun_of(),
                int(hours * 3600 + AFTER_S) * PERIODS_PER_S, faults)


def clock() -> Clock:
    """Returns the clock of such a day."""
    return Clock([Anchor(0, 1, 0, BEGIN_S, 0.05)])


def period(hours: float = LAST_MIN / 60.0) -> tuple[float, float]:
    """Returns begin and end of such a day [s since 1970 UTC]."""
    return BEGIN_S, BEGIN_S + 3600.0 * hours


def span(faults: tuple[tuple[float, str], ...] = (), hours: float = LAST_MIN / 60.0,
         sets: tuple[str, ...] = (), **changed: Any) -> Span:
    """Returns such a day as a span that can be replayed."""
    return span_of(journal_of(faults, hours, sets, **changed), clock(), with_set(load(), sets),
                   period(hours), 0.0, remembers=False)


def press(at_s: float, lasts_s: float) -> tuple[tuple[float, str], ...]:
    """Returns a press of the button, as faults are given."""
    return (at_s, PRESSED), (at_s + lasts_s, RELEASED)
