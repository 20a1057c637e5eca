"""The level of the upper tank at any moment, as a weighted mean of rows near it.

A row is the mean of its scans, so it shows the level of its middle; between two middles
the level is taken to go straight.  Where water begins or ceases to move it bends: there
the row at rest says what the level was, or, where that has too few scans, the rows beyond
the bend drawn on to it.  What is noise in a row is kept by row, so that two levels of one
row share it.
"""

import numpy as np

from forebay.balance.instruments import HALF_WIDTH, Meters
from forebay.balance.measured import Measured
from forebay.balance.spans import HOLE_S, keys_of
from forebay.shelf import Rows
from keeper import channels as ch
from keeper.modes import MAINTENANCE, STANDSTILL

STEP_S = 0.05  # of the level at a restart of the board: half a scan
SHARE_DIGITS = 9  # a moment that is a knot's has no part of another
REST_STATES = (STANDSTILL, MAINTENANCE)


class Levels:
    """Knots on the axis, each a weighted mean of at most two rows.

    gaps_s: (from, to) [s] of the middles of rows with a hole between them; count: of the rows
    whose level can be trusted.
    """

    def __init__(self, rows: Rows, ends_s: np.ndarray, seconds: np.ndarray, meters: Meters,
                 height_m: float):
        """Take rows, their ends on the axis and lengths [s], the meters, the tank's height [m]."""
        self.meters, self.height_m = meters, height_m
        level_m = rows.si(ch.LEVEL_MM)
        place = np.flatnonzero(np.isfinite(level_m))
        self.count = len(place)
        self.level_m, self.places = level_m[place], place
        self.noise_m = meters.level_noise_m(rows.scans[place])
        ends, length = ends_s[place], seconds[place]
        self.middles_s = ends - length / 2
        begins = ends - length
        key, self.at_rest = keys_of(rows)[place], np.isin(rows.state[place], REST_STATES)
        hole = begins[1:] - ends[:-1] > HOLE_S
        gaps = np.flatnonzero(hole)
        self.gaps_s = np.stack([self.middles_s[gaps], self.middles_s[gaps + 1]], -1)
        self._joined = ~hole & (np.diff(key) == 0)
        self._set_knots(begins, key)

    def _set_knots(self, begins_s, key):
        each = np.arange(self.count)
        at_s, rows, weights = [self.middles_s], [np.stack([each, each], -1)], []
        # What happened while the board was off is a step, after its last row.
        first = np.flatnonzero(np.diff(key)) + 1
        for row, late_s in ((first - 1, 0.0), (first, STEP_S)):
            at_s.append(begins_s[first] + late_s)
            rows.append(np.stack([row, row], -1))
        alone = sum(len(one) for one in rows)
        weights, unsure_m = [np.tile([1.0, 0.0], (alone, 1))], [np.zeros(alone)]
        bends = np.flatnonzero(self._joined & (self.at_rest[1:] != self.at_rest[:-1]))
        for still, step in ((bends[self.at_rest[bends]], 1),
                            (bends[~self.at_rest[bends]] + 1, -1)):
            at_s.append(begins_s[np.maximum(still, still + step)])
            found = self._bent(still, still + step, still + 2 * step, at_s[-1])
            for mine, one in zip((rows, weights, unsure_m), found, strict=True):
                mine.append(one)
        order = np.argsort(np.concatenate(at_s), kind="stable")
        self._at_s, self._rows, self._weights, self._unsure_m = (
            np.concatenate(one)[order] for one in (at_s, rows, weights, unsure_m))
        self._knots_m = (self._weights * self.level_m[self._rows]).sum(axis=1)

    def _bent(self, still, near, far, at_s):
        """Return (rows, weights, what else is unsure [m]) of bends [s] beside rows at rest.

        near, far: the rows beyond the bend, through which a line is drawn on to it.  How
        steadily water began to move they do not show: their line is off by no more than
        half of what it goes on.
        """
        inside = (far >= 0) & (far < self.count)
        far = np.where(inside, far, near)
        drawn = inside & ~self.at_rest[far] & self._joined[
            np.clip(np.minimum(near, far), 0, max(self.count - 2, 0))]
        apart_s = np.where(drawn, self.middles_s[far] - self.middles_s[near], 1.0)
        on = np.where(drawn, (self.middles_s[near] - at_s) / apart_s, 0.0)
        unsure_m = HALF_WIDTH * 0.5 * np.abs(on * (self.level_m[far] - self.level_m[near]))
        beyond_m = np.hypot(np.hypot((1 + on) * self.noise_m[near], on * self.noise_m[far]),
                            unsure_m)
        by_line = drawn & (beyond_m < self.noise_m[still])
        weights = np.stack([np.where(by_line, 1 + on, 1.0), np.where(by_line, -on, 0.0)], -1)
        return (np.where(by_line[:, None], np.stack([near, far], -1),
                         np.stack([still, still], -1)),
                weights, np.where(by_line, unsure_m, 0.0))

    def at(self, at_s: float) -> Measured:
        """Return the level [m] at a moment on the axis [s]."""
        after = min(max(int(np.searchsorted(self._at_s, at_s)), 1), len(self._at_s) - 1)
        before = after - 1 if len(self._at_s) > 1 else after
        span_s = self._at_s[after] - self._at_s[before]
        share = min(max((at_s - self._at_s[before]) / span_s, 0.0), 1.0) if span_s > 0 else 0.0
        share = round(share, SHARE_DIGITS)
        metres = float(self._knots_m[before] * (1 - share) + self._knots_m[after] * share)
        parts = dict(self.meters.level(metres, self.height_m).parts)
        for knot, part in ((before, 1 - share), (after, share)):
            for row, weight in zip(self._rows[knot], self._weights[knot], strict=True):
                noise_m = float(part * weight * self.noise_m[row])
                if noise_m:
                    source = ("level of row", int(self.places[row]))
                    parts[source] = parts.get(source, 0.0) + noise_m
            if part and self._unsure_m[knot]:
                parts["bend of the level", int(knot)] = float(part * self._unsure_m[knot])
        return Measured(metres, parts)
