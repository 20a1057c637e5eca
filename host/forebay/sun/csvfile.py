"""Plain CSV: time with zone, then irradiance in W/m2, and perhaps air and wind.

    # lines with a hash are comments
    time,ghi_w_m2,dni_w_m2,dhi_w_m2,air_degC,wind_m_s
    2016-01-01T14:15:00Z,1.2,0.0,1.1,-20.4,1.5

The first column is the time in ISO 8601 with Z or an offset. Rows may be up to
an hour apart; then `time_start` or `time_end` as its name tells which end of the
mean it is, any other name that it is the middle. Irradiance is
`ghi_w_m2`, with or without both `dni_w_m2` and `dhi_w_m2`, or `poa_w_m2`
(in the plane of the panel). `air_degC` and `wind_m_s` may follow, and a
quality column `qc_` for any of them (`qc_ghi`, `qc_air`: 0 is good, anything
else flags the value). One column of irradiance with a name of its own, or a
file of two columns with no names at all, is taken as GHI.
"""

import re
from datetime import datetime

from forebay.sun.errors import SunError, quoted
from forebay.sun.readings import IRRADIANCE, LIMITS, Readings, text_lines

LABELS = {"time_start": "start", "time_end": "end"}  # of sun.intervals; else the middle
# A name that states W/m2 and nothing else: "solar_w_m2", "W/m2", "irradiance".
UNNAMED_KIND = re.compile(r"(.*[^a-z])?w[_/ ]?m(2|\^2|²)|irradiance", re.IGNORECASE)
TIME_HELP = "write it as 2016-01-01T12:00:00Z or with an offset, 2016-01-01T05:00:00-07:00"


def read(path, lines=None):
    """Readings of one CSV; SunError naming the row if one is bad."""
    lines = text_lines(path) if lines is None else lines
    rows = [
        (line, [field.strip().strip('"') for field in text.split(",")])
        for line, text in enumerate(lines, 1)
        if text.strip() and not text.lstrip().startswith("#")
    ]
    if not rows:
        raise SunError(f"{path}: no rows; give a CSV with a time and irradiance in W/m2")
    notes = []
    head_line = rows[0][0]
    names = _header(path, rows, notes)
    plan = _plan(path, head_line, names, notes)
    readings = Readings(path, plan)
    readings.notes = notes
    readings.label = LABELS.get(names[0], readings.label)
    for line, fields in rows:
        _add_row(readings, line, fields, names, plan)
    if not readings.times_s:
        raise SunError(f"{path}: names of columns but no rows; give one row a minute")
    return readings


def _header(path, rows, notes):
    """Names of the columns; takes the row of names off the rows."""
    first = rows[0][1]
    if _maybe_moment(first[0]) is not None:
        if len(first) != 2:
            raise SunError(
                f"{path}:{rows[0][0]}: {len(first)} columns and no names for them; put a line"
                " such as 'time,ghi_w_m2,air_degC' above the first row"
            )
        notes.append("The file names no columns: its one column of values is taken as GHI.")
        return ["time", "ghi_w_m2"]
    names = rows.pop(0)[1]
    known = [name for name in names if name in LIMITS]
    if len(set(known)) != len(known):
        raise SunError(
            f"{path}: a column is named twice: {quoted(','.join(names))}; keep one of each")
    return names


def _plan(path, line, names, notes):
    """{column: (index of the value, index of its flag or None)} of what is used."""
    places = {name: names.index(name) for name in names[1:] if name in LIMITS}
    if not any(name in places for name in ("ghi_w_m2", "poa_w_m2")):
        places["ghi_w_m2"] = _unnamed_kind(path, line, names, places, notes)
    if "poa_w_m2" in places:
        places = {k: v for k, v in places.items() if k == "poa_w_m2" or k not in IRRADIANCE}
    elif ("dni_w_m2" in places) != ("dhi_w_m2" in places):
        raise SunError(
            f"{path}:{line}: dni_w_m2 and dhi_w_m2 belong together and one is missing; add it,"
            " or remove the other, and both are worked out from ghi_w_m2"
        )
    flags = {name: _maybe_flag(names, name) for name in places}
    used = {0, *places.values(), *flags.values()}
    ignored = [name for index, name in enumerate(names) if index not in used]
    if ignored:
        notes.append(f"Columns not used: {', '.join(ignored)}.")
    return {name: (place, flags[name]) for name, place in places.items()}


def _unnamed_kind(path, line, names, places, notes):
    free = [
        index
        for index, name in enumerate(names)
        if index and name not in places and UNNAMED_KIND.fullmatch(name)
    ]
    if not free and len(names) == 2 and not places and names[1].isalpha():
        free = [1]  # one column of values, whose name states no other unit
    if len(free) != 1 or any(name in places for name in IRRADIANCE):
        raise SunError(
            f"{path}:{line}: no column ghi_w_m2 or poa_w_m2 among {quoted(','.join(names))};"
            " name the column of irradiance in W/m2 so"
        )
    notes.append(f"Column {quoted(names[free[0]])} does not say which irradiance it is: taken as"
                 " GHI.")
    return free[0]


def _maybe_flag(names, name):
    flag = "qc_" + name.split("_")[0]
    return names.index(flag) if flag in names else None


def _add_row(readings, line, fields, names, plan):
    if len(fields) != len(names):
        raise SunError(
            f"{readings.source}:{line}: {len(fields)} fields where the file has {len(names)}"
            f" columns ({quoted(','.join(names))}); separate fields by commas, leave empty what is"
            " missing"
        )
    moment = _maybe_moment(fields[0])
    if moment is None:
        raise SunError(
            f"{readings.source}:{line}: cannot read the time {quoted(fields[0])}; {TIME_HELP}"
        )
    if moment.tzinfo is None:
        raise SunError(
            f"{readings.source}:{line}: no zone in time {quoted(fields[0])}; {TIME_HELP}")
    values = [
        readings.judged(
            line, name, fields[place], _is_flagged(readings, line, names, fields, flag)
        )
        for name, (place, flag) in plan.items()
    ]
    readings.add(line, moment, values)


def _is_flagged(readings, line, names, fields, flag):
    return flag is not None and readings.number(line, names[flag], fields[flag]) != 0


def _maybe_moment(text):
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None
