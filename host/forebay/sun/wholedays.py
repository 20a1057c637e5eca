"""Whole local days at once: the arrays, the sun at their steps, the air that is held.

A day runs from midnight to midnight in local standard time. A step holds its
mean; the sun stands where it is at the step's middle. Nothing here knows where
the light comes from: sun.several fills the days.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np

from forebay.sun import plane, position
from forebay.sun.station import Station
from forebay.sun.window import DEFAULT_AIR_DEGC

DAY_S = 86400
S_PER_H = 3600


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
        self.cos_zenith = np.cos(np.radians(self.sun["apparent_zenith"].to_numpy()))
        self.clear = plane.clear_sky(self.sun, self.times, station.height_m)
        found = position.rise_and_set(days, station)
        events_s = np.array([events or (np.nan, np.nan) for events in found])
        self.rise_s, self.set_s = events_s[:, 0], events_s[:, 1]
        self.sunrise_h = (self.rise_s - midnights_s) / S_PER_H
        self.sunset_h = (self.set_s - midnights_s) / S_PER_H


def held_air(site, stated_degC):
    """(temperature of the air [degC], a note): as stated, the site's, or the default."""
    for value, whose in ((stated_degC, "as stated"), (site.air_temperature_degC, "the rig's")):
        if value is not None:
            return float(value), f"Air temperature: {value:g} degC held, {whose}."
    return DEFAULT_AIR_DEGC, (f"Air temperature: {DEFAULT_AIR_DEGC:g} degC, held, for none is"
                              " known.")
