"""Wall time from uptime: the board has no clock that survives a reset.

Each pull notes an *anchor*: the host's UTC beside the board's boot number and
uptime.  Within a boot the anchors fix the time; a boot without one lies
between the end of the boot before it and the begin of the next.  Every time
is told with the bounds that this gives, and the order of the journal is kept:
no time is before the one of an earlier record.
"""

from typing import NamedTuple

import numpy as np

from forebay.shelf.anchors import DS_PER_S, Anchor, agreeing
from forebay.shelf.boots import Boot
from forebay.shelf.local import maybe_iso

__all__ = ["DS_PER_S", "Anchor", "Clock", "Times", "ends_of"]


class Times(NamedTuple):
    """Times of moments, and the bounds between which they lie [s since 1970 UTC].

    utc_s: NaN where nothing is known; earliest_s, latest_s: infinite where open.
    """

    utc_s: np.ndarray
    earliest_s: np.ndarray
    latest_s: np.ndarray

    @property
    def bound_s(self) -> np.ndarray:
        """Most by which `utc_s` can be wrong, to either side [s]; infinite where open."""
        wrong = np.maximum(self.utc_s - self.earliest_s, self.latest_s - self.utc_s)
        return np.where(np.isnan(wrong), np.inf, wrong)


class Clock:
    """Turns (generation, boot, uptime) into UTC.

    anchors: every contact; those that contradict the rest by more than any
    crystal's drift are left out and listed in `left_out`.  ends: the last
    uptime [s] known of each (generation, boot), from every record of the journal;
    without it a boot is known only as far as it is asked for.  boards: of each
    generation the board: those of one follow each other, those of two do not;
    without it all are of one.
    """

    def __init__(self, anchors: list[Anchor], ends: dict[tuple[int, int], float] | None = None,
                 boards: dict[int, str] | None = None):
        self.ends = dict(ends or {})
        self.boards = dict(boards or {})
        self.anchors = [one for board in self._boards_of(anchors)
                        for one in agreeing([each for each in anchors if self._of(each) == board],
                                            self._ends_of(board))]
        self.left_out = [one for one in anchors if one not in self.anchors]
        self._met = {one.key for one in self.anchors}
        self._boots: dict[tuple[int, int], Boot] = {}

    def _of(self, key):
        return self.boards.get(key[0], "")

    def _boards_of(self, keys):
        return sorted({self._of(key) for key in keys})

    def _ends_of(self, board):
        return {key: last_s for key, last_s in self.ends.items() if self._of(key) == board}

    def lasts(self) -> dict[tuple[int, int], float]:
        """Return the last uptime [s] known of each (generation, boot), contacts included."""
        found = dict(self.ends)
        for one in self.anchors:
            found[one.key] = max(found.get(one.key, 0.0), one.uptime_s)
        return found

    def is_anchored(self, generation: int, boot: int) -> bool:
        """Return whether an anchor fixes the time of that boot."""
        return (generation, boot) in self._met

    def utc(self, generation, boot, uptime_ds) -> np.ndarray:
        """Return the times [s since 1970 UTC] of moments, NaN where nothing bounds them.

        Arguments as for `times`.
        """
        return self.times(generation, boot, uptime_ds).utc_s

    def times(self, generation, boot, uptime_ds) -> Times:
        """Return the times of moments with their bounds.

        generation, boot [-], uptime_ds [0.1 s]: arrays of one length.
        """
        keys = np.asarray(generation, np.int64) << 16 | np.asarray(boot, np.int64)
        uptime_s = np.asarray(uptime_ds, np.float64) / DS_PER_S
        found = Times(*[np.empty(len(keys)) for _ in range(3)])
        runs = list(_runs(keys))
        self._reach([(_key(keys[run.start]), uptime_s[run].max()) for run in runs])
        for run in runs:
            boot_of_run = self._boots[_key(keys[run.start])]
            for mine, one in zip(found, boot_of_run.times_s(uptime_s[run]), strict=True):
                mine[run] = one
        return found

    def _reach(self, asked):
        """Lay all boots on the line of time, each at least as long as it is asked for."""
        known = bool(self._boots)
        for key, last_s in asked:
            if last_s > self.ends.get(key, -1.0):
                self.ends[key] = float(last_s)
                known = False
        if not known:
            self._boots = {}
            for board in self._boards_of([*self.ends, *self._met]):
                mine = [one for one in self.anchors if self._of(one) == board]
                self._boots |= line(mine, self._ends_of(board))

    def _boards_said(self):
        """Return a sentence on the boards that the records are from, if there are several."""
        if not self.boards:
            return []
        begins: dict[str, float] = {}
        keys = sorted(self.lasts())
        times_s = self.utc(*[[key[0] for key in keys], [key[1] for key in keys], [0] * len(keys)])
        for key, begin_s in zip(keys, times_s.tolist(), strict=True):
            board = self._of(key)
            if not begin_s >= begins.get(board, np.inf):
                begins[board] = begin_s
        if len(begins) < 2:
            return []
        told = [f"{board or 'one that does not tell its number'} from"
                f" {(maybe_iso(begin_s) or 'a time not known')[:10]}"
                for board, begin_s in sorted(begins.items(), key=lambda one: one[1])]
        return [f"The records are of {len(begins)} boards: {', '.join(told)} on (--board shows"
                " one alone)."]

    def notes(self) -> list[str]:
        """Return what a person should know of the contacts, one sentence each."""
        said = self._boards_said()
        if self.left_out:
            said.append(
                f"{len(self.left_out)} of {len(self.left_out) + len(self.anchors)} contacts with"
                " the host contradict the others and are left out: was its clock wrong?")
        return said


