"""One start of the board on the line of time: what bounds it, and where it is shown.

Every moment of a boot lies between two curves.  Each fact about one moment (a
contact, the boot before, the boot after) opens to both sides by the drift that
a crystal may have; the curves are the tightest of them.  All curves rise, and
so does every time that is taken from between them.
"""

import itertools

import numpy as np

from forebay.shelf.anchors import DRIFT_FRAC, Anchor

SLOW = 1 - DRIFT_FRAC  # seconds of UTC that a second of uptime stands for, at least
FAST = 1 + DRIFT_FRAC  # at most


class Boot:
    """One boot.  Attributes: end_s, its last uptime [s]; anchors, in order of uptime."""

    def __init__(self, anchors: list[Anchor], end_s: float):
        self.anchors = sorted(anchors)
        self.end_s = max([end_s, *[one.uptime_s for one in self.anchors]])
        at = [one.uptime_s for one in self.anchors]
        self._low = [(s, one.utc_s - one.bound_s) for s, one in zip(at, self.anchors, strict=True)]
        self._high = [(s, one.utc_s + one.bound_s)
                      for s, one in zip(at, self.anchors, strict=True)]
        # Between contradicting anchors the later time stands: order never reverses.
        utc_s = itertools.accumulate([one.utc_s for one in self.anchors], max)
        self._points = list(zip(at, utc_s, strict=True))
        self._floor_s = -np.inf
        self._curves: dict[bool, tuple] = {}  # as drawn last, by whether it is the latest

    def begins_after(self, utc_s: float) -> None:
        """Take that uptime 0 was at this time [s] or later; call before any time is asked for."""
        if np.isfinite(utc_s):
            self._low.insert(0, (0.0, utc_s))
            self._curves.clear()

    def ends_before(self, utc_s: float) -> None:
        """Take that the last uptime was at this time [s] or earlier."""
        if np.isfinite(utc_s):
            self._high.append((self.end_s, utc_s))
            self._curves.clear()

    def is_open(self) -> bool:
        """Return whether the boot is bounded on one side only, or on none."""
        return not (self._low and self._high)

    def point(self, uptime_s: float, utc_s: float) -> None:
        """Show a boot that nothing shows yet so that an uptime [s] is at a time [s]."""
        if not self._points and np.isfinite(utc_s):
            self._points = [(uptime_s, utc_s)]

    def shown_from(self, utc_s: float) -> None:
        """Show nothing of the boot before a time [s]: that at which the one before it ends."""
        if np.isfinite(utc_s):
            self._floor_s = utc_s

    def earliest_s(self, uptime_s) -> np.ndarray:
        """Return the earliest times [s] of uptimes [s]; -inf if nothing bounds them."""
        return self._along(False, self._low, uptime_s, SLOW, FAST, np.maximum, -np.inf)

    def latest_s(self, uptime_s) -> np.ndarray:
        """Return the latest times [s] of uptimes [s]; inf if nothing bounds them."""
        return self._along(True, self._high, uptime_s, FAST, SLOW, np.minimum, np.inf)

    def _along(self, is_latest, facts, uptime_s, after, before, tightest, open_s):
        """Return the curve through facts at uptimes [s]; the others as of `_envelope`."""
        uptime_s = np.asarray(uptime_s, np.float64)
        if not facts:
            return np.full(uptime_s.shape, open_s)
        if is_latest not in self._curves:
            self._curves[is_latest] = _envelope(facts, after, before, tightest, open_s)
        at, onwards, back = self._curves[is_latest]
        place = np.searchsorted(at, uptime_s, side="right")
        return tightest(onwards[place] + uptime_s * after, back[place] + uptime_s * before)

    def bounds_s(self, uptime_s) -> tuple[np.ndarray, np.ndarray]:
        """Return (earliest, latest) [s], in this order even if anchors contradict each other."""
        low, high = self.earliest_s(uptime_s), self.latest_s(uptime_s)
        return np.minimum(low, high), np.maximum(low, high)

    def shown_s(self, uptime_s) -> np.ndarray:
        """Return the times [s] to show for uptimes [s]: within the bounds; NaN if there are none.

        Between anchors the offset is interpolated, which takes out the drift;
        a boot without any is shown in the middle of its bounds.
        """
        return self.times_s(uptime_s)[0]

    def times_s(self, uptime_s) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return (times to show, earliest, latest) [s] of uptimes [s]."""
        uptime_s = np.asarray(uptime_s, np.float64)
        low, high = self.bounds_s(uptime_s)
        if self._points:
            at, utc = (np.array(part) for part in zip(*self._points, strict=True))
            shown = uptime_s + np.interp(uptime_s, at, utc - at)
        elif self.is_open():
            return np.full(uptime_s.shape, np.nan), low, high
        else:
            shown = (low + high) / 2
        return np.maximum(np.clip(shown, low, high), self._floor_s), low, high


def _envelope(facts, after, before, tightest, open_s):
    """Return (uptimes of facts, the tightest that they say onwards, and back) [s].

    facts: (uptime [s], time [s]) each; after, before: seconds of UTC a second of uptime from a
    fact onwards and back from it [-].
    """
    at, utc = (np.array(part) for part in zip(*sorted(facts), strict=True))
    onwards = tightest.accumulate(np.append(open_s, utc - at * after))
    back = tightest.accumulate(np.append(open_s, (utc - at * before)[::-1]))[::-1]
    return at, onwards, back
