"""Irradiance files made for the tests, and a sun position that is not pvlib's."""

import math
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

from forebay.sun import load

SITE = SimpleNamespace(
    latitude_deg=38.0, longitude_deg=-106.0, height_m=300.0, air_temperature_degC=None
)
PANEL: dict[str, Any] = {"tilt_deg": 45.0, "azimuth_deg": 180.0}
PEAK_W_M2 = 900.0


def sun_angles(moment, latitude_deg, longitude_deg):
    """(zenith, azimuth from north) [deg] by Spencer's Fourier series of 1971.

    Good to about 0.3 deg in winter. Coefficients as Iqbal (1983), An Introduction
    to Solar Radiation, eq. 1.3.1 and 1.4.1, gives them (from memory).
    """
    utc = moment.astimezone(UTC)
    g = 2 * math.pi * (utc.timetuple().tm_yday - 1) / 365
    declination = (
        0.006918 - 0.399912 * math.cos(g) + 0.070257 * math.sin(g) - 0.006758 * math.cos(2 * g)
        + 0.000907 * math.sin(2 * g) - 0.002697 * math.cos(3 * g) + 0.00148 * math.sin(3 * g)
    )  # fmt: skip
    equation_min = 229.18 * (
        0.000075 + 0.001868 * math.cos(g) - 0.032077 * math.sin(g)
        - 0.014615 * math.cos(2 * g) - 0.04089 * math.sin(2 * g)
    )  # fmt: skip
    solar_h = (utc.hour + utc.minute / 60 + utc.second / 3600) + longitude_deg / 15
    hour = math.radians(15 * (solar_h + equation_min / 60 - 12))
    latitude = math.radians(latitude_deg)
    east = -math.cos(declination) * math.sin(hour)
    north = math.cos(latitude) * math.sin(declination) - math.sin(latitude) * math.cos(
        declination
    ) * math.cos(hour)
    up = math.sin(latitude) * math.sin(declination) + math.cos(latitude) * math.cos(
        declination
    ) * math.cos(hour)
    return math.degrees(math.acos(up)), math.degrees(math.atan2(east, north)) % 360


def ghi(moment, latitude_deg=38.0, longitude_deg=-106.0):
    """A smooth day [W/m2]: 900 cos z with the sun up, an offset of -1.5 by night."""
    zenith_deg, _ = sun_angles(moment, latitude_deg, longitude_deg)
    up = PEAK_W_M2 * math.cos(math.radians(zenith_deg))
    return round(up, 1) if zenith_deg < 90 else -1.5


def minutes(start, count, step_s=60):
    """Times from an ISO text with zone."""
    first = datetime.fromisoformat(start)
    return [first + timedelta(seconds=step_s * index) for index in range(count)]


def stamp(moment):
    """Time as the demo's file writes it."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def csv_rows(start="2016-01-01T00:00Z", count=1440, step_s=60):
    """[[time, ghi]] of text: one UTC day, which holds the site's daylight of 2016-01-01."""
    return [[stamp(moment), f"{ghi(moment)}"] for moment in minutes(start, count, step_s)]


def write_csv(path, rows, head="time,ghi_w_m2"):
    """Writes a CSV; line 1 is the head, so row i stands in line i + 2."""
    path.write_text("\n".join([head, *(",".join(row) for row in rows)]) + "\n")
    return path


def write_surfrad(path, header, latitude_deg, longitude_deg, start, change=None):
    """Writes a SURFRAD day of smooth sun; change(moment, fields) may alter a row.

    header: the second line. The position is the true one, for zenith and GHI.
    Row i stands in line i + 3.
    """
    lines = [" Somewhere", header]
    for moment in minutes(start, 1440):
        zenith_deg, _ = sun_angles(moment, latitude_deg, longitude_deg)
        value = ghi(moment, latitude_deg, longitude_deg)
        measured = [value, -0.8, 0.0, max(value, 0.1), *[-9999.9] * 11, -5.0, 50.0, 2.0, 180.0]
        fields = [f"{moment:%Y %j %m %d %H %M} 0.0 {zenith_deg:.2f}"]
        fields += [f"{x} {1 if x < -999 else 0}" for x in [*measured, 800.0]]
        words = " ".join(fields).split()
        if change:
            change(moment, words)
        lines.append(" ".join(words))
    path.write_text("\n".join(lines) + "\n")
    return path


# 06:00 local, the hour before sunrise at 07:20, at SITE
START = datetime(2016, 1, 1, 13, tzinfo=UTC)


def index_of(track, hour, minute=0):
    """Index of a UTC time of 2016-01-01."""
    moment = datetime(2016, 1, 1, hour, minute, tzinfo=UTC)
    return int((moment - track.start_utc).total_seconds()) // 60


def loaded(path, **options):
    return load(path, SITE, **{**PANEL, **options})


def write_poa(tmp_path, rows):
    """A CSV whose values pass through as they are, to see what was done to them."""
    return write_csv(tmp_path / "sun.csv", rows, "time,poa_w_m2")


def noted(track, words):
    return [note for note in track.notes if words in note]