def line(anchors: list[Anchor], ends: dict[tuple[int, int], float]) -> dict:
    """Return every boot by (generation, boot), bounded by its anchors and its neighbours."""
    mine: dict[tuple[int, int], list[Anchor]] = {key: [] for key in ends}
    for one in anchors:
        mine.setdefault(one.key, []).append(one)
    boots = {key: Boot(mine[key], ends.get(key, 0.0)) for key in sorted(mine)}
    order = list(boots.values())
    for earlier, later in zip(order, order[1:], strict=False):
        later.begins_after(float(earlier.earliest_s(earlier.end_s)))
    for earlier, later in zip(order[-2::-1], order[:0:-1], strict=False):
        earlier.ends_before(float(later.latest_s(0.0)))
    _show_open_ones(order)
    for earlier, later in zip(order, order[1:], strict=False):
        later.shown_from(float(earlier.shown_s(earlier.end_s)))
    return boots


def _show_open_ones(order):
    """Show boots before the first anchor as late, and those after the last as early as can be."""
    for earlier, later in zip(order[-2::-1], order[:0:-1], strict=False):
        if earlier.is_open():
            earlier.point(earlier.end_s, float(later.shown_s(0.0)))
    for earlier, later in zip(order, order[1:], strict=False):
        if later.is_open():
            later.point(0.0, float(earlier.shown_s(earlier.end_s)))


def _runs(keys):
    """Yield slices over which the key stays the same."""
    edges = [0, *(np.flatnonzero(np.diff(keys)) + 1).tolist(), len(keys)]
    return (slice(a, b) for a, b in zip(edges, edges[1:], strict=False) if b > a)


def _key(number):
    return int(number) >> 16, int(number) & 0xFFFF


def ends_of(*tables) -> dict[tuple[int, int], float]:
    """Return the last uptime [s] of each (generation, boot) in tables of both and uptime_ds."""
    ends: dict[tuple[int, int], float] = {}
    for generation, boot, uptime_ds in tables:
        keys = np.asarray(generation, np.int64) << 16 | np.asarray(boot, np.int64)
        uptime_ds = np.asarray(uptime_ds, np.int64)
        for run in _runs(keys):
            key = _key(keys[run.start])
            ends[key] = max(ends.get(key, 0.0), float(uptime_ds[run].max()) / DS_PER_S)
    return ends
