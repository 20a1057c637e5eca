"""Many days at once, for planning: a whole file's, or modelled ones of a stated clearness.

It owns where the light of those days comes from; the arrays are those of
sun.wholedays. It must not know what the panel drives.
"""

from functools import lru_cache

import numpy as np

from forebay.sun import coarse, plane
from forebay.sun import station as places
from forebay.sun.bridge import told
from forebay.sun.day import local
from forebay.sun.errors import SunError
from forebay.sun.intervals import SHIFT, Intervals, binned
from forebay.sun.load import ALBEDO, read
from forebay.sun.minutes import spacing_s
from forebay.sun.readings import IRRADIANCE
from forebay.sun.wholedays import DAY_S, S_PER_H, Days, Several, held_air
from forebay.sun.window import DEFAULT_WIND_M_S, NIGHT_LIMIT_W_M2, NIGHT_ZENITH_DEG

EVEN_STEP_S = 600  # enough for a sky without edges of clouds
BROKEN_STEP_S = 60
BROKEN_PERIOD_STEPS = 10  # one gap and one cloud in ten minutes: a guess at fair-weather clouds
CLOUD_INDEX = 0.2  # least share of the clear sky's light through a cloud; a guess
MOST_CLEARNESS = 1.1  # air cleaner than the model's
LISTED_DAYS = 3  # how many days that are left out a note names
# Here and there a row is odd; where more days have light at the wrong time, the zone or
# the place is wrong. A guess.
MOST_ODD_DAYS = 0.1


