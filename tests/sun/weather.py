"""Weather files of each published kind, with the smooth day of files.ghi, made for the tests.

Widths and columns are those that pvlib's readers state and its documentation describes.
"""

import json
import math
from datetime import UTC, datetime, timedelta, timezone
from statistics import fmean

from tests.sun.files import SITE, ghi, sun_angles

LATITUDE_DEG, LONGITUDE_DEG, HEIGHT_M = SITE.latitude_deg, SITE.longitude_deg, 321
LOCAL = timezone(timedelta(hours=-7))
OREGON = timezone(timedelta(hours=-8))  # pvlib gives every SRML file this zone
DAY = datetime(2016, 1, 1, tzinfo=LOCAL)
DIFFUSE_FRAC = 0.2
AIR_DEGC, WIND_M_S = 7.5, 2.5


def light(moment):
    """(ghi, dni, dhi) [W/m2] of the smooth day."""
    level = max(ghi(moment), 0.0)
    up = math.cos(math.radians(sun_angles(moment, LATITUDE_DEG, LONGITUDE_DEG)[0]))
    direct = level * (1.0 - DIFFUSE_FRAC) / up if level > 0.0 else 0.0
    return level, direct, level * DIFFUSE_FRAC


def mean_light(start, minutes):
    """Mean of light over some minutes from a time."""
    found = [light(start + timedelta(minutes=minute + 0.5)) for minute in range(minutes)]
    return tuple(fmean(part) for part in zip(*found, strict=True))


