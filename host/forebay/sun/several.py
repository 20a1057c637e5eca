"""Many days at once, for planning: modelled ones of a stated clearness, or a whole file's.

It owns the arrays of whole local days, midnight to midnight in local standard
time. A step holds its mean; the sun stands where it is at the step's middle. It
must not know what the panel drives. The days of a file are in sun.wholefile.
"""

from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np

from forebay.sun import plane, position
from forebay.sun import station as places
from forebay.sun.errors import SunError
from forebay.sun.load import ALBEDO
from forebay.sun.station import Station
from forebay.sun.window import DEFAULT_AIR_DEGC, DEFAULT_WIND_M_S

DAY_S = 86400
S_PER_H = 3600
EVEN_STEP_S = 600  # enough for a sky without edges of clouds
BROKEN_STEP_S = 60
BROKEN_PERIOD_STEPS = 10  # one gap and one cloud in ten minutes: a guess at fair-weather clouds
MOST_CLEARNESS = 1.1  # air cleaner than the model's


@dataclass(frozen=True)
class Several:
    """Sun on a panel over whole local days; in the tables a row is a day, a column a step."""

    source: str
    station: Station
    days: list[date]
    step_s: int
    poa_w_m2: np.ndarray  # mean over the step, in the panel's plane
    cell_degC: np.ndarray
    air_degC: np.ndarray
    sunrise_h: np.ndarray  # local standard time, one a day; nan: it does not rise and set
    sunset_h: np.ndarray
    notes: list[str]


