"""From a table of pvlib's to Readings: times, usable values, the place, the typical year.

It owns what is common to all of sun.formats. A value outside of the limits of
its column is a stand-in for a missing one, and counts as missing; by day the
window then refuses the gap.
"""

import re
import warnings
from pathlib import Path

import numpy as np

from forebay.sun import typical
from forebay.sun.errors import SunError
from forebay.sun.formats import USUAL
from forebay.sun.intervals import SHIFT
from forebay.sun.readings import FIRST_YEAR, IRRADIANCE, LAST_YEAR, LIMITS, Readings
from forebay.sun.station import DEGREES_PER_HOUR, Station

# What pandas and Python raise in pvlib's readers where a file is not as it should be.
UNREADABLE = (ValueError, LookupError, TypeError, ArithmeticError, AttributeError, StopIteration,
              OSError)
# Civil zones keep within 3.2 h of the sun (west of China); a head beyond is wrong.
MOST_OFF_SUN_H = 3.5
OFFSET_W_M2 = -20.0  # of an unventilated thermopile on a clear night; a guess
HALF_DAY_H = 12.0
TOLD_YEAR = 2015  # of a typical year where no date names one: any without 29 February


def read(path, kind, text, year=None):
    """Readings of a file of a known Format.

    year: in which a typical year is told; None: TOLD_YEAR.
    Raises SunError where the file is cut, damaged, or holds no light.
    """
    table, header, more = _parsed(path, kind, text)
    columns = _columns(path, kind, table)
    readings = Readings(path, columns)
    readings.label = more.get("label", kind.label)
    readings.file_label = more.get("label", kind.file_label or kind.label)
    readings.notes.append(f"{Path(path).name} is read as {kind.name}.")
    readings.notes.extend(more.get("notes", ()))
    lines = _first_row(kind, text) + np.arange(len(table)) * kind.lines_a_row
    for name, values in columns.items():
        flagged = more.get("flagged", {}).get(name)
        columns[name] = _usable(readings, name, values, flagged, lines)
    _place(readings, header)
    rows, times_s = _in_time(readings, table.index, lines, year)
    readings.times_s = times_s.tolist()
    readings.lines = lines[rows].tolist()
    for name, values in columns.items():
        readings.columns[name] = [value if value == value else None
                                  for value in values[rows].tolist()]
    if "zenith" in more:
        readings.zenith_deg = more["zenith"].to_numpy(dtype=float)[rows].tolist()
    return readings


def _parsed(path, kind, text):
    """What pvlib's reader makes of the text; SunError in one line where it cannot."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            table, header, more = kind.read(path, text)
            is_whole = len(table) > 0 and not table.index.isna().any()
    except SunError:
        raise
    except UNREADABLE as error:
        words = " ".join(str(error).split())
        raise SunError(f"{path}: begins as {kind.name}, but cannot be read as that"
                       f" ({type(error).__name__}: {words[:80]}); it is cut or damaged: give the"
                       " file as published") from None
    if not is_whole:
        raise SunError(f"{path}: begins as {kind.name}, but has no rows or a row without a time;"
                       " give the file as published")
    return table, header, more


def _columns(path, kind, table):
    """{our name: values} of the table's columns that are of use."""
    found = {}
    for name, pattern in (kind.columns or USUAL).items():
        place = next((place for place, column in enumerate(table.columns)
                      if re.fullmatch(pattern, str(column))), None)
        if place is not None:
            found[name] = table.iloc[:, place].to_numpy(dtype=float, na_value=np.nan)
    if "ghi_w_m2" in found:
        found.pop("poa_w_m2", None)
    elif "poa_w_m2" in found:
        found = {name: values for name, values in found.items()
                 if name == "poa_w_m2" or name not in IRRADIANCE}
    else:
        raise SunError(f"{path}: is {kind.name}, but has no column of global irradiance; have the"
                       " file made with it")
    return found


def _first_row(kind, text):
    """Line of the first row, from 1; 1 for a file that is one line."""
    if isinstance(kind.first_row, int):
        return kind.first_row
    for line, words in enumerate(text.splitlines(), 1):
        if re.match(kind.first_row, words.lstrip()):
            return line + 1
    return 1


def _usable(readings, name, values, flagged, lines):
    """Values with nan for what is flagged or stands for a missing one; says the latter."""
    low, high, unit = LIMITS[name]
    if flagged is not None:
        values = np.where(flagged.to_numpy(dtype=bool), np.nan, values)
    if name in IRRADIANCE:
        values = np.where((values < low) & (values >= OFFSET_W_M2), low, values)
    is_out = (values < low) | (values > high)
    if is_out.any():
        first = int(np.flatnonzero(is_out)[0])
        readings.notes.append(
            f"{name}: {is_out.sum()} values outside of {low:g} to {high:g} {unit} count as"
            f" missing, the first is {values[first]:g} in line {lines[first]}.")
    return np.where(is_out, np.nan, values)


def _in_time(readings, index, lines, year):
    """(rows in order of time, their times [s since 1970 UTC]); SunError where time goes back."""
    times_s = index.as_unit("ms").asi8 / 1000.0
    rows = np.arange(len(times_s))
    step_s = float(np.median(np.abs(np.diff(times_s)))) if len(rows) > 1 else 0.0
    shift_s = SHIFT[readings.label] * step_s
    middles = (index.as_unit("ms") + np.timedelta64(round(shift_s * 1000), "ms"))
    if typical.is_spliced(middles):
        year = year or TOLD_YEAR
        station = readings.header_station
        own_h = middles[0].utcoffset().total_seconds() / 3600.0
        rows, times_s = typical.in_one_year(middles, station.zone_h if station else own_h, year)
        times_s = times_s - shift_s
        readings.notes.append(
            f"A typical year of months from different years ({typical.spans(middles)}): each day"
            f" stands for itself and is told as one of {year}.")
    _check_times(readings, times_s, lines[rows])
    return rows, times_s


def _check_times(readings, times_s, lines):
    years = times_s.astype("datetime64[s]").astype("datetime64[Y]").astype(int) + 1970
    if years.min() < FIRST_YEAR or years.max() > LAST_YEAR:
        raise SunError(f"{readings.source}: years from {years.min()} to {years.max()}; allowed are"
                       f" {FIRST_YEAR} to {LAST_YEAR}")
    back = np.flatnonzero(np.diff(times_s) <= 0.0)
    if len(back):
        raise SunError(f"{readings.source}:{lines[back[0] + 1]}: its time does not come after that"
                       " of the row before it; remove doubled rows and sort the file by time")


def _place(readings, header):
    """Sets the station that the head of the file states, its height nan if it states none."""
    if header is None:
        return
    height_m = float("nan") if header.height_m is None else float(header.height_m)
    zone_h = header.zone_h
    off_h = abs(header.longitude_deg / DEGREES_PER_HOUR - (zone_h or 0.0))
    is_off = min(off_h, abs(2 * HALF_DAY_H - off_h)) > MOST_OFF_SUN_H
    if is_off and zone_h == 0.0:
        zone_h = None  # a file in UTC, of a place that has another time
    readings.header_station = Station(float(header.latitude_deg), float(header.longitude_deg),
                                      height_m, header.name, zone_h)
    readings.header_is_off = bool(is_off and zone_h is not None)
