"""The result: what the panel sees, minute by minute, for one day and night."""

from dataclasses import dataclass
from datetime import date, datetime

from forebay.sun.station import Station

POINTS = 24 * 60 + 1  # minutes of 24 h, both ends included


@dataclass(frozen=True)
class SunTrack:
    """Sun on the panel over 24 h from before sunrise to before the next sunrise.

    The lists hold POINTS plain floats, one a minute from `start_utc`.
    """

    source: str  # the file as it was named, or "clear"
    station: Station  # whose sun this is: latitude, longitude, height
    day: date  # local day whose daylight is shown
    utc_offset_h: float  # local standard time minus UTC [h]
    start_utc: datetime  # time of index 0, a whole hour of local time
    sunrise: datetime  # local, of `day`
    sunset: datetime  # local, of `day`
    poa_w_m2: list[float]  # irradiance in the plane of the panel, >= 0 [W/m2]
    cell_degC: list[float]  # temperature of the panel's cells [degC]
    air_degC: list[float]  # temperature of the air [degC]
    dark_from_index: int  # from here to the end night is assumed; POINTS: nowhere
    notes: list[str]  # each thing assumed, bridged, clipped or averaged: a sentence
