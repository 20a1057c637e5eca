"""Where a file was measured: what the sun's position is worked out for.

In this order: what the caller states; the sidecar `<stem>.station.toml` beside
the file; for SURFRAD its header, with the sign of the longitude chosen by the
file's own solar zenith; the head of a weather file; the rig's site. Where a file carries the
zenith, every place is checked against it.
"""

import math
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from forebay.sun.errors import SunError
from forebay.units import parse

STATED = ("angle", "angle", "length")  # what "latitude,longitude,height" are

DEGREES_PER_HOUR = 15.0  # 360 deg in 24 h

# A place rounded to 0.01 deg, times rounded to the minute and a mean over the
# minute leave about 0.1 deg; a wrong sign leaves tens of degrees.
ZENITH_TOLERANCE_DEG = 0.5
ZENITH_SAMPLES = 144  # one row in ten of a daily file is plenty

# key: lowest, highest. Height: from the shore of the Dead Sea to above every
# weather station. Offset: civil zones in use run from UTC-12 to UTC+14.
RANGES = {
    "latitude_deg": (-90.0, 90.0),
    "longitude_deg": (-180.0, 180.0),
    "height_m": (-450.0, 6000.0),
    "utc_offset_h": (-12.0, 14.0),
}


@dataclass(frozen=True)
class Station:
    """A place on Earth; positive is north, east and up."""

    latitude_deg: float
    longitude_deg: float
    height_m: float
    name: str = ""
    utc_offset_h: float | None = None  # local standard time minus UTC; None: by longitude

    @property
    def zone_h(self):
        """Local standard time minus UTC [h]: as stated, or longitude / 15 rounded."""
        if self.utc_offset_h is not None:
            return self.utc_offset_h
        return float(round(self.longitude_deg / DEGREES_PER_HOUR))

    def __str__(self):
        north = "N" if self.latitude_deg >= 0 else "S"
        east = "E" if self.longitude_deg >= 0 else "W"
        return (
            f"{abs(self.latitude_deg):.2f} {north} {abs(self.longitude_deg):.2f} {east},"
            f" {self.height_m:.0f} m"
        )


def find(readings, site, stated, notes):
    """The station of `readings`; appends to notes where it comes from.

    stated: Station, "latitude,longitude,height" [deg, deg, m], or None.
    Raises SunError if it is malformed or does not fit the file's zenith.
    """
    sidecar = sidecar_path(readings.source)
    if stated is not None:
        station, origin = parsed(stated), "as stated"
    elif sidecar.exists():
        station, origin = from_sidecar(sidecar), f"from {sidecar.name}"
    elif readings.header_place is not None:
        station = _by_zenith(readings)
        origin = "from the file's header, sign of the longitude by the file's solar zenith"
    elif readings.header_station is not None:
        station, origin = _of_header(readings, site), "from the file's header"
    else:
        station, origin = of_site(site), "the rig's site, for the file states none"
    _check_zenith(readings, station)
    notes.append(f"Station {station} ({origin}); local time is UTC{station.zone_h:+g} h.")
    return station


def _of_header(readings, site):
    """The place that a weather file's head states, at the site's height if it states none."""
    station = readings.header_station
    if readings.header_is_off:
        raise SunError(
            f"{readings.source}: its head gives longitude {station.longitude_deg:g} deg and zone"
            f" UTC{station.utc_offset_h:+g} h, which do not belong together; state the place with"
            " --station latitude,longitude,height (east positive)"
        )
    if math.isnan(station.height_m):
        station = replace(station, height_m=site.height_m)
    _check_ranges(readings.source, vars(station))
    return station


def of_site(site):
    """The rig's own place as a Station."""
    return Station(site.latitude_deg, site.longitude_deg, site.height_m, "rig")


def parsed(stated):
    """A Station from "latitude,longitude,height", checked; a Station is only checked."""
    if isinstance(stated, Station):
        station = stated
    else:
        parts = stated.split(",")
        try:
            latitude, longitude, height = (
                parse(part, kind) for part, kind in zip(parts, STATED, strict=True))
        except ValueError:  # UnitError is one
            raise SunError(
                f"station '{stated}': expected latitude,longitude,height in deg, deg (east"
                " positive) and m, such as 37.70,-105.92,2317"
            ) from None
        station = Station(latitude, longitude, height)
    _check_ranges(f"station '{stated}'", vars(station))
    return station


def sidecar_path(source):
    """Where the sidecar of a file would be: sun.csv has sun.station.toml."""
    path = Path(source)
    return path.with_name(path.stem + ".station.toml")


def from_sidecar(path):
    """Station from TOML: latitude_deg, longitude_deg, height_m; name, utc_offset_h may follow."""
    try:
        values = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise SunError(f"{path}: cannot read the station ({error}); mend or remove it") from None
    allowed = Station.__dataclass_fields__
    unknown = [key for key in values if key not in allowed]
    if unknown:
        raise SunError(f"{path}: unknown key '{unknown[0]}'; allowed are {', '.join(allowed)}")
    missing = [key for key in ("latitude_deg", "longitude_deg", "height_m") if key not in values]
    if missing:
        raise SunError(f"{path}: {missing[0]} is missing; add it (east and north are positive)")
    _check_ranges(str(path), values)
    return Station(**values)


def _check_ranges(where, values: dict[str, Any]):
    for key, (low, high) in RANGES.items():
        value = values.get(key)
        if value is None and key == "utc_offset_h":
            continue
        if not _within(value, low, high):
            raise SunError(f"{where}: {key} is {value!r}; allowed are {low:g} to {high:g}")


def _within(value: Any, low, high):
    return type(value) in (int, float) and low <= value <= high


def _by_zenith(readings):
    """The header's place with the sign of the longitude that fits the zenith best."""
    latitude, longitude, height, name = readings.header_place
    _check_ranges(
        f"{readings.source}:2",
        {"latitude_deg": latitude, "longitude_deg": longitude, "height_m": height},
    )
    both = [Station(latitude, sign * abs(longitude), height, name) for sign in (-1, 1)]
    return min(both, key=lambda station: _zenith_misfit_deg(readings, station))


def _check_zenith(readings, station):
    if not readings.zenith_deg:
        return
    misfit_deg = _zenith_misfit_deg(readings, station)
    if misfit_deg > ZENITH_TOLERANCE_DEG:
        raise SunError(
            f"{readings.source}: station {station} does not fit the solar zenith in the file's own"
            f" rows (off by {misfit_deg:.1f} deg, allowed {ZENITH_TOLERANCE_DEG:g}); state the"
            " place with --station latitude,longitude,height (east positive)"
        )


def _zenith_misfit_deg(readings, station):
    """Median distance of the file's zenith from the one worked out for a place [deg]."""
    import numpy as np

    from forebay.sun import position

    step = max(1, len(readings.times_s) // ZENITH_SAMPLES)
    sun = position.sun(readings.times_s[::step], station)
    own = np.array(readings.zenith_deg[::step])
    return float(np.median(np.abs(sun["zenith"].to_numpy() - own)))
