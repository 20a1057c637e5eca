"""Readings laid on a regular row of intervals, as arrays.

It owns where in time a row's value belongs and what a mean over an interval is;
it must not know the sun.
"""

import numpy as np

# Where in its interval the time of a row stands.
START, MIDDLE, END = "start", "middle", "end"
MOMENT = "moment"  # no mean: the value of that moment
SHIFT = {START: 0.5, MIDDLE: 0.0, END: -0.5, MOMENT: 0.0}  # to the middle, in intervals


class Intervals:
    """The rows of a file, whose intervals follow each other from first_s."""

    def __init__(self, readings, step_s):
        """step_s: from row to row [s]; a row that is missing leaves nan."""
        self.step_s = step_s
        self.momentary = readings.label == MOMENT
        middles_s = np.array(readings.times_s) + SHIFT[readings.label] * step_s
        self.first_s = float(middles_s[0]) - step_s / 2
        place = ((middles_s - self.first_s) // step_s).astype(int)
        self.count = int(place[-1]) + 1
        self.lines = dict(zip(place.tolist(), readings.lines, strict=True))
        self.columns = {name: binned(place, values, self.count)
                        for name, values in readings.columns.items()}

    @property
    def middles_s(self):
        """Middle of each interval [s since 1970 UTC]."""
        return self.first_s + (np.arange(self.count) + 0.5) * self.step_s

    def part(self, from_s, until_s):
        """(time of the first, {column: values}) of the intervals that reach into a time."""
        first = int(np.clip((from_s - self.first_s) // self.step_s, 0, self.count))
        after = int(np.clip(-((self.first_s - until_s) // self.step_s), first, self.count))
        cut = {name: values[first:after] for name, values in self.columns.items()}
        return self.first_s + first * self.step_s, cut


def binned(place, values, count):
    """Mean of the usable values at each place 0..count-1, nan where there is none."""
    values = np.array(values, dtype=float)
    is_usable = np.isfinite(values) & (place >= 0) & (place < count)
    chosen = place[is_usable]
    sums = np.bincount(chosen, values[is_usable], minlength=count)
    counts = np.bincount(chosen, minlength=count)
    return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)
