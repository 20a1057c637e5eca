"""Short nights, rehearsed to the end: half an hour of sun, then dark, with faults.

Everything is the real thing but the length: the simulated rig, the keeper, its journal over a
line, the shelf, the review.  Each is played once for all tests.
"""

import functools
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from forebay.rehearse import plan, rehearse
from forebay.review import Review

POINTS = 1441
SUN_MIN = 20              # the tank gains some 60 L: half an hour of light
SUN_W_M2 = 800.0
AFTERNOON_H = 10.5        # 16:30, so that the dark that follows is night
MORNING_H = 4.0           # 10:00, so that it is not


@functools.cache
def _plan(demo: str, folder: Path):
    return plan(demo=demo, out=folder / demo)


PLAYED: dict[tuple, Review] = {}


def night(folder: Path, name: str, faults=(), hours: float = 1.2, starts_h: float = AFTERNOON_H,
          demo: str = "hillside", dawn_min: int | None = None,
          sun_min: int = SUN_MIN) -> Review:
    """Returns the review of a short night.

    faults: (minutes from its start, name); starts_h: after six in the morning; dawn_min: when
    the sun comes again [min], None = it does not; sun_min: how long it shines at first [min].
    """
    key = (folder, name, tuple(faults), hours, starts_h, demo, dawn_min, sun_min)
    if key not in PLAYED:
        PLAYED[key] = _played(*key)
    return PLAYED[key]


def _played(folder, name, faults, hours, starts_h, demo, dawn_min, sun_min):
    return rehearse(short(folder, name, faults, starts_h, demo, dawn_min, sun_min),
                    hours=hours).review


def short(folder: Path, name: str, faults=(), starts_h: float = AFTERNOON_H,
          demo: str = "hillside", dawn_min: int | None = None, sun_min: int = SUN_MIN):
    """Returns the plan of such a night."""
    asked = _plan(demo, folder)
    dawn = POINTS if dawn_min is None else dawn_min
    light = [SUN_W_M2 if minute < sun_min or minute >= dawn else 0.0 for minute in range(POINTS)]
    sun = replace(asked.sun, poa_w_m2=light, start_utc=asked.sun.start_utc + timedelta(
        hours=starts_h))
    return replace(asked, sun=sun, out=folder / name,
                   faults=[(minute * 60.0, fault) for minute, fault in faults])
