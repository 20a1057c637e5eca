"""Contacts with the host: where a board's uptime was tied to UTC, and how well.

Owns what one contact tells and which of several contradict the others.  It
must not know how times between contacts are told: that is `clock`.
"""

import math
from typing import NamedTuple

import numpy as np

DS_PER_S = 10
# Most by which a board's second differs from a second, over temperature and
# age, where no two anchors measured it: common practice for a crystal, no source.
DRIFT_FRAC = 50e-6
# An anchor's error is the sum of two rectangular ones: half the round trip and
# the age of the uptime.  Half-widths a and b have a standard uncertainty of
# sqrt((a^2 + b^2) / 3) (GUM 4.3.7), and a + b is at most sqrt(6) times that.
BOUND_OF_U = math.sqrt(6)
# No clock of a running board is as far off (a guess, twenty crystals' worth):
# contacts that are further apart tell that the host's own clock was wrong.
GROSS_FRAC = 1e-3


class Anchor(NamedTuple):
    """The host's time beside the board's.

    generation, boot: which start of the board [-]; uptime_ds [0.1 s]; utc_s: seconds
    since 1970 UTC [s]; uncertainty_s: standard uncertainty of that tie [s].
    """

    generation: int
    boot: int
    uptime_ds: int
    utc_s: float
    uncertainty_s: float

    @property
    def key(self) -> tuple[int, int]:
        """The start of the board: (generation, boot) [-]."""
        return self.generation, self.boot

    @property
    def uptime_s(self) -> float:
        """Uptime [s]."""
        return self.uptime_ds / DS_PER_S

    @property
    def bound_s(self) -> float:
        """Most by which the tie can be wrong [s]."""
        return BOUND_OF_U * self.uncertainty_s


def tie(before_s: float, after_s: float) -> tuple[float, float]:
    """Return (UTC [s], standard uncertainty [s]) of an uptime that was asked for.

    before_s, after_s: the host's time [s] around the question.  The uptime
    told is that of the board's last scan, up to 0.1 s old.
    """
    half_s = (after_s - before_s) / 2
    age_s = 1 / DS_PER_S
    return before_s + half_s, math.sqrt((half_s**2 + age_s**2) / 3)


def agreeing(anchors: list[Anchor], ends: dict[tuple[int, int], float]) -> list[Anchor]:
    """Return the longest run of anchors of which each fits the one before it.

    ends: the last uptime [s] of each (generation, boot).  Two anchors fit if no
    less time passed between them than the board was on, and in one boot no
    more either, within their bounds and GROSS_FRAC.  Of equally long runs the
    one that ends latest is taken: a clock that was wrong is set right, later.
    """
    anchors = sorted(anchors)
    at_s = _places_s(anchors, ends)
    utc_s = np.array([one.utc_s for one in anchors])
    bound_s = np.array([one.bound_s for one in anchors])
    boot = np.array([one.generation << 16 | one.boot for one in anchors], dtype=np.int64)
    length = np.ones(len(anchors), dtype=np.int64)
    before = np.full(len(anchors), -1)
    for index in range(1, len(anchors)):
        earlier = slice(0, index)
        passed_s = utc_s[index] - utc_s[earlier]
        on_s = at_s[index] - at_s[earlier]
        slack_s = bound_s[index] + bound_s[earlier]
        fits = passed_s >= on_s * (1 - GROSS_FRAC) - slack_s
        fits &= (boot[earlier] != boot[index]) | (passed_s <= on_s * (1 + GROSS_FRAC) + slack_s)
        reach = np.where(fits, length[earlier], 0)
        longest = reach.max()
        if longest:
            before[index] = np.flatnonzero(reach == longest)[-1]
            length[index] = longest + 1
    chain = []
    index = int(np.flatnonzero(length == length.max())[-1]) if anchors else -1
    while index >= 0:
        chain.append(anchors[index])
        index = int(before[index])
    return chain[::-1]


def _places_s(anchors, ends):
    """Return where anchors lie with the boots laid end to end [s]: the board's time on."""
    last_s = dict(ends)
    for one in anchors:
        last_s[one.key] = max(last_s.get(one.key, 0.0), one.uptime_s)
    begin_s, base_s = {}, 0.0
    for key in sorted(last_s):
        begin_s[key] = base_s
        base_s += last_s[key]
    return np.array([begin_s[one.key] + one.uptime_s for one in anchors])
