"""Days on which somebody ordered, pressed, or lost the power: the twin's, as a board keeps them.

A small day of 110 minutes: first light, an hour of sun, dusk, light till the end.  Its board
remembers over a restart, as a real one does; it is new, and somebody resets it at the begin.
"""

import functools
import math
from typing import NamedTuple

from forebay.replay.jobs import Span, span_of
from forebay.rig import load
from forebay.shelf import Anchor, Clock, Journal
from forebay.shelf.decode import decode
from keeper.operation import orders, proving
from keeper.protection import elements as el
from tests import lives
from tests.replay.played import (
    AIR_DEGC,
    BEGIN_S,
    FIRST_W_M2,
    NOON_W_M2,
    PERIODS_PER_S,
    START_M3,
    WARMED_K_M2_W,
    press,
)
from tests.stories import told

SUN_FROM_MIN, SUN_MIN, LAST_MIN = 8, 60, 110
DUSK_S = 60.0 * (SUN_FROM_MIN + SUN_MIN)
RESET_AT_S = 180.0       # the new board's motor is no longer taken as hot then
HEAT_COOLS_S = 61        # of the board, behind the end: its newest rows are on flash
MOST_START_FRAC = 0.6    # of a smaller tank's water when it is full

Orders = tuple[tuple[float, int, int, int], ...]
Faults = tuple[tuple[float, str], ...]


class Day(NamedTuple):
    """What was done on a day: orders (at [s], code, a, b), faults and presses (at [s], name)."""

    orders: Orders = ()
    faults: Faults = ()


def presses(*times_s: float) -> Faults:
    """Returns short presses of the button at some times [s]."""
    return tuple(one for at_s in times_s for one in press(at_s, 0.5))


# What somebody may do to a rig of a day, by name, and when.
DAYS = {
    "motor proven": Day(((1500.0, orders.PROVE, proving.ELEMENT + el.number("26-MOT"), 16000),
                         (1700.0, orders.RELEASE, 0, 0))),
    "pump tried": Day(((300.0, orders.PROVE, proving.TRY_PUMP, 0),)),
    "pump forbidden": Day(((1500.0, orders.PUMP_ALLOWED, 0, 7),)),
    "maintenance": Day(((1500.0, orders.MAINTAIN, 2, 0), (1900.0, orders.MAINTAIN, 0, 0))),
    "left to the tools": Day(((1500.0, orders.MAINTAIN, 2, 1),), ((1600.0, "power-cut"),)),
    "drained": Day(((1500.0, orders.DRAIN_DOWN, 1, 5),)),
    "pressed brighter": Day((), presses(DUSK_S + 600.0, DUSK_S + 900.0)),
    "pressed off and on": Day((), presses(DUSK_S + 600.0, DUSK_S + 602.0, DUSK_S + 604.0,
                                          DUSK_S + 1200.0)),
    "light by day": Day((), presses(300.0)),
    "light ordered": Day(((1507.0, orders.LIGHT, 500, 12), (DUSK_S + 907.0, orders.LIGHT, 900,
                                                            8))),
    "step ordered": Day(((DUSK_S + 900.0, orders.BRIGHTNESS, 3, 8),)),
    "light to last": Day(((DUSK_S + 900.0, orders.LAST, 15, 0),)),
    "rested": Day(((DUSK_S + 900.0, orders.REST, 6, 0),)),
    "all at once": Day(
        ((1200.0, orders.PROVE, proving.ELEMENT + el.number("26-MOT"), 16000),
         (1400.0, orders.RELEASE, 0, 0), (2200.0, orders.MAINTAIN, 2, 0),
         (2400.0, orders.MAINTAIN, 0, 0), (DUSK_S + 1507.0, orders.REST, 6, 0)),
        (*presses(DUSK_S + 600.0, DUSK_S + 900.0), (3000.0, "power-cut"))),
    "cut while pumping": Day((), ((1500.0, "power-cut"),)),
    "cut while lit": Day((), ((DUSK_S + 600.0, "power-cut"),)),
    "cut while standing": Day((), ((250.0, "power-cut"),)),
    "cut after a trip": Day((), ((1500.0, "air-in-pump"), (1560.0, "power-cut"))),
}

# Of the rig with the fewest instruments: light comes by the button alone.
FEWEST = {
    "a day": Day(),
    "pressed": Day((), presses(DUSK_S + 600.0)),
    "cut": Day((), ((1500.0, "power-cut"),)),
    "pump runs dry": Day((), ((1500.0, "air-in-pump"),)),
    "lamps lost": Day((), (*presses(DUSK_S + 600.0), (DUSK_S + 900.0, "load-lost"))),
}


def _sun():
    poa = []
    for minute in range(LAST_MIN + 3):
        along = (minute - SUN_FROM_MIN) / SUN_MIN
        sine = NOON_W_M2 * math.sin(math.pi * along) if 0.0 < along < 1.0 else 0.0
        poa.append(max(sine, FIRST_W_M2) if along < 1.0 else 0.0)
    return [poa, [AIR_DEGC + WARMED_K_M2_W * one for one in poa], [AIR_DEGC] * len(poa)]


@functools.cache
def lived(day: Day, demo: str = "") -> tuple[Journal, Clock]:
    """Returns the journal of a day and the clock that two pulls would have given."""
    rig = load(demo=demo) if demo else load()
    settings = rig.settings()
    start_m3 = min(START_M3, MOST_START_FRAC * rig.upper.full_volume_m3)
    segments, boots = told(
        lives.ordered, {**rig.plant(), "upper.start_volume_m3": start_m3}, settings, _sun(),
        60 * LAST_MIN + HEAT_COOLS_S, [*day.faults, *press(RESET_AT_S, 3.0)], day.orders)
    return decode(data for _, _, data in segments), Clock(
        [Anchor(0, boot, 0, BEGIN_S + begin / PERIODS_PER_S, 0.05) for boot, begin in boots])


def span(day: Day, demo: str = "") -> Span:
    """Returns a day as a span that can be replayed."""
    return span_of(*lived(day, demo), load(demo=demo) if demo else load(),
                   (BEGIN_S, BEGIN_S + 60.0 * LAST_MIN), 0.0)
