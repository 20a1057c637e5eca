"""From a source of sun to the track: the one way in.

Time of a row is taken as the time of its value. Files state the start or the
end of the minute they average over, seldom which; half a minute is left open.
"""

from datetime import date as Date

from forebay.sun import csvfile, formats, plane, surfrad
from forebay.sun import day as days
from forebay.sun import minutes as grid
from forebay.sun import station as places
from forebay.sun.errors import SunError
from forebay.sun.readings import text_of
from forebay.sun.window import Window

CLEAR = "clear"
CLEAR_DAY = Date(2016, 1, 1)  # the day of the demo's measured file, to compare with
ALBEDO = 0.2  # grass and soil, pvlib's default [-]


def load(
    source,
    site,
    *,
    date=None,
    assume_dark=False,
    station=None,
    air_temperature_degC=None,
    tilt_deg,
    azimuth_deg,
    albedo=ALBEDO,
):
    """Sun on a panel for one local day and the night after it.

    source: a weather file of formats.FORMATS, a SURFRAD daily file, a CSV (see
    csvfile), or "clear" for pvlib's clear sky. site: has latitude_deg, longitude_deg
    (east positive), height_m and air_temperature_degC (None: the file's). date: local
    day, a date, ISO text, or "MM-DD" of the file's year; None: the first complete
    one. assume_dark: take missing daylight as dark.
    station: Station or "latitude,longitude,height" [deg, deg, m].
    air_temperature_degC: held all day in place of the site's or file's [degC].
    tilt_deg: of the panel from level, 0..90 [deg]; azimuth_deg: where it
    faces, clockwise from north [deg]; albedo: of the ground, 0..1 [-].
    Returns a SunTrack. Raises SunError for anything the user can mend.
    """
    notes = []
    wanted = days.parsed_date(date)
    if str(source) == CLEAR:
        place = places.of_site(site) if station is None else places.parsed(station)
        readings, minutes = None, None
        light = _clear_day(place, wanted, notes)
    else:
        readings = read(source, getattr(wanted, "year", None))
        notes.extend(readings.notes)
        place = places.find(readings, site, station, notes)
        minutes = _on_minutes(readings, place, (tilt_deg, azimuth_deg, albedo), notes)
        light = days.choose(minutes, place, wanted, assume_dark, notes)
    window = Window(str(source), place, light, minutes, notes)
    parts = window.clear() if minutes is None else window.measured()
    air = window.air(site, air_temperature_degC)
    poa = window.poa(parts, tilt_deg, azimuth_deg, albedo)
    return window.track(poa, air)


def read(source, year=None):
    """Readings of a file of any kind that is known.

    year: in which the days of a typical year are told; None: one without 29 February.
    """
    text, is_utf8 = text_of(source)
    kind = formats.recognised(text)
    if kind is not None:
        from forebay.sun import tabled  # numpy, which a short file does without

        return tabled.read(source, kind, text, year)
    if not is_utf8:
        raise SunError(f"{source}: not a text file (UTF-8); give a file of weather or a CSV")
    lines = text.splitlines()
    is_surfrad = str(source).lower().endswith(".dat") or surfrad.looks_like(lines)
    return surfrad.read(source, lines) if is_surfrad else csvfile.read(source, lines)


def _on_minutes(readings, place, panel, notes):
    """Minutes of fine readings, a Bridge over coarse ones."""
    step_s = grid.spacing_s(readings)
    if step_s <= grid.FINE_S:
        return grid.Minutes(readings, notes)
    from forebay.sun.bridge import Bridge  # numpy, which a short file does without

    return Bridge(readings, step_s, place, panel, notes)


def _clear_day(place, wanted, notes):
    if isinstance(wanted, days.DayOfYear):
        whole = (Date(CLEAR_DAY.year, 1, 1), Date(CLEAR_DAY.year, 12, 31))
        wanted = wanted.after(*whole)
    light = days.one_day(wanted or CLEAR_DAY, place)
    chosen = "" if wanted else ", the default day"
    notes.append(
        f"Sun is modelled, not measured: clear sky (Ineichen, Linke turbidity"
        f" {plane.LINKE_TURBIDITY:g}) at {place} on {light.day}{chosen}."
    )
    return light
