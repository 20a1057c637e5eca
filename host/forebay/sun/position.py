"""Where the sun stands, and when it rises and sets: NREL's SPA through pvlib.

Source: Reda and Andreas (2004), "Solar position algorithm for solar radiation
applications", Solar Energy 76(5), 577-589. Sunrise and sunset are those of the
upper limb with 34' of refraction at sea level, the almanac's definition.
"""

from datetime import date, timedelta
from functools import lru_cache

SECONDS_PER_HOUR = 3600
SECONDS_PER_DAY = 86400
DELTA_T_S = 67.0  # TT - UT1, pvlib's default; a few seconds off do not matter here


def utc_times(times_s):
    """Seconds since 1970 UTC as a pandas DatetimeIndex."""
    import numpy as np
    import pandas as pd

    whole_ms = np.round(np.asarray(times_s) * 1000.0).astype("int64")
    return pd.DatetimeIndex(whole_ms.astype("datetime64[ms]"), tz="UTC").as_unit("ns")


def sun(times_s, station):
    """Table of the sun's position [deg]: zenith, apparent_zenith, azimuth, and more."""
    from pvlib import atmosphere, solarposition

    return solarposition.spa_python(
        utc_times(times_s),
        station.latitude_deg,
        station.longitude_deg,
        altitude=station.height_m,
        pressure=atmosphere.alt2pres(station.height_m),
        delta_t=DELTA_T_S,
    )


def quick(times, station):
    """Table as that of `sun`, for many times (a DatetimeIndex): within 0.05 deg of it by day.

    The almanac's low-precision formulae through pvlib, a tenth of SPA's work.
    """
    from pvlib import atmosphere, solarposition

    return solarposition.ephemeris(
        times,
        station.latitude_deg,
        station.longitude_deg,
        pressure=atmosphere.alt2pres(station.height_m),
    )


def midnight_s(day, station):
    """Start of a local day [s since 1970 UTC]."""
    days = day.toordinal() - date(1970, 1, 1).toordinal()
    return days * SECONDS_PER_DAY - station.zone_h * SECONDS_PER_HOUR


def rise_and_set(days, station):
    """[(sunrise, sunset) s since 1970 UTC, or None where it does not rise and set].

    days: local dates. SPA asks for the UTC date of the transit, which far from
    longitude / 15 is not the local one: a first call finds by how many days.
    """
    return list(_rise_and_set(tuple(days), station))


@lru_cache(maxsize=1024)  # the days of a season: each day's end is asked for as the next's begin
def _rise_and_set(days, station):
    starts = [midnight_s(day, station) for day in days]
    transits = _events(days, station)["transit"]
    shifts = [
        int((transit - start) // SECONDS_PER_DAY)
        for transit, start in zip(transits, starts, strict=True)
    ]
    shifted = [day - timedelta(days=shift) for day, shift in zip(days, shifts, strict=True)]
    events = _events(shifted, station)
    pairs = zip(events["sunrise"], events["sunset"], strict=True)
    return [(rise, set_) if rise < set_ else None for rise, set_ in pairs]


def _events(days, station):
    """{"sunrise", "transit", "sunset"}: lists of s since 1970 UTC, nan for never."""
    import pandas as pd
    from pvlib import solarposition

    table = solarposition.sun_rise_set_transit_spa(
        pd.DatetimeIndex([day.isoformat() for day in days], tz="UTC"),
        station.latitude_deg,
        station.longitude_deg,
        delta_t=DELTA_T_S,
    )
    return {name: _seconds(table[name]) for name in ("sunrise", "transit", "sunset")}


def _seconds(column):
    """s since 1970 UTC; a column of "never" alone has lost its zone, hence utc=True."""
    import pandas as pd

    since = pd.to_datetime(column, utc=True) - pd.Timestamp(0, tz="UTC")
    return [float(value) for value in since.dt.total_seconds()]
