"""Rows at rest, run by run: the sums of a line through the levels of each.

Sums of two parts of the journal are those of both, a run that is cut between them included.
"""

from dataclasses import dataclass

import numpy as np

from forebay.balance.spans import HOLE_S

SUMS = ("rows", "scans", "w", "wt", "wtt", "wy", "wty")
RUNS = ("begin_s", "end_s", *SUMS)


@dataclass
class Rests:
    """One entry a run: begin_s, end_s: middles of its first and last row on the axis [s]; rows,
    scans [-]; w, wt, wtt, wy, wty: sums over its rows of the weight (one over the variance
    of the level), times the time since its begin [s], the level [m], as the names say.

    head, tail: (boot's key, begin or end [s], whether it is at rest) of the first and the last row
    of all, None = there is no row.
    """

    begin_s: np.ndarray
    end_s: np.ndarray
    rows: np.ndarray
    scans: np.ndarray
    w: np.ndarray
    wt: np.ndarray
    wtt: np.ndarray
    wy: np.ndarray
    wty: np.ndarray
    head: tuple[int, float, bool] | None = None
    tail: tuple[int, float, bool] | None = None

    @classmethod
    def none(cls) -> "Rests":
        """Return no runs of no rows."""
        none = np.empty(0)
        return cls(none, none, none, none, none, none, none, none, none)

    @classmethod
    def of(cls, level_m, scans, begins_s, ends_s, key, at_rest, noise_of) -> "Rests":
        """Return the runs of rows with a level, in order: arrays over the rows.

        key: of boots; noise_of: returns what is new in the level [m] of rows of so many scans.
        """
        if not len(level_m):
            return cls.none()
        rest = np.flatnonzero(at_rest)
        found = cls.none() if not len(rest) else cls._runs(
            rest, level_m[rest], scans[rest], begins_s[rest], ends_s[rest], key[rest], noise_of)
        found.head, found.tail = [
            (int(key[place]), float(at_s[place]), bool(at_rest[place]))
            for at_s, place in ((begins_s, 0), (ends_s, -1))]
        return found

    @classmethod
    def _runs(cls, rest, level_m, scans, begins_s, ends_s, key, noise_of):
        parted = (np.diff(rest) > 1) | (begins_s[1:] - ends_s[:-1] > HOLE_S) | (np.diff(key) != 0)
        at = np.flatnonzero(np.append(True, parted))
        last = np.append(at[1:], len(rest)) - 1
        middles_s = (begins_s + ends_s) / 2
        since_s = middles_s - np.repeat(middles_s[at], last - at + 1)
        weight = 1.0 / np.square(noise_of(scans))
        sums = [np.add.reduceat(one, at) for one in (
            scans.astype(float), weight, weight * since_s, weight * since_s**2,
            weight * level_m, weight * since_s * level_m)]
        return cls(**dict(zip(RUNS, (
            middles_s[at], middles_s[last], (last - at + 1).astype(float), *sums), strict=True)))

    @classmethod
    def joined(cls, parts: list["Rests"]) -> "Rests":
        """Return the runs of parts that follow each other, those that go on as one."""
        some = [one for one in parts if one.head is not None]
        if not some:
            return cls.none()
        found = cls(head=some[0].head, tail=some[-1].tail, **{
            name: np.concatenate([getattr(one, name) for one in some]) for name in RUNS})
        firsts = np.cumsum([len(one.w) for one in some])[:-1]
        going = [place for place, before, later in zip(firsts, some, some[1:], strict=False)
                 if _goes_on(before.tail, later.head)]
        return found._together(np.array(going, int)) if going else found

    def _together(self, going):
        """Return these with each run of some places [-] added to the one in front of it."""
        parted = np.ones(len(self.w), bool)
        parted[going] = False
        first = np.flatnonzero(parted)
        # Times count from the begin of the whole run.
        late_s = self.begin_s - np.repeat(self.begin_s[first],
                                          np.diff(np.append(first, len(parted))))
        moved = {"wt": self.wt + late_s * self.w,
                 "wtt": self.wtt + 2 * late_s * self.wt + late_s**2 * self.w,
                 "wty": self.wty + late_s * self.wy}
        sums = {name: np.add.reduceat(moved[name] if name in moved else getattr(self, name), first)
                for name in SUMS}
        last = np.append(first[1:], len(parted)) - 1
        return Rests(begin_s=self.begin_s[first], end_s=self.end_s[last], **sums,
                     head=self.head, tail=self.tail)

    def long(self) -> "Rests":
        """Return the runs of more than one row: one alone has no slope."""
        return self.where(self.rows > 1)

    def where(self, mask: np.ndarray) -> "Rests":
        """Return the runs that a mask selects."""
        return Rests(head=self.head, tail=self.tail,
                     **{name: getattr(self, name)[mask] for name in RUNS})


def _goes_on(tail, head):
    return tail[2] and head[2] and tail[0] == head[0] and head[1] - tail[1] <= HOLE_S
