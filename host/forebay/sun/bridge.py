"""A file of means over minutes to an hour, as if it held a value a minute.

It owns the interface of sun.minutes.Minutes for such a file: the window asks
for minutes and gets what sun.coarse makes of the intervals around them. It must
not know how a file is read.
"""

from pathlib import Path

import numpy as np

from forebay.sun import coarse, plane, position
from forebay.sun.errors import SunError
from forebay.sun.intervals import END, MIDDLE, MOMENT, START, Intervals
from forebay.sun.minutes import SECONDS_PER_MINUTE, line_before
from forebay.sun.readings import IRRADIANCE

SECONDS_PER_HOUR = 3600
SPAN = {  # how a value belongs to the time that the file gives it
    START: "a mean from its time on",
    MIDDLE: "a mean around its time",
    END: "a mean up to its time",
    MOMENT: "the light at its time",
}


class Bridge:
    """Minutes of a coarse file at a station; a minute is counted from 1970 UTC."""

    def __init__(self, readings, step_s, station, panel, notes):
        """step_s: from row to row [s]; panel: (tilt, azimuth [deg], albedo) for its own plane."""
        self.source = readings.source
        self.label = Path(readings.source).name
        self.station = station
        self.panel = panel
        self._intervals = rows = Intervals(readings, step_s)
        self.columns = rows.columns
        self.first = int(-(-rows.first_s // SECONDS_PER_MINUTE))
        self.last = int((rows.first_s + rows.count * step_s) // SECONDS_PER_MINUTE) - 1
        self.first_line = {self._minute(place): line for place, line in rows.lines.items()}
        self._known = {}  # (start, count) -> {column of irradiance: its minutes}
        notes.append(told(readings, step_s))

    def window(self, name, start, count):
        """Values of a column from minute `start`, None where there is none to use."""
        if name not in IRRADIANCE:
            return self._weather(name, start, count)
        if (start, count) not in self._known:
            self._known[start, count] = self._sun(start, count)
        values = self._known[start, count][name]
        return [float(value) if np.isfinite(value) else None for value in values]

    def line_at(self, minute):
        """Line of the row that a minute's values come from."""
        return self.first_line[line_before(self, minute)]

    def _minute(self, place):
        rows = self._intervals
        return int(-(-(rows.first_s + place * rows.step_s) // SECONDS_PER_MINUTE))

    def _sun(self, start, count):
        """The file's irradiance over some minutes, from whole intervals and one more around."""
        rows = self._intervals
        from_s, until_s = (minute * SECONDS_PER_MINUTE for minute in (start, start + count))
        first_s, cut = rows.part(from_s - rows.step_s, until_s + rows.step_s)
        columns = {name: cut[name] for name in IRRADIANCE if name in cut}
        intervals = len(next(iter(columns.values())))
        begin = min(start, int(-(-first_s // SECONDS_PER_MINUTE)))
        end = max(start + count, int((first_s + intervals * rows.step_s) // SECONDS_PER_MINUTE))
        times_s = np.arange(begin, end) * SECONDS_PER_MINUTE
        slots = coarse.Slots(times_s, first_s, rows.step_s, intervals)
        sky = Sky(times_s, self.station, self.panel)
        self._refuse_beyond_space(columns, slots, sky, first_s)
        fine = coarse.parts(columns, slots, sky.shapes(), sky.cos_zenith, rows.momentary)
        return {name: values[start - begin:start - begin + count]
                for name, values in fine.items()}

    def _refuse_beyond_space(self, columns, slots, sky, first_s):
        if "ghi_w_m2" not in columns:
            return
        values = columns["ghi_w_m2"]
        for place in coarse.beyond_space(values, slots, sky.space()):
            minute = int((first_s + place * self._intervals.step_s) // SECONDS_PER_MINUTE) + 1
            raise SunError(
                f"{self.source}:{self.line_at(minute)}: ghi_w_m2 is {values[place]:.0f} W/m2,"
                f" more than comes from the sun at that time at {self.station}; the zone of the"
                " times or the station is wrong: state it with --station"
                " latitude,longitude,height (east positive)"
            )

    def _weather(self, name, start, count):
        """Air or wind in straight lines between the middles of the intervals."""
        values = self.columns[name]
        is_known = np.isfinite(values)
        if not is_known.any():
            return [None] * count
        times_s = np.arange(start, start + count) * SECONDS_PER_MINUTE
        line = np.interp(times_s, self._intervals.middles_s[is_known], values[is_known])
        return [float(value) if self.first <= minute <= self.last else None
                for minute, value in enumerate(line, start)]


class Sky:
    """The clear sky at a station at some times [s since 1970 UTC]."""

    def __init__(self, times_s, station, panel):
        self.times = position.utc_times(times_s)
        self.sun = position.sun(times_s, station)
        self.panel = panel
        self.clear = plane.clear_sky(self.sun, self.times, station.height_m)
        self.cos_zenith = np.cos(np.radians(self.sun["apparent_zenith"].to_numpy()))

    def shapes(self):
        """{column: clear-sky irradiance at each time [W/m2]}."""
        ghi, dni, dhi = self.clear
        poa = plane.plane_of_array(self.clear, self.sun, *self.panel)
        return {"ghi_w_m2": ghi, "dni_w_m2": dni, "dhi_w_m2": dhi, "poa_w_m2": poa}

    def space(self):
        """Irradiance outside of the atmosphere on level ground [W/m2]."""
        return plane.outside(self.times) * np.clip(self.cos_zenith, 0.0, None)


def told(readings, step_s):
    """The note on a file's intervals and how they are bridged."""
    label = readings.file_label or readings.label
    minutes = step_s / SECONDS_PER_MINUTE
    every = {60: "Hourly", 30: "Half-hourly"}.get(minutes, f"{minutes:.3g}-minute")
    within = "the hour" if minutes == 60 else f"the {minutes:.3g} min"
    return (f"{every} values, each {SPAN[label]}, bridged to minutes by the clearness index: no"
            f" cloud's edge within {within} is in them.")
