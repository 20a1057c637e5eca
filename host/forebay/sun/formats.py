"""Which published kinds of weather file are known, and which reader of pvlib reads each.

A row of FORMATS tells how the head of a file betrays its kind, pvlib's reader,
which columns hold what, and where in its interval a time stands. It owns no
arithmetic; pvlib.iotools is loaded when a file of such a kind is read. Nothing
is ever fetched: readers get the text, or a full path.

What pvlib's readers do not tell stands as their documentation has it: ends or
beginnings of intervals; that satellite values (PVGIS, NSRDB) are those of a
moment is from memory.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO, StringIO
from pathlib import Path

from forebay.sun.errors import SunError

USUAL = {
    "ghi_w_m2": "ghi",
    "dni_w_m2": "dni",
    "dhi_w_m2": "dhi",
    "air_degC": "temp_air",
    "wind_m_s": "wind_speed",
}
NUMBERED = {name: pattern + r"_\d+" for name, pattern in USUAL.items()}
TENTH = 0.1  # TMY2 holds tenths of a degree and of m/s
MIDC_NAMES = {
    "ghi_w_m2": r"ghi|Global (?!.*stdev).*\[W/m\^2\]",
    "dni_w_m2": r"dni(_chp1|_nip)?|Direct N(?!.*stdev).*\[W/m\^2\]",
    "dhi_w_m2": r"dhi|Diffuse (?!.*stdev).*\[W/m\^2\]",
    "air_degC": r"temp_air|(Air )?Temperature .*\[deg C\]",
    "wind_m_s": r"wind_speed|(Avg )?Wind Speed .*\[m/s\]",
}
HEAD_LETTERS = 20_000  # the longest heads, of CAMS, have some 6000
# pvlib's readers that find no place here, and why.
LEFT_OUT = {
    "read_midc_raw_data_from_nrel": "asks the net",
    "read_panond": "describes modules and inverters",
    "read_surfrad": "sun.surfrad reads it, with the flags of each value",
}


@dataclass(frozen=True)
class Header:
    """What a file says of its place; None: nothing."""

    latitude_deg: float
    longitude_deg: float
    height_m: float | None
    zone_h: float | None = None
    name: str = ""


@dataclass(frozen=True)
class Format:
    """One kind of file."""

    name: str
    reader: str  # pvlib's function
    head: str  # a pattern of the file's beginning
    read: Callable  # (path, text) -> (table, Header or None, {anything else})
    label: str = "start"  # of sun.intervals, after what the reader does to the times
    first_row: int | str = 1  # line of the first row from 1, or how the line before it begins
    columns: dict | None = None  # {our name: pattern of the table's}; None: USUAL
    lines_a_row: int = 1
    file_label: str = ""  # as label, but by the times in the file; empty: they are the same


def recognised(text):
    """The Format of a file by its first lines; None: none of these."""
    beginning = text[:HEAD_LETTERS]
    return next((kind for kind in FORMATS if re.match(kind.head, beginning, re.MULTILINE)), None)


def _pvlib(name):
    from pvlib import iotools

    return getattr(iotools, name)


def _epw(path, text):
    table, meta = _pvlib("read_epw")(StringIO(text))
    offset = re.search(r"^COMMENTS 2,Irradiance Time Offset \(h\): *(-?\d+\.?\d*)", text, re.M)
    if offset:
        return _epw_of_pvgis(table, meta, float(offset.group(1)))
    return table, _usual_header(meta, meta["city"]), {}


def _epw_of_pvgis(table, meta, offset_h):
    """Such a file's hours are UTC's, whatever zone its head has; values are of a moment.

    Seen where the same data are published as CSV, in universal time.
    """
    import pandas as pd

    ends = table.index.tz_localize(None) + pd.Timedelta(hours=1)
    table.index = (ends + pd.Timedelta(hours=offset_h)).tz_localize("UTC")
    header = Header(meta["latitude"], meta["longitude"], meta["altitude"])
    return table, header, {"label": "moment", "notes": ["PVGIS wrote it: its hours are UTC's."]}


def _tmy3(path, text):
    table, meta = _pvlib("read_tmy3")(StringIO(text))
    return table, _usual_header(meta, meta["Name"].strip('"')), {}


def _tmy2(path, text):
    """As pvlib has it, but each month in its own year and in whole units."""
    import pandas as pd

    table, meta = _pvlib("read_tmy2")(str(Path(path).resolve()))
    when = table[["month", "day"]].assign(year=table["year"] + 1900, hour=table["hour"] - 1)
    table.index = pd.DatetimeIndex(pd.to_datetime(when)).tz_localize(table.index.tz)
    names = {"GHI": "ghi", "DNI": "dni", "DHI": "dhi"}
    table = table.rename(columns=names).assign(
        temp_air=table["DryBulb"] * TENTH, wind_speed=table["Wspd"] * TENTH)
    return table, _usual_header(meta, meta["City"]), {}


def _nsrdb(path, text):
    table, meta = _pvlib("read_nsrdb_psm4")(StringIO(text))
    zone_h = float(meta["Local Time Zone"])
    return table, Header(meta["latitude"], meta["longitude"], meta["altitude"], zone_h), {}


def _solaranywhere(path, text):
    table, meta = _pvlib("read_solaranywhere")(str(Path(path).resolve()))
    is_end = meta.get("Averaging Method", "").startswith("End")
    return table, _usual_header(meta, meta["name"]), {"label": "end" if is_end else "middle"}


def _bsrn(path, text):
    table, meta = _pvlib("read_bsrn")(StringIO(text))
    return table, Header(meta["latitude"], meta["longitude"], meta["altitude"]), {}


def _solrad(path, text):
    table, meta = _pvlib("read_solrad")(str(Path(path).resolve()))
    return table, _usual_header(meta, meta["station_name"]), {
        "zenith": table["solar_zenith"], "flagged": {
            f"{name}_w_m2": table[f"{name}_flag"] != 0 for name in ("ghi", "dni", "dhi")}}


def _crn(path, text):
    table = _pvlib("read_crn")(StringIO(text))
    header = Header(float(table["latitude"].iloc[0]), float(table["longitude"].iloc[0]), None)
    return table, header, {"flagged": {"ghi_w_m2": table["ghi_flag"] != 0}}


def _srml(path, text):
    return _pvlib("read_srml")(StringIO(text)), None, {}


def _midc(path, text):
    from pvlib.iotools import midc

    known = {theirs: ours for site in midc.MIDC_VARIABLE_MAP.values()
             for theirs, ours in site.items()}
    names = text[:text.index("\n")].split(",")
    is_raw = "DOY" in names
    table = _pvlib("read_midc")(StringIO(text), known, raw_data=is_raw, usecols=range(len(names)))
    return table, None, {}


def _cams(path, text):
    table, meta = _pvlib("read_cams")(StringIO(text))
    if not meta.get("Time reference", "Universal").startswith("Universal"):
        raise SunError(f"{path}: its times are '{meta['Time reference']}'; have the file made with"
                       " universal time")
    return table, Header(meta["latitude"], meta["longitude"], meta["altitude"]), {}


def _pvgis_tmy(path, text):
    import pandas as pd

    is_json = text.lstrip().startswith("{")
    source = StringIO(text) if is_json else BytesIO(text.encode())
    table, meta = _pvlib("read_pvgis_tmy")(source, "json" if is_json else "csv")
    inputs = meta["inputs"]
    place = inputs.get("location", inputs)
    offset_h = place.get("irradiance_time_offset", place.get("irradiance time offset", 0.0))
    table.index = table.index + pd.Timedelta(hours=float(offset_h))
    return table, _pvgis_header(place), {}


def _pvgis_hourly(path, text):
    is_json = text.lstrip().startswith("{")
    table, meta = _pvlib("read_pvgis_hourly")(StringIO(text), "json" if is_json else "csv")
    inputs = meta["inputs"]
    tilt_deg, azimuth_deg = _pvgis_plane(path, inputs)
    if "poa_global" not in table:
        kinds = ("poa_direct", "poa_sky_diffuse", "poa_ground_diffuse")
        table["poa_global"] = sum(table[kind] for kind in kinds)
    header = _pvgis_header(inputs.get("location", inputs))
    if tilt_deg == 0.0:  # level ground: light of any panel can be told from it
        names = {"poa_global": "ghi", "poa_sky_diffuse": "dhi"}
        return table.rename(columns=names), header, {}
    # PVGIS counts from south, here azimuth is from north.
    told = (f"The file's light is that of a plane with tilt {tilt_deg:g} deg, azimuth"
            f" {azimuth_deg + 180.0:g} deg: see that it is the panel's.")
    return table, header, {"notes": [told]}


def _pvgis_plane(path, inputs):
    """(tilt, azimuth from south) of the file's plane [deg]."""
    fixed = inputs.get("mounting_system", {}).get("fixed", {})
    texts = [fixed[name]["value"] if fixed else str(inputs.get(name.capitalize(), ""))
             for name in ("slope", "azimuth")]
    found = [re.match(r"-?\d+(\.\d+)?", str(text)) for text in texts]
    if not all(found):
        raise SunError(f"{path}: no fixed plane in its head; have PVGIS make the file for a fixed"
                       " plane, with slope 0 for light on level ground")
    return tuple(float(one.group()) for one in found if one)


