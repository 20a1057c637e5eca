"""Means over minutes to an hour, bridged to finer steps by the clearness index.

It owns the shape between the values of a file whose rows are far apart: the
clearness index (the value over the clear-sky model's) runs in straight lines
from interval to interval, times the clear sky of each fine step, scaled so that
each interval keeps its mean. It must not know files, notes or the panel.

No cloud's edge within an interval comes back so: a broken sky looks even.
"""

import numpy as np

# Above this a clearness index says nothing: the sun stands at the horizon, or
# the file does not fit the place. A guess; edges of clouds reach about 1.5.
MOST_INDEX = 2.0
# A mean over some minutes stays below what arrives outside of the atmosphere;
# the rest is room for times and places that are a little off, a guess.
MOST_OF_SPACE = 1.2
TWILIGHT_W_M2 = 20.0  # with the sun at the horizon; as light that is taken for night's


class Slots:
    """Fine steps and the intervals that they lie in."""

    def __init__(self, times_s, first_s, step_s, count):
        """times_s: of the fine steps; count intervals of step_s follow each other from first_s."""
        self.times_s = np.asarray(times_s, dtype=float)
        index = np.floor((self.times_s - first_s) / step_s).astype(int)
        self.inside = (index >= 0) & (index < count)
        self.index = np.where(self.inside, index, 0)
        self.count = count
        self.middle_s = first_s + (np.arange(count) + 0.5) * step_s

    def means(self, values):
        """Mean of fine values over each interval, nan where it has no step."""
        steps = self._sums(np.ones_like(self.times_s))
        with np.errstate(invalid="ignore"):
            return self._sums(values) / steps

    def centres_s(self, weights):
        """Time of each interval's weight, its middle where it has none."""
        sums = self._sums(weights)
        moments = self._sums(weights * self.times_s)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(sums > 0.0, moments / sums, self.middle_s)

    def spread(self, values):
        """The value of its interval at each step, nan outside."""
        return np.where(self.inside, values[self.index], np.nan)

    def _sums(self, values):
        weights = np.where(self.inside, values, 0.0)
        return np.bincount(self.index, weights, minlength=self.count)


def bridged(values, slots, clear, momentary=False):
    """Fine values [W/m2] whose mean over each interval is the interval's, nan where it has none.

    values: one an interval, nan where there is none. clear: clear sky at each
    fine step [W/m2]. momentary: values are those of the middles, not means; then
    the index alone is kept. Where the sun is down all is 0, but an interval
    without any sun keeps its value, to be judged.
    """
    values = np.where(values < 0.0, 0.0, values)
    if momentary:
        values = _means_of_moments(values, slots, clear)
    usual = slots.means(clear)
    with np.errstate(divide="ignore", invalid="ignore"):
        index = np.where(usual > 0.0, values / usual, np.nan)
    is_steady = np.isfinite(index) & (index <= MOST_INDEX)
    fine = np.zeros_like(slots.times_s)
    if is_steady.any():
        knots_s = slots.centres_s(clear)[is_steady]
        fine = np.interp(slots.times_s, knots_s, index[is_steady]) * clear
        fine = fine * slots.spread(_scale(values, slots.means(fine)))
    level = np.where(is_steady | ~(values > 0.0), np.nan, _level(values, slots, clear))
    flat = np.where((clear > 0.0) | (slots.spread(usual) <= 0.0), slots.spread(level), 0.0)
    fine = np.where(np.isfinite(slots.spread(level)), flat, fine)
    return np.where(np.isfinite(slots.spread(values)), fine, np.nan)


def _means_of_moments(values, slots, clear):
    """Means over intervals whose index is that of their middles."""
    then = np.interp(slots.middle_s, slots.times_s, clear)
    usual = slots.means(clear)
    with np.errstate(divide="ignore", invalid="ignore"):
        index = np.where(then > 0.0, values / then, np.nan)
    is_known = np.isfinite(index) & (index <= MOST_INDEX)
    if not is_known.any():
        return values
    index = np.where(is_known, index,
                     np.interp(slots.middle_s, slots.middle_s[is_known], index[is_known]))
    # with the sun below the horizon just then, the neighbours tell the index
    is_day = (usual > 0.0) & np.isfinite(values) & (values <= TWILIGHT_W_M2 + MOST_INDEX * then)
    return np.where(is_day, index * usual, values)


def _scale(wanted, got):
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(got > 0.0, wanted / got, 0.0)


def _level(values, slots, clear):
    """Even value with the sun up that keeps each interval's mean."""
    share = slots.means((clear > 0.0).astype(float))
    return np.where(share > 0.0, values / np.where(share > 0.0, share, 1.0), values)


def beyond_space(values, slots, space):
    """Intervals with more light on level ground than comes from the sun at all: a list.

    space: irradiance outside of the atmosphere on level ground at each fine step [W/m2].
    """
    with np.errstate(invalid="ignore"):
        most = MOST_OF_SPACE * slots.means(space) + TWILIGHT_W_M2
        return [int(index) for index in np.flatnonzero(values > most)]


def parts(columns, slots, shapes, cos_zenith, momentary=False):
    """{column: fine values [W/m2]} of the columns of irradiance of a file.

    columns: {column: values, one an interval}. shapes: {column: clear sky at each
    step}. Where direct light is given it is bridged, kept within what global
    leaves for it, and diffuse is the rest: ghi = dni cos(zenith) + dhi.
    """
    fine = {name: bridged(columns[name], slots, shapes[name], momentary)
            for name in shapes if name in columns}
    if "dni_w_m2" not in fine or "ghi_w_m2" not in fine:
        return fine
    ghi, dni = fine["ghi_w_m2"], fine["dni_w_m2"]
    up = np.clip(cos_zenith, 0.0, None)
    with np.errstate(divide="ignore", invalid="ignore"):
        dni = np.where(up > 0.0, np.minimum(dni, ghi / up), np.where(np.isfinite(dni), 0.0, dni))
    # what is below 0 here is rounding of the division above
    return {"ghi_w_m2": ghi, "dni_w_m2": dni, "dhi_w_m2": np.maximum(ghi - dni * up, 0.0)}
