"""Which days of sun a plan looks at: modelled ones by month and sky, or those of a file.

Without a file every month has its mean day (Klein 1977) under three skies, and for
averages the days that a mean clearness spreads into (Bendt 1981).  Each is clear sky times
a share; all of it is said.
"""

import dataclasses
import math
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any, NamedTuple

import numpy as np

from forebay.plan.lifting import Sun
from forebay.sun import SunError, several

YEAR = 2023   # no leap year; nothing else follows from it
# The day of each month whose declination is nearest the month's mean.
# Klein (1977), Solar Energy 19, 325-329, table as in Duffie and Beckman, from memory.
MEAN_DAYS = tuple(date(YEAR, month, day) for month, day in enumerate(
    (17, 16, 16, 15, 15, 11, 17, 16, 15, 15, 14, 10), 1))
STEP_S = 60           # of the sun: short beside a cloud and a wait of the keeper
EVEN_STEP_S = 300     # where no cloud has an edge
CLEAREST = 0.75       # clearness of a clear day; common practice, no source
DULLEST = 0.05        # clearness of the darkest day (Bendt 1981)
CLEARNESS = 0.5       # mean clearness where nobody states one: a temperate year; a guess
SHARES = 10           # of a month's days, in order of clearness: its tenths


class Sky(NamedTuple):
    """A kind of day: a share of the clear sky's sum, evenly dull or in turns of sun and cloud."""

    key: str
    name: str
    clear_frac: float
    is_broken: bool


# Our own choice of what to look at; a guess at what a person calls so.
# Where clouds fall into the keeper's waits is chance: several days say by how much it matters.
BROKEN_DAYS = (-4, 0, 4)   # beside a month's mean day
SKIES = (Sky("clear", "clear", 1.0, False), Sky("broken", "broken", 0.55, True),
         Sky("overcast", "overcast", 0.25, False))


class Days(NamedTuple):
    """Days to plan with, and of which month (1 to 12) and how often each is [-]."""

    sun: Sun
    dates: Sequence[date]
    weight: np.ndarray       # of each day; the sum of a month's is 1, of a file's its days
    night_s: np.ndarray      # from sunset to sunrise
    air_degC: np.ndarray     # warmest of the day
    notes: Sequence[str]
    sky: np.ndarray          # place in SKIES; -1 = as it comes

    @property
    def months(self) -> np.ndarray:
        """The month of each day, 1 to 12."""
        return np.array([one.month for one in self.dates])


def _days(found, weight, sky=None):
    count = len(found.days)
    day_h = found.sunset_h - found.sunrise_h
    # Near the poles the sun may neither rise nor set: it is day all round, or night.
    day_h = np.where(np.isfinite(day_h), day_h,
                     np.where(found.poa_w_m2.max(axis=1) > 0.0, 24.0, 0.0))
    return Days(Sun(found.poa_w_m2, found.cell_degC, float(found.step_s)), list(found.days),
                np.asarray(weight, float), 3600.0 * (24.0 - day_h), found.air_degC.max(axis=1),
                list(found.notes), np.full(count, -1) if sky is None else sky)


def _panel(rig: Any, step_s: int) -> dict[str, Any]:
    return {"tilt_deg": rig.panel.tilt_deg, "azimuth_deg": rig.panel.azimuth_deg,
            "step_s": step_s}


def by_month(rig: Any) -> Days:
    """Return the mean day of each month under each sky, the broken one several times."""
    parts, sky = [], []
    for place, one in enumerate(SKIES):
        dates = [day + timedelta(beside) for day in MEAN_DAYS
                 for beside in (BROKEN_DAYS if one.is_broken else (0,))]
        parts.append(several.modelled(rig.site, dates, one.clear_frac,
                                      variability=int(one.is_broken), **_panel(rig, STEP_S)))
        sky += [place] * len(dates)
    found = dataclasses.replace(parts[0], days=[day for one in parts for day in one.days], **{
        name: np.concatenate([getattr(one, name) for one in parts])
        for name in ("poa_w_m2", "cell_degC", "air_degC", "sunrise_h", "sunset_h")},
        notes=list(dict.fromkeys(note for one in parts for note in one.notes)))
    return _days(found, np.ones(len(sky)), np.array(sky))


def spread_out(rig: Any, clearness: float, is_broken: bool = False) -> Days:
    """Return the days into which a mean clearness spreads, a tenth of each month each.

    is_broken: in turns of sun and cloud instead of evenly dull, the worse for a pump that
    waits after each cloud.
    """
    shares = [share for _ in MEAN_DAYS for share in clear_shares(clearness)]
    dates = [day for day in MEAN_DAYS for _ in range(SHARES)]
    found = several.modelled(rig.site, dates, shares, variability=int(is_broken),
                             **_panel(rig, STEP_S if is_broken else EVEN_STEP_S))
    return _days(found, np.full(len(dates), 1 / SHARES))


def of_file(rig: Any, source: str, station: str | None = None) -> Days:
    """Return every complete day of a file of sun.  Raises SunError."""
    found = several.of_file(source, rig.site, station=station, **_panel(rig, EVEN_STEP_S))
    if not found.days:
        raise SunError(f"{source}: no complete day; give a file with whole days")
    return _days(found, np.ones(len(found.days)))


def clear_shares(clearness: float) -> list[float]:
    """Return the tenths of a month's days as shares of the clear sky's sum, dullest first.

    F(K) = (exp(g Kmin) - exp(g K)) / (exp(g Kmin) - exp(g Kmax)), of which the mean is the
    clearness; Bendt, Collares-Pereira and Rabl (1981), Solar Energy 27, 1-5, from memory.
    """
    low, high = DULLEST, CLEAREST
    gamma = _gamma(clearness, low, high)
    tenths = [(place + 0.5) / SHARES for place in range(SHARES)]
    first, last = math.exp(gamma * low), math.exp(gamma * high)
    found = [math.log(first + share * (last - first)) / gamma for share in tenths]
    lift = clearness * SHARES / sum(found)   # the middles of the tenths are not quite their means
    return [min(1.0, one * lift / CLEAREST) for one in found]


def _gamma(clearness, low, high):
    """Return the exponent for which the distribution's mean is the clearness."""
    def mean(gamma):
        if abs(gamma) < 1e-6:
            return 0.5 * (low + high)
        first, last = math.exp(gamma * low), math.exp(gamma * high)
        return (high * last - low * first) / (last - first) - 1.0 / gamma

    under, over = -200.0, 200.0
    for _ in range(80):
        middle = 0.5 * (under + over)
        under, over = (middle, over) if mean(middle) < clearness else (under, middle)
    return middle if abs(middle) > 1e-6 else 1e-6
