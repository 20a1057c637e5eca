"""A day of the demo's rig, played at 1 Hz with its keeper: its journal, its times, its sun."""

import functools
import math
from datetime import UTC, datetime
from typing import Any, NamedTuple

from forebay.rig import Rig, load
from forebay.shelf import Anchor, Clock, Journal
from forebay.shelf.decode import decode
from keeper import settings as st
from tests import lives
from tests.once import once
from tests.stories import told

DAY_S, PERIODS_PER_S, AFTER_S = 86400.0, 10, 130
# An hour before a winter's sunrise at the demo's site, from before one to before the next.
BEGIN_S = datetime(2016, 2, 15, 12, 50, tzinfo=UTC).timestamp()
NOON_W_M2, LIT_MIN, FIRST_MIN = 900.0, 600, 60
WARMED_K_M2_W = 0.03     # cells over air


class Played(NamedTuple):
    """What a played day left; segments: (stream, number, bytes) as the board has them."""

    rig: Rig
    journal: Journal
    clock: Clock
    period: tuple[float, float]
    true: dict[str, float]
    sun: list[list[float]]
    segments: list[tuple[int, int, bytes]]


def sun_of(noon_W_m2: float = NOON_W_M2, air_degC: float = 14.0) -> list[list[float]]:
    """Returns a day of half a sine: poa, cells, air by the minute."""
    poa = [noon_W_m2 * math.sin(math.pi * (minute - FIRST_MIN) / LIT_MIN)
           if FIRST_MIN < minute < FIRST_MIN + LIT_MIN else 0.0 for minute in range(1441)]
    return [poa, [air_degC + WARMED_K_M2_W * one for one in poa], [air_degC] * len(poa)]


@functools.cache
def kept(**changed: Any) -> Played:
    """Returns a day, played once for all rooms that ask for it; changed: figures of the true rig.

    They are "section__key_unit" [SI].
    """
    return _played(load(), *once(f"day of tests.expected {sorted(changed.items())}",
                                 lambda: _play(load(), changed)))


def _play(rig: Rig, changed: dict[str, Any]) -> tuple:
    """Returns (sums of what was true, segments) of a day."""
    values = {**rig.plant(), **{name.replace("__", "."): one for name, one in changed.items()}}
    settings = rig.settings()
    settings[st.index("setpoint_mW")] = 600
    job = {"seed": 1, "rig": values, "settings": settings, "sun": sun_of(), "presses": [],
           "light_s": 0.0, "is_coarse": True, "periods": int(DAY_S) * PERIODS_PER_S,
           "periods_after": AFTER_S * PERIODS_PER_S}
    return told(lives.coarse_day, job)


def _played(rig: Rig, true: dict[str, float], segments: list[tuple[int, int, bytes]]) -> Played:
    return Played(rig, decode(one[2] for one in segments),
                  Clock([Anchor(0, 1, 0, BEGIN_S, 0.05)]), (BEGIN_S, BEGIN_S + DAY_S), true,
                  sun_of(), segments)