def rows(minutes, hours=24, begin=DAY):
    """[(start of the interval, (ghi, dni, dhi) means)]."""
    starts = [begin + timedelta(minutes=minutes * place) for place in range(hours * 60 // minutes)]
    return [(start, mean_light(start, minutes)) for start in starts]


def epw():
    head = [f"LOCATION,Nowhere,-,-,made,0,{LATITUDE_DEG},{LONGITUDE_DEG},-7.0,{HEIGHT_M}.0"]
    head += [f"HEAD {line}" for line in range(2, 9)]
    return head + [
        f"{t.year},{t.month},{t.day},{t.hour + 1},0,?9?9,{AIR_DEGC},1,50,99000,0,0,300,"
        f"{g:.1f},{n:.1f},{d:.1f},9999,9999,9999,9999,180,{WIND_M_S},5,5,9999,9999,9,9,1,0,0,0,"
        "0.2,0,0"
        for t, (g, n, d) in rows(60)
    ]


def tmy3():
    head = [f'123456,"NOWHERE",XX,-7.0,{LATITUDE_DEG},{LONGITUDE_DEG},{HEIGHT_M}',
            "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),DNI (W/m^2),DHI (W/m^2),Dry-bulb (C),"
            "Wspd (m/s)"]
    return head + [
        f"{t:%m/%d/%Y},{t.hour + 1:02}:00,{g:.0f},{n:.0f},{d:.0f},{AIR_DEGC},{WIND_M_S}"
        for t, (g, n, d) in rows(60)
    ]


def tmy2():
    """The day as one of 1986: the format has years of the last century only."""
    north, west = abs(LATITUDE_DEG), abs(LONGITUDE_DEG)
    lines = [f" 12345 NOWHERE                XX  -7 N {north:2.0f}  0 W {west:3.0f}  0"
             f" {HEIGHT_M:5d}"]
    for t, (g, n, d) in rows(60):
        light_part = "".join(f"{value:4.0f}A5" for value in (g, n, d)) + "   0?0" * 4
        sky = " 5A7 5A7"
        weather = (f"{AIR_DEGC * 10:4.0f}A7  10A7 50A7 990A7180A7{WIND_M_S * 10:3.0f}A7 161A7"
                   "77777A70999999999 10A7 50A7  0A788A7")
        lines.append(f" 86{t:%m%d}{t.hour + 1:2d}   0   0{light_part}{sky}{weather}")
    return lines


def nsrdb():
    head = ["Source,Location ID,City,State,Country,Latitude,Longitude,Time Zone,Elevation,"
            "Local Time Zone",
            f"NSRDB,1,-,-,-,{LATITUDE_DEG},{LONGITUDE_DEG},0,{HEIGHT_M},-7",
            "Year,Month,Day,Hour,Minute,Temperature,DHI,DNI,GHI,Wind Speed"]
    lines = []
    for place in range(96):
        t = datetime(2016, 1, 1, tzinfo=UTC) + timedelta(minutes=30 * place)
        g, n, d = light(t)
        lines.append(f"{t.year},{t.month},{t.day},{t.hour},{t.minute},{AIR_DEGC},{d:.0f},{n:.0f},"
                     f"{g:.0f},{WIND_M_S}")
    return head + lines


def bsrn():
    head = ["*U0001", "  1  1 2016  1", "  1  1", "*U0004", " 1  0  0", "  1  1",
            "nowhere 1", "+1 234              +1 234", "                nobody@example.org",
            f" {LATITUDE_DEG + 90:6.3f} {LONGITUDE_DEG + 180:7.3f} {HEIGHT_M:4d} 12345",
            " 1  0  0", "  -1 -1", "*U0100"]
    lines = []
    for t, (g, n, d) in rows(1, 36):
        u = t.astimezone(UTC)
        lines.append(f" {u.day:2d} {u.hour * 60 + u.minute:5d} {g:6.0f}   0.0    0    0"
                     f" {n:6.0f}   0.0    0    0")
        lines.append(" " * 10 + f"{d:6.0f}   0.0    0    0 {300:6.0f}   0.0    0    0"
                     f"    {AIR_DEGC:5.1f}  50.0  990")
    return head + lines


def solrad():
    lines = [" Nowhere", f"   {LATITUDE_DEG:.5f} {LONGITUDE_DEG:.5f} {HEIGHT_M} -7  version 1"]
    for t, (g, n, d) in rows(1):
        u = (t + timedelta(minutes=1)).astimezone(UTC)
        zenith_deg = sun_angles(u, LATITUDE_DEG, LONGITUDE_DEG)[0]
        head = f"{u.year:5d}{u.timetuple().tm_yday:4d}{u.month:3d}{u.day:3d}{u.hour:3d}"
        values = "".join(f"{value:8.1f} 0" for value in (g, n, d, 43.6, 0.4))
        lines.append(f"{head}{u.minute:3d}{0:7.3f}{zenith_deg:7.2f}{values}" + f"{0:10.3f}" * 4)
    return lines


def crn():
    lines = []
    for t, (g, _, _) in rows(5):
        end = t + timedelta(minutes=5)
        u = end.astimezone(UTC)
        lines.append(
            f"12345 {u:%Y%m%d %H%M} {end:%Y%m%d %H%M}      3 {LONGITUDE_DEG:7.2f}"
            f" {LATITUDE_DEG:7.2f} {AIR_DEGC:7.1f}     0.0 {g:6.0f} 0     9.0 C 0    50 0 -99.000"
            f" -9999.0  1144 0 {WIND_M_S:6.2f} 0")
    return lines


def srml():
    lines = ["94255\t2016\t1000\t0\t2010\t0\t3000\t0\t9300\t0\t9210\t0"]
    for t, (g, n, d) in rows(60, 24, datetime(2016, 1, 1, tzinfo=OREGON)):
        lines.append("\t".join([f"1\t{t.hour + 1}00", *(
            f"{value:.0f}\t12" for value in (g, n, d, AIR_DEGC, WIND_M_S))]))
    return lines


def midc():
    lines = ["DATE (MM/DD/YYYY),MST,Global Horizontal [W/m^2],Direct Normal [W/m^2],"
             "Diffuse Horizontal [W/m^2],Air Temperature [deg C],Avg Wind Speed @ 3m [m/s]"]
    return lines + [f"{t:%m/%d/%Y,%H:%M},{g:.2f},{n:.2f},{d:.2f},{AIR_DEGC},{WIND_M_S}"
                    for t, (g, n, d) in rows(1)]


def cams():
    lines = ["# Coding: utf-8", "# Title: CAMS Radiation Service",
             f"# Latitude (positive North, ISO 19115): {LATITUDE_DEG}",
             f"# Longitude (positive East, ISO 19115): {LONGITUDE_DEG}",
             f"# Altitude (m): {HEIGHT_M}.00", "# Time reference: Universal time (UT)",
             "# Summarization (integration) period: 0 year 0 month 0 day 0 h 15 min 0 s",
             "# noValue: nan", "# Observation period;TOA;GHI;BHI;DHI;BNI"]
    for t, (g, n, d) in rows(15, 36):
        first = t.astimezone(UTC)
        span = f"{first:%Y-%m-%dT%H:%M:%S.0}/{first + timedelta(minutes=15):%Y-%m-%dT%H:%M:%S.0}"
        lines.append(f"{span};0.0;{g / 4:.4f};{(g - d) / 4:.4f};{d / 4:.4f};{n / 4:.4f}")
    return lines


def solaranywhere():
    head = [f'0,Nowhere,XX,-7,{LATITUDE_DEG},{LONGITUDE_DEG},{HEIGHT_M},"Data Version: 3.6 /'
            ' LatLon Resolution: 0.005 / Averaging Method: End of Period / TD: Yes"',
            "ObservationTime(LST),Global Horizontal Irradiance (GHI) W/m2,"
            "Direct Normal Irradiance (DNI) W/m2,Diffuse Horizontal Irradiance (DIF) W/m2,"
            "AmbientTemperature (deg C),WindSpeed (m/s)"]
    return head + [
        f"{t + timedelta(hours=1):%m/%d/%Y %H:%M},{g:.0f},{n:.0f},{d:.0f},{AIR_DEGC},{WIND_M_S}"
        for t, (g, n, d) in rows(60)
    ]


def _pvgis_moments(minute):
    begin = datetime(2016, 1, 1, 0, minute, tzinfo=UTC)
    return [(t, light(t)) for t in (begin + timedelta(hours=place) for place in range(48))]


def pvgis_hourly():
    head = [f"Latitude (decimal degrees):\t{LATITUDE_DEG}",
            f"Longitude (decimal degrees):\t{LONGITUDE_DEG}", f"Elevation (m):\t{HEIGHT_M}",
            "Radiation database:\tmade", "", "Slope: 0 deg.", "Azimuth: 0 deg.",
            "time,Gb(i),Gd(i),Gr(i),H_sun,T2m,WS10m,Int"]
    return head + [
        f"{t:%Y%m%d:%H%M},{g - d:.2f},{d:.2f},0.0,0.0,{AIR_DEGC},{WIND_M_S},0.0"
        for t, (g, _, d) in _pvgis_moments(10)
    ] + ["", "G(i): somewhere"]


def pvgis_typical():
    """As JSON, which may be short; times are 0.25 h before the light's."""
    place = {"latitude": LATITUDE_DEG, "longitude": LONGITUDE_DEG, "elevation": float(HEIGHT_M),
             "irradiance_time_offset": 0.25}
    hourly = [{"time(UTC)": f"{t - timedelta(minutes=15):%Y%m%d:%H%M}", "T2m": AIR_DEGC,
               "G(h)": g, "Gb(n)": n, "Gd(h)": d, "WS10m": WIND_M_S}
              for t, (g, n, d) in _pvgis_moments(15)]
    return [json.dumps({"inputs": {"location": place}, "outputs": {
        "months_selected": [{"month": 1, "year": 2016}], "tmy_hourly": hourly},
        "meta": {"inputs": {}}})]


# name of the kind: (writer, minutes between rows, end of the file's name)
KINDS = {
    "EPW": (epw, 60, ".epw"),
    "TMY3": (tmy3, 60, ".csv"),
    "TMY2": (tmy2, 60, ".tm2"),
    "NSRDB": (nsrdb, 30, ".csv"),
    "BSRN": (bsrn, 1, ".dat"),
    "SOLRAD": (solrad, 1, ".dat"),
    "CRN": (crn, 5, ".txt"),
    "SRML": (srml, 60, ".txt"),
    "MIDC": (midc, 1, ".txt"),
    "CAMS": (cams, 15, ".csv"),
    "SolarAnywhere": (solaranywhere, 60, ".csv"),
    "PVGIS hourly": (pvgis_hourly, 60, ".csv"),
    "PVGIS typical year": (pvgis_typical, 60, ".json"),
}


def write(tmp_path, kind, change=None):
    """A file of a kind; change(lines) -> lines may damage it."""
    writer, _, suffix = KINDS[kind]
    lines = writer()
    path = tmp_path / f"sun{suffix}"
    path.write_text("\n".join(change(lines) if change else lines) + "\n")
    return path