class Days:
    """Steps of whole local days at a place, the sun at their middles, and the clear sky."""

    def __init__(self, days, station, step_s):
        if DAY_S % step_s:
            raise ValueError(f"step_s {step_s}: must go into a day without rest")
        self.days = days
        self.station = station
        self.shape = (len(days), DAY_S // step_s)
        midnights_s = np.array([position.midnight_s(day, station) for day in days])
        middles_s = (np.arange(self.shape[1]) + 0.5) * step_s
        self.times_s = (midnights_s[:, None] + middles_s).ravel()
        self.times = position.utc_times(self.times_s)
        self.sun = position.quick(self.times, station)
        self.clear = plane.clear_sky(self.sun, self.times, station.height_m)
        found = position.rise_and_set(days, station)
        events_s = np.array([events or (np.nan, np.nan) for events in found])
        self.rise_s, self.set_s = events_s[:, 0], events_s[:, 1]
        self.sunrise_h = (self.rise_s - midnights_s) / S_PER_H
        self.sunset_h = (self.set_s - midnights_s) / S_PER_H


@lru_cache(maxsize=2)  # a planner asks for the same days under one sky after the other
def days_at(days, station, step_s):
    """The Days of a tuple of dates at a Station."""
    return Days(days, station, step_s)


def modelled(site, days, clearness, *, station=None, air_temperature_degC=None, tilt_deg,
             azimuth_deg, albedo=ALBEDO, step_s=None, variability=0) -> Several:
    """Days whose light on level ground is a share of the clear sky's.

    site, station, air_temperature_degC, tilt_deg, azimuth_deg, albedo: as for
    forebay.sun.load. days: local dates, each as often as wanted. clearness: the
    day's light over that of a clear day, 0..1.1, one a day or one for all [-].
    variability 0: the share holds at every step, of step_s (None: 600 s). 1: a
    broken sky, in steps of a minute: each ten minutes begin with minutes of clear
    sky, the others are darker by one factor a day that keeps the day's share. Both
    have the same light, but a pump that waits for a threshold does not see so.
    A share beyond 1 is never broken. Raises SunError where clearness is out of range.
    """
    step_s = _step(step_s, variability)
    place = places.of_site(site) if station is None else places.parsed(station)
    shares = _checked(clearness, len(days))
    alone = tuple(sorted(set(days)))
    grid = days_at(alone, place, step_s)
    rows = np.searchsorted(np.array([day.toordinal() for day in alone]),
                           [day.toordinal() for day in days])
    index = (np.array(shares)[:, None] if variability == 0
             else _broken(shares, grid.clear[0].reshape(grid.shape)[rows]))
    steps = (rows[:, None] * grid.shape[1] + np.arange(grid.shape[1])).ravel()
    sun, times = grid.sun.iloc[steps], grid.times[steps]
    ghi = (grid.clear[0].reshape(grid.shape)[rows] * index).ravel()
    parts = (ghi, *plane.decomposed(ghi, sun, times))
    poa = plane.plane_of_array(parts, sun, tilt_deg, azimuth_deg, albedo)
    air_degC, note = held_air(site, air_temperature_degC)
    shape = (len(days), grid.shape[1])
    air = np.full(shape, air_degC)
    poa = np.asarray(poa).reshape(shape)
    return Several(
        "modelled", place, list(days), step_s, poa,
        plane.cell_degC(poa, air, DEFAULT_WIND_M_S), air,
        grid.sunrise_h[rows], grid.sunset_h[rows],
        [_told(place, variability), note,
         f"Wind: {DEFAULT_WIND_M_S:g} m/s held, for none is known."])


def held_air(site, stated_degC):
    """(temperature of the air [degC], a note): as stated, the site's, or the default."""
    for value, whose in ((stated_degC, "as stated"), (site.air_temperature_degC, "the rig's")):
        if value is not None:
            return float(value), f"Air temperature: {value:g} degC held, {whose}."
    return DEFAULT_AIR_DEGC, (f"Air temperature: {DEFAULT_AIR_DEGC:g} degC, held, for none is"
                              " known.")


def _step(step_s, variability):
    if variability not in (0, 1):
        raise ValueError(f"variability {variability}: must be 0 or 1")
    if variability == 0:
        return EVEN_STEP_S if step_s is None else step_s
    if step_s not in (None, BROKEN_STEP_S):
        raise ValueError(f"step_s {step_s}: a broken sky comes in steps of {BROKEN_STEP_S} s; a"
                         " longer mean would hide what it is for")
    return BROKEN_STEP_S


def _checked(clearness, count):
    shares = np.broadcast_to(np.asarray(clearness, dtype=float), (count,))
    is_good = (shares >= 0.0) & (shares <= MOST_CLEARNESS)  # False for nan
    if not is_good.all():
        bad = shares[~is_good][0]
        raise SunError(f"clearness {bad:g}: must be 0 to {MOST_CLEARNESS:g}, the day's light over"
                       " that of a clear day")
    return shares


def _broken(shares, clear):
    """Clearness index of each step, 1 in the gaps of the clouds.

    shares: one a day; clear: the clear sky's light, [day, step].
    """
    gaps = np.minimum(np.floor(shares * BROKEN_PERIOD_STEPS), BROKEN_PERIOD_STEPS)
    is_gap = np.arange(clear.shape[1]) % BROKEN_PERIOD_STEPS < gaps[:, None]
    lit = np.where(is_gap, clear, 0.0).sum(axis=1)
    whole = clear.sum(axis=1)
    under = whole - lit
    rest = np.where(under > 0.0, (shares * whole - lit) / np.where(under > 0.0, under, 1.0), 0.0)
    broken = np.where(is_gap, 1.0, rest[:, None])
    # where the gaps alone give more than the share, or clouds would have to shine
    is_even = (rest < 0.0) | (rest > 1.0) | (shares >= 1.0)
    return np.where(is_even[:, None], shares[:, None], broken)


def _told(place, variability):
    sky = ("a broken sky, minutes of clear sky and of cloud in turns" if variability
           else "an even sky, without the edge of a cloud")
    return (f"Sun is modelled, not measured: clear sky (Ineichen, Linke turbidity"
            f" {plane.LINKE_TURBIDITY:g}) at {place}, scaled to the day's clearness as {sky};"
            " direct and diffuse sun by Erbs.")
