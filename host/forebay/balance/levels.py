"""The level of the upper tank at any moment, as a weighted mean of rows near it.

A row is the mean of its scans, so it shows the level of its middle; between two middles
the level is taken to go straight.  Where water begins or ceases to move it bends: there
the row at rest says what the level was, or, where that has too few scans, the rows beyond
the bend drawn on to it.  What is noise in a row is kept by row, so that two levels of one
row share it.
"""

from typing import NamedTuple

import numpy as np

from forebay.balance.instruments import HALF_WIDTH, Meters
from forebay.balance.measured import Measured, alike
from forebay.balance.rests import Rests
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
                 height_m: float, stretches: list[tuple[int, int]],
                 edges_s: list[tuple[float | None, float | None]] | None = None,
                 linked: np.ndarray | None = None):
        """Take rows, their ends on the axis and lengths [s], the meters, the tank's height [m].

        stretches: places [-] of the first and last row of each stretch without a hole;
        edges_s: where on the axis [s] a period cut it, else None; linked: mask of the rows
        in front of which no row with a level was left out, None = none ever was.
        """
        self.meters, self.height_m = meters, height_m
        level_m = rows.si(ch.LEVEL_MM)
        place = np.flatnonzero(np.isfinite(level_m))
        self.count = len(place)
        self.level_m = level_m[place]
        self._life, self._seq = rows.generation[place], rows.seq[place]
        self.scans = np.maximum(rows.scans[place], 1)
        self.noise_m = meters.level_noise_m(self.scans)
        ends, length = ends_s[place], seconds[place]
        self.middles_s = ends - length / 2
        begins = ends - length
        key, self.at_rest = keys_of(rows)[place], np.isin(rows.state[place], REST_STATES)
        self._rests = (begins, ends, key)
        hole = begins[1:] - ends[:-1] > HOLE_S
        linked = np.ones(len(rows), bool) if linked is None else linked
        gaps = np.flatnonzero(hole & linked[place][1:])
        self.gaps_s = np.stack([self.middles_s[gaps], self.middles_s[gaps + 1]], -1)
        self._joined = ~hole & (np.diff(key) == 0)
        self._set_shown(place, begins, ends, stretches,
                        edges_s or [(None, None)] * len(stretches))
        self._set_knots(begins, key)

    def _set_shown(self, place, begins_s, ends_s, stretches, edges_s):
        """Find from when to when readings show the level, by stretch, on the axis [s].

        shown_s: these; outer: for both sides the rows beyond which none lies.
        """
        shown_s, self._outer_rows = [], ([], [])
        for (first, last), edges in zip(stretches, edges_s, strict=True):
            low, high = np.searchsorted(place, [first, last + 1]).tolist()
            ends = []
            for side, (edge_s, row) in enumerate(zip(edges, (low, high - 1), strict=True)):
                if edge_s is not None:
                    ends.append(edge_s)
                elif low < high:
                    self._outer_rows[side].append(row)
                    ends.append(float(ends_s[row] if side else begins_s[row] + STEP_S))
            if len(ends) == 2 and self.count:
                shown_s.append(ends)
        self.shown_s = np.array(shown_s, float).reshape(-1, 2)
        self._outer_s = [ends_s[rows] if side else begins_s[rows] + STEP_S for side, rows in
                         enumerate(np.array(one, int) for one in self._outer_rows)]

    def _set_knots(self, begins_s, key):
        each = np.arange(self.count)
        first = np.flatnonzero(np.diff(key)) + 1
        bends = np.flatnonzero(self._joined & (self.at_rest[1:] != self.at_rest[:-1]))
        rising, falling = bends[self.at_rest[bends]], bends[~self.at_rest[bends]] + 1
        middles, bent = self._alone(each, self.middles_s), self._bends(rising, falling, begins_s)
        for still, (_, *bend) in zip((rising, falling), bent, strict=True):
            by_line = bend[1][:, 1] != 0
            for mine, one in zip(middles[1:], bend, strict=True):
                mine[still[by_line]] = one[by_line]
        knots = [
            middles,
            # Where a stretch begins and ends nothing bends, but no row lies beyond.
            self._outer(np.array(self._outer_rows[0], int), 1, self._outer_s[0]),
            self._outer(np.array(self._outer_rows[1], int), -1, self._outer_s[1]),
            # What happened while the board was off is a step, after its last row.
            self._alone(first - 1, begins_s[first]),
            self._alone(first, begins_s[first] + STEP_S),
            *bent,
        ]
        at_s, rows, weights, unsure_m = (np.concatenate(one)
                                         for one in zip(*knots, strict=True))
        order = np.argsort(at_s, kind="stable")
        self._at_s, self._rows = at_s[order], rows[order]
        self._weights, self._unsure_m = weights[order], unsure_m[order]
        self._knots_m = (self._weights * self.level_m[self._rows]).sum(axis=1)

    def _alone(self, row, at_s):
        """Return (at [s], rows, weights, what else is unsure [m]) of knots of one row each."""
        weights = np.tile([1.0, 0.0], (len(row), 1))
        return at_s, np.stack([row, row], -1), weights, np.zeros(len(row))

    def _drawn(self, near, step, at_s):
        """Return the same of lines through `near` and the row a step beyond; the mask of them.

        How steadily the water moves they do not show: a line is off by no more than half of
        what it goes on.
        """
        far = near + step
        inside = (far >= 0) & (far < self.count) & (near >= 0) & (near < self.count)
        near, far = (np.where(inside, one, 0) for one in (near, far))
        drawn = inside & ~self.at_rest[near] & ~self.at_rest[far]
        drawn[drawn] = self._joined[np.minimum(near, far)[drawn]]
        apart_s = np.where(drawn, self.middles_s[far] - self.middles_s[near], 1.0)
        on = np.where(drawn, (self.middles_s[near] - at_s) / apart_s, 0.0)
        unsure_m = HALF_WIDTH * 0.5 * np.abs(on * (self.level_m[far] - self.level_m[near]))
        return (at_s, np.stack([near, far], -1), np.stack([1 + on, -on], -1), unsure_m), drawn

    def rests(self) -> Rests:
        """Return the runs of rows at rest, if no row was left out."""
        return Rests.of(self.level_m, self.scans, *self._rests, self.at_rest,
                        self.meters.level_noise_m)

    def _outer(self, row, step, at_s):
        """Return the same of the outer ends of rows, a line where water moves."""
        return self._better(self._alone(row, at_s), *self._drawn(row, step, at_s))

    def _bends(self, rising, falling, begins_s):
        """Return the same of bends behind and before rows at rest.

        A row at rest between two bends has one level: the better of the two lines is both's.
        """
        after = self._bent(rising, 1, begins_s[np.minimum(rising + 1, self.count - 1)])
        before = self._bent(falling, -1, begins_s[falling])
        _, here, there = np.intersect1d(rising, falling, return_indices=True)
        noise_m = [np.hypot(*(weights * self.noise_m[rows]).T) + unsure_m
                   for _, rows, weights, unsure_m in (after, before)]
        is_after = noise_m[0][here] <= noise_m[1][there]
        for mine, other in zip(after[1:], before[1:], strict=True):
            other[there[is_after]] = mine[here[is_after]]
            mine[here[~is_after]] = other[there[~is_after]]
        return after, before

    def _bent(self, still, step, at_s):
        """Return the same of bends beside rows at rest, by the better of the two sides."""
        line, drawn = self._drawn(still + step, step, at_s)
        _, rows, weights, unsure_m = line
        noise_m = np.hypot(*(weights * self.noise_m[rows]).T)
        drawn &= np.hypot(noise_m, unsure_m) < self.noise_m[still]
        return self._better(self._alone(still, at_s), line, drawn)

    def _better(self, one, other, is_other):
        """Return knots, of the other where a mask says so."""
        return tuple(np.where(is_other.reshape(-1, *[1] * (b.ndim - 1)), b, a)
                     for a, b in zip(one, other, strict=True))

    def at(self, at_s: float) -> Measured:
        """Return the level [m] at a moment on the axis [s]."""
        seen = self.many(np.array([at_s]))
        parts, = seen.parts(np.ones((1, 1)), np.zeros(1), np.ones(1, bool))
        return Measured(float(seen.metres[0]), parts)

    def many(self, at_s: np.ndarray) -> "Seen":
        """Return the levels at moments on the axis [s]."""
        after = np.clip(np.searchsorted(self._at_s, at_s), 1, max(len(self._at_s) - 1, 1))
        after = np.minimum(after, len(self._at_s) - 1)
        before = np.maximum(after - 1, 0)
        span_s = self._at_s[after] - self._at_s[before]
        share = np.divide(at_s - self._at_s[before], span_s, out=np.zeros(len(at_s)),
                          where=span_s > 0)
        share = np.round(np.clip(share, 0.0, 1.0), SHARE_DIGITS)
        metres = self._knots_m[before] * (1 - share) + self._knots_m[after] * share
        both = [(before, 1 - share), (after, share)]
        rows = np.concatenate([self._rows[knot] for knot, _ in both], axis=1)
        weights = np.concatenate([self._weights[knot] * part[:, None] for knot, part in both],
                                 axis=1)
        bent = np.stack([self._rows[knot][:, 0] for knot, _ in both], -1)
        unsure_m = np.stack([self._unsure_m[knot] * part for knot, part in both], -1)
        return Seen(self, metres, rows, weights * self.noise_m[rows], bent, unsure_m)

    def calibrations(self, metres: np.ndarray) -> dict[str, np.ndarray]:
        """Return what the sensor's calibration does to levels [m], by source."""
        return self.meters.levels(metres, self.height_m)

    def names(self, title: str, rows: np.ndarray) -> list[tuple]:
        """Return what the noise of rows is called: a row's is its own in whatever balance."""
        return [(title, life, seq) for life, seq in zip(
            self._life[rows].tolist(), self._seq[rows].tolist(), strict=True)]


