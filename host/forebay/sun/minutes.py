"""Readings laid on whole minutes, and gaps in them.

By day a gap in irradiance is bridged in a straight line if it is short, and
an error if it is long. Gaps in air temperature and wind are bridged whatever
their length and held at the ends: they move the result by little.
"""

from pathlib import Path
from statistics import median

from forebay.sun.errors import SunError

SECONDS_PER_MINUTE = 60
LONGEST_BRIDGE = 10  # minutes without a usable value that are bridged
FINE_S = 90.0  # rows so close are a value a minute: with room for a stray second
COARSEST_S = 3600.0  # beyond it the clearness index says little of what lay between
NOTED_BRIDGES = 4  # told one by one; more are counted


class Minutes:
    """Means over whole minutes; a minute is counted from 1970 UTC."""

    def __init__(self, readings, notes):
        self.source = readings.source  # as the user named it: for errors
        self.label = Path(readings.source).name  # for notes
        self.first_line = {}  # minute -> line of its first row
        self.columns = {}  # name -> {minute: mean of its usable values}
        distance_s = spacing_s(readings)
        if distance_s < SECONDS_PER_MINUTE:
            notes.append(f"Rows are {distance_s:g} s apart: averaged to minutes.")
        minutes = [int(time_s // SECONDS_PER_MINUTE) for time_s in readings.times_s]
        for minute, line in zip(minutes, readings.lines, strict=True):
            self.first_line.setdefault(minute, line)
        for name, values in readings.columns.items():
            self.columns[name] = _means(minutes, values)
        self.first, self.last = minutes[0], minutes[-1]

    def line_at(self, minute):
        """Line of the first row of a minute, or of the one before it."""
        return self.first_line[line_before(self, minute)]

    def window(self, name, start, count):
        """Values of a column from minute `start`, None where there is none to use."""
        column = self.columns[name]
        return [column.get(minute) for minute in range(start, start + count)]


def spacing_s(readings):
    """Median distance of the rows [s]; SunError if it is beyond COARSEST_S."""
    times_s = readings.times_s
    if len(times_s) < 2:
        raise SunError(f"{readings.source}: one row is no day; give one row a minute or more")
    distance_s = median(b - a for a, b in zip(times_s, times_s[1:], strict=False))
    if distance_s > COARSEST_S:
        raise SunError(
            f"{readings.source}: rows are {distance_s / SECONDS_PER_MINUTE:.3g} min apart; allowed"
            " are 60 min or less: give data of that resolution"
        )
    return distance_s


def line_before(minutes, minute):
    """The last minute up to `minute` that has a row; the first one where there is none."""
    minute = min(max(minute, min(minutes.first_line)), minutes.last)
    while minute not in minutes.first_line:
        minute -= 1
    return minute


def _means(minutes, values):
    sums = {}
    for minute, value in zip(minutes, values, strict=True):
        if value is not None:
            total, count = sums.get(minute, (0.0, 0))
            sums[minute] = (total + value, count + 1)
    return {minute: total / count for minute, (total, count) in sums.items()}


def gaps(values):
    """[(first index, index after the last)] of the runs of None."""
    runs = []
    start = None
    for index, value in enumerate([*values, 0.0]):
        if value is None and start is None:
            start = index
        elif value is not None and start is not None:
            runs.append((start, index))
            start = None
    return runs


def bridged(values):
    """The list with each None on the straight line between its neighbours.

    At the ends the nearest value is held; there must be at least one.
    """
    filled = list(values)
    for start, stop in gaps(values):
        before = filled[start - 1] if start else filled[stop]
        after = filled[stop] if stop < len(filled) else before
        for index in range(start, stop):
            share = (index - start + 1) / (stop - start + 1)
            filled[index] = before + (after - before) * share
    return filled


def day_values(minutes, name, start, daylight):
    """(values of one day and night, gaps by day) of a column of irradiance.

    start: minute of index 0. daylight: (first index by day, index after the
    last, count of points). Outside of the day and of the file's rows: 0.
    """
    sunrise, sunset, count = daylight
    values = minutes.window(name, start, count)
    for index in range(count):
        by_day = sunrise <= index < sunset
        if not by_day or not minutes.first <= start + index <= minutes.last:
            values[index] = 0.0
    return values, gaps(values)


def refuse_long_gaps(minutes, found, start, clock):
    """SunError if a gap by day is longer than LONGEST_BRIDGE, naming its rows.

    found: {column: [(first index, index after the last)]}; clock: index -> local time.
    """
    for name, runs in found.items():
        for first, after in runs:
            if after - first > LONGEST_BRIDGE:
                rows = _rows(minutes, start + first, start + after)
                raise SunError(
                    f"{minutes.source}:{rows}: no usable {name} by day for"
                    f" {after - first} min ({clock(first)} to {clock(after - 1)} local); allowed"
                    f" are {LONGEST_BRIDGE} min: mend these rows or choose a day with --date"
                )


def note_bridges(minutes, found, start, clock, notes):
    """Append one sentence for each bridged gap, one for all beyond the first few."""
    columns = {}
    for name, runs in found.items():
        for run in runs:
            columns.setdefault(run, []).append(name)
    ordered = sorted(columns)
    for first, after in ordered[:NOTED_BRIDGES]:
        notes.append(
            f"Bridged {after - first} min without usable {', '.join(columns[first, after])},"
            f" {clock(first)} to {clock(after - 1)} local"
            f" ({minutes.label}:{_rows(minutes, start + first, start + after)})."
        )
    rest = ordered[NOTED_BRIDGES:]
    if rest:
        total = sum(after - first for first, after in rest)
        notes.append(f"Bridged {len(rest)} further gaps, {total} min together.")


def _rows(minutes, first, after):
    """Lines around the minutes first..after-1, "902-914": the rows before and after."""
    after = min(after, minutes.last)
    while after not in minutes.first_line and after < minutes.last:
        after += 1
    return f"{minutes.line_at(first - 1)}-{minutes.line_at(after)}"