def _pvgis_header(place):
    return Header(float(place["latitude"]), float(place["longitude"]), float(place["elevation"]))


def _usual_header(meta, name):
    return Header(meta["latitude"], meta["longitude"], meta["altitude"], float(meta["TZ"]), name)


_LINE = r"[^\n]*\n"
FORMATS = (
    Format("EPW", "read_epw", "LOCATION,", _epw, "start", 9,
           file_label="end"),
    Format("TMY3", "read_tmy3", _LINE + r"Date \(MM/DD/YYYY\),Time \(HH:MM\)", _tmy3, "end", 3),
    Format("SolarAnywhere", "read_solaranywhere", _LINE + r"ObservationTime\(LST\)",
           _solaranywhere, "middle", 3),
    Format("TMY2", "read_tmy2", r" *\d{5} [^\n]* [NS] +\d+ +\d+ +[EW] +\d+ +\d+ +-?\d+\s*$",
           _tmy2, "start", 2, file_label="end"),
    Format("NSRDB", "read_nsrdb_psm4", _LINE * 2 + "Year,Month,Day,Hour,Minute", _nsrdb,
           "moment", 4),
    Format("BSRN", "read_bsrn", r"\*[A-Z]0001", _bsrn, "start", r"\*[A-Z]0100", lines_a_row=2),
    Format("CRN", "read_crn", r" *\d{5} \d{8} +\d{1,4} \d{8} +\d{1,4} ", _crn, "end", 1),
    Format("SOLRAD", "read_solrad",
           _LINE + r" *-?\d+(\.\d+)? +-?\d+(\.\d+)? +-?\d+(\.\d+)? +-?\d+\s", _solrad, "end", 3),
    Format("SRML", "read_srml", r"\d+\t\d{4}\t\d{3,4}\t0", _srml, "start", 2, NUMBERED,
           file_label="end"),
    Format("MIDC", "read_midc", r"DATE \(MM/DD/YYYY\),|[^,\n]*,Year,DOY,", _midc, "end", 2,
           MIDC_NAMES),
    Format("CAMS", "read_cams", r"#[\s\S]*^# Observation period;", _cams, "start",
           "# Observation period;"),
    Format("PVGIS typical year", "read_pvgis_tmy",
           r'Latitude \(decimal degrees\)[\s\S]*^time\(UTC\),|\s*\{[\s\S]*"tmy_hourly"\s*:',
           _pvgis_tmy, "moment", r"time\(UTC\),"),
    Format("PVGIS hourly", "read_pvgis_hourly",
           r'Latitude \(decimal degrees\)[\s\S]*^time,|\s*\{[\s\S]*"hourly"\s*:',
           _pvgis_hourly, "moment", "time,", {**USUAL, "poa_w_m2": "poa_global"}),
)
