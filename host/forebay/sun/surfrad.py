"""The daily file of NOAA's SURFRAD network: two header lines, 48 fields a row.

Fields are separated by blanks; line width differs between stations, so fixed
columns would misread. Times are UTC. Each measured field is followed by its
flag: 0 good, 1 bad or missing (-9999.9), 2 suspect. The sign of the longitude
in the header is not reliable: some stations state degrees west as positive.
Format: README of the SURFRAD archive, gml.noaa.gov/grad/surfrad.
"""

from datetime import UTC, datetime

from forebay.sun.errors import SunError, quoted
from forebay.sun.readings import Readings, text_lines

HEADER_LINES = 2
FIELDS = 48
ZENITH_FIELD = 7
GOOD = "0"
# name and place of the value; the flag stands in the field after it
MEASURED = (
    ("ghi_w_m2", 8),
    ("dni_w_m2", 12),
    ("dhi_w_m2", 14),
    ("air_degC", 38),
    ("wind_m_s", 42),
)


def looks_like(lines):
    """True if the second line is a SURFRAD header ("37.70 105.92 2317 m version 1")."""
    words = lines[1].split() if len(lines) > 1 else []
    return len(words) >= 4 and words[3] == "m" and "," not in lines[1]


def read(path, lines=None):
    """Readings of one SURFRAD daily file; SunError naming the row if one is bad."""
    lines = text_lines(path) if lines is None else lines
    readings = Readings(path, [name for name, _ in MEASURED])
    readings.header_place = _header_place(path, lines)
    for line, text in enumerate(lines[HEADER_LINES:], HEADER_LINES + 1):
        if text.strip():
            _add_row(readings, line, text.split())
    if not readings.times_s:
        raise SunError(f"{path}: no rows after the header; give a whole SURFRAD daily file")
    return readings


def _header_place(path, lines):
    try:
        latitude, longitude, height = (float(word) for word in lines[1].split()[:3])
    except (IndexError, ValueError):
        raise SunError(
            f"{path}:2: not a SURFRAD header; expected latitude, longitude and height,"
            " such as '37.70 105.92 2317 m version 1'"
        ) from None
    return latitude, longitude, height, lines[0].strip()


def _add_row(readings, line, fields):
    if len(fields) != FIELDS:
        raise SunError(
            f"{readings.source}:{line}: {len(fields)} fields where a SURFRAD row has {FIELDS};"
            " the row is cut or damaged: remove it, and it counts as missing"
        )
    values = [
        readings.judged(line, name, fields[place], flagged=fields[place + 1] != GOOD)
        for name, place in MEASURED
    ]
    readings.zenith_deg.append(readings.number(line, "solar zenith [deg]", fields[ZENITH_FIELD]))
    readings.add(line, _moment(readings.source, line, fields), values)


def _moment(source, line, fields):
    year, _, month, day, hour, minute = fields[:6]
    try:
        return datetime(int(year), int(month), int(day), int(hour), int(minute), tzinfo=UTC)
    except ValueError:
        raise SunError(
            f"{source}:{line}: cannot read the time {quoted(' '.join(fields[:6]))}; a SURFRAD row"
            " starts with year, day of year, month, day, hour, minute"
        ) from None