def of_file(source, site, *, station=None, air_temperature_degC=None, tilt_deg, azimuth_deg,
            albedo=ALBEDO, step_s=EVEN_STEP_S) -> Several:
    """Every complete local day of a file, in steps of step_s.

    Arguments as for forebay.sun.load. Rows further apart than step_s are bridged by
    the clearness index, closer ones averaged. A day that lacks light by day at any
    step is left out, and so is one with light where no sun is; a note says how many.
    Raises SunError where no day is left.
    """
    readings = read(source)
    notes = list(readings.notes)
    place = places.find(readings, site, station, notes)
    row_s = spacing_s(readings)
    middles_s = np.array(readings.times_s) + SHIFT[readings.label] * row_s
    ordinals, row_day = np.unique(
        np.floor_divide(middles_s + place.zone_h * S_PER_H, DAY_S).astype(int),
        return_inverse=True)
    grid = Days([local(ordinal * DAY_S, 0.0).date() for ordinal in ordinals], place, step_s)
    if row_s > step_s:
        notes.append(told(readings, row_s))
        parts, is_odd = _bridged(Intervals(readings, row_s), grid, (tilt_deg, azimuth_deg, albedo))
    else:
        of_day = ((middles_s + place.zone_h * S_PER_H) % DAY_S // step_s).astype(int)
        parts, is_odd = _averaged(readings, row_day * grid.shape[1] + of_day, grid)
    kept = _complete(parts, is_odd, grid, source, notes)
    poa = _poa(parts, grid, tilt_deg, azimuth_deg, albedo, notes)
    air = _air(readings, middles_s, grid, site, air_temperature_degC, notes)
    wind = _weather(readings, "wind_m_s", middles_s, grid)
    if wind is None:
        notes.append(f"Wind: {DEFAULT_WIND_M_S:g} m/s held, for none is known.")
        wind = DEFAULT_WIND_M_S
    cell = plane.cell_degC(poa, air, wind)
    poa, cell, air = (values.reshape(grid.shape)[kept] for values in (poa, cell, air))
    return Several(str(source), place, [grid.days[row] for row in kept], step_s, poa, cell, air,
                   grid.sunrise_h[kept], grid.sunset_h[kept], notes)


def _bridged(rows, grid, panel):
    """({column: value at each step}, steps with more light than there is) of coarse rows."""
    slots = coarse.Slots(grid.times_s, rows.first_s, rows.step_s, rows.count)
    poa = plane.plane_of_array(grid.clear, grid.sun, *panel)
    shapes = dict(zip(IRRADIANCE, (*grid.clear, poa), strict=True))
    parts = coarse.parts(rows.columns, slots, shapes, grid.cos_zenith, rows.momentary)
    is_odd = np.zeros(len(grid.times_s), dtype=bool)
    if "ghi_w_m2" in rows.columns:
        space = plane.outside(grid.times) * np.clip(grid.cos_zenith, 0.0, None)
        odd = coarse.beyond_space(rows.columns["ghi_w_m2"], slots, space)
        is_odd = slots.inside & np.isin(slots.index, odd)
    return parts, is_odd


def _averaged(readings, place, grid):
    """The same of rows as close as the steps or closer; what is below 0 is an offset."""
    is_night = grid.sun["apparent_zenith"].to_numpy() >= NIGHT_ZENITH_DEG
    is_odd = np.zeros(len(grid.times_s), dtype=bool)
    parts = {}
    for name, values in readings.columns.items():
        if name in IRRADIANCE:
            means = binned(place, values, len(grid.times_s))
            is_odd |= is_night & (means > NIGHT_LIMIT_W_M2)
            parts[name] = np.where(means < 0.0, 0.0, means)
    return parts, is_odd


def _complete(parts, is_odd, grid, source, notes):
    """Rows of the days that have all their light; what is nan by night becomes 0."""
    lacks = np.zeros(len(grid.times_s), dtype=bool)
    is_up = grid.clear[0] > 0.0
    for name, values in parts.items():
        lacks |= is_up & ~np.isfinite(values)
        parts[name] = np.where(is_up & np.isfinite(values), values, 0.0)
    odd, short, sunny = (flags.reshape(grid.shape).any(axis=1)
                           for flags in (is_odd, lacks, is_up))
    if odd.mean() > MOST_ODD_DAYS and odd.sum() > 1:
        raise SunError(
            f"{source}: light at times without sun at {grid.station} on {odd.sum()} of"
            f" {len(odd)} days; the zone of the times or the station is wrong: state it with"
            " --station latitude,longitude,height (east positive)")
    for flags, one, many in ((short, "lacks light by day", "lack light by day"),
                             (odd & ~short, "has light without sun", "have light without sun")):
        if flags.any():
            days = [str(grid.days[row]) for row in np.flatnonzero(flags)]
            more = ", ..." if len(days) > LISTED_DAYS else ""
            said = (f"1 local day {one} and is" if len(days) == 1
                    else f"{len(days)} local days {many} and are")
            notes.append(f"{said} left out: {', '.join(days[:LISTED_DAYS])}{more}.")
    kept = np.flatnonzero(sunny & ~short & ~odd)
    if not len(kept):
        raise SunError(f"{source}: no complete local day at {grid.station}"
                       f" (UTC{grid.station.zone_h:+g}); give a file with whole days")
    return kept


def _poa(parts, grid, tilt_deg, azimuth_deg, albedo, notes):
    if "poa_w_m2" in parts:
        notes.append("poa_w_m2 is used as it is: tilt and azimuth play no part.")
        return parts["poa_w_m2"]
    ghi = parts["ghi_w_m2"]
    if "dni_w_m2" in parts and "dhi_w_m2" in parts:
        split = parts["dni_w_m2"], parts["dhi_w_m2"]
    elif "dni_w_m2" in parts or "dhi_w_m2" in parts:
        split = plane.completed(parts, grid.sun)
    else:
        split = plane.decomposed(ghi, grid.sun, grid.times)
        notes.append("Direct and diffuse sun are estimated from GHI alone (Erbs).")
    return np.asarray(plane.plane_of_array((ghi, *split), grid.sun, tilt_deg, azimuth_deg,
                                           albedo))


def _air(readings, middles_s, grid, site, stated_degC, notes):
    """Temperature of the air at each step: as stated, the site's, the file's, or a default."""
    if stated_degC is None and site.air_temperature_degC is None:
        own = _weather(readings, "air_degC", middles_s, grid)
        if own is not None:
            return own
    held, note = held_air(site, stated_degC)
    notes.append(note)
    return np.full(len(grid.times_s), held)


def _weather(readings, name, middles_s, grid):
    """A column of weather in straight lines between its rows; None if it has no value."""
    values = np.array(readings.columns.get(name, []), dtype=float)
    is_known = np.isfinite(values)
    if not is_known.any():
        return None
    return np.interp(grid.times_s, middles_s[is_known], values[is_known])


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
    sky, the others have one share a day, 0.2 or more, that keeps the day's. Both skies
    have the same light on level ground, but a pump that waits for a threshold does not
    see so. A share of 1 or more, or too small for one clear minute, is even.
    Raises SunError where clearness is out of range.
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
    open_frac = np.clip((shares - CLOUD_INDEX) / (1.0 - CLOUD_INDEX), 0.0, 1.0)
    gaps = np.floor(open_frac * BROKEN_PERIOD_STEPS)
    is_gap = np.arange(clear.shape[1]) % BROKEN_PERIOD_STEPS < gaps[:, None]
    lit = np.where(is_gap, clear, 0.0).sum(axis=1)
    whole = clear.sum(axis=1)
    under = whole - lit
    rest = np.where(under > 0.0, (shares * whole - lit) / np.where(under > 0.0, under, 1.0), 0.0)
    broken = np.where(is_gap, 1.0, rest[:, None])
    is_even = (gaps == 0) | (shares >= 1.0)  # no minute is open, or none is closed
    return np.where(is_even[:, None], shares[:, None], broken)


def _told(place, variability):
    sky = ("a broken sky, minutes of clear sky and of cloud in turns" if variability
           else "an even sky, without the edge of a cloud")
    return (f"Sun is modelled, not measured: clear sky (Ineichen, Linke turbidity"
            f" {plane.LINKE_TURBIDITY:g}) at {place}, scaled to the day's clearness as {sky};"
            " direct and diffuse sun by Erbs.")