class Seen(NamedTuple):
    """Levels at some moments: metres [m]; rows, noise_m: the rows that each rests on and what
    their noise does to it [m]; bent, unsure_m: likewise what lines beyond a bend do.
    """

    levels: Levels
    metres: np.ndarray
    rows: np.ndarray
    noise_m: np.ndarray
    bent: np.ndarray
    unsure_m: np.ndarray

    def parts(self, slopes: np.ndarray, own_m: np.ndarray, named: np.ndarray) -> list[dict]:
        """Return the contributions to some figures by source, one dict each.

        slopes: of each figure by each moment's level [figures, moments]; own_m: what is
        unsure of each moment's level alone [m]; named: mask of the moments whose sources
        keep their names.  Those of all others are told by as few as have the same variances
        and covariances: of years no list grows.
        """
        known = self.levels.calibrations(self.metres)
        found: list[dict] = [dict(zip(known, sums, strict=True)) for sums in
                             (slopes @ np.stack(list(known.values()), -1)).tolist()]
        nameless = [slopes * own_m]
        for title, rows, metres in (("level of row", self.rows, self.noise_m),
                                    ("bend of the level", self.bent, self.unsure_m)):
            some, place = np.unique(rows, return_inverse=True)
            place = place.reshape(rows.shape)
            sums = np.stack([np.bincount(place.ravel(), (one[:, None] * metres).ravel(),
                                         len(some)) for one in slopes])
            kept = np.zeros(len(some), bool)
            kept[place[named].ravel()] = True
            nameless.append(sums[:, ~kept])
            moved = np.flatnonzero(kept & sums.any(axis=0))
            for source, column in zip(self.levels.names(title, some[moved]),
                                      sums[:, moved].T.tolist(), strict=True):
                for parts, part in zip(found, column, strict=True):
                    if part:
                        parts[source] = part
        for parts, more in zip(found, alike(np.concatenate(nameless, axis=1)), strict=True):
            parts.update(more)
        return found
