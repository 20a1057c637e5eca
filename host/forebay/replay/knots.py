"""Knots of a wave, (tick, value) in order, joined by straight lines or by steps."""

from bisect import bisect_left, bisect_right
from typing import NamedTuple

import numpy as np


class Hold(NamedTuple):
    """A reading that stood from tick to tick; jumps: it was another one before."""

    first: int
    last: int
    value: float
    jumps: bool


def in_order(knots):
    """Return knots by tick, one a tick: the last that was told."""
    found = {}
    for tick, value in knots:
        found[int(tick)] = value
    return sorted(found.items())


def value_at(knots, tick):
    return float(np.interp(tick, [one[0] for one in knots], [one[1] for one in knots]))


def held(knots, hold):
    """Return knots with a reading held; beside it they stay as they were."""
    ticks = [one[0] for one in knots]
    left, right = bisect_left(ticks, hold.first), bisect_right(ticks, hold.last)
    near = knots[max(0, left - 1):right + 1]
    added = [(hold.first, hold.value), (hold.last, hold.value)]
    if hold.jumps and left > 0 and ticks[left - 1] < hold.first - 1:
        added.insert(0, (hold.first - 1, value_at(near, hold.first - 1)))
    if hold.jumps and right < len(knots) and ticks[right] > hold.last + 1:
        added.append((hold.last + 1, value_at(near, hold.last + 1)))
    return knots[:left] + in_order(added) + knots[right:]


def without_glitches(points, at_rest):
    """Return points without one that alone among its neighbours is not at rest.

    It may have lasted for one scan; an element that it made act is told apart from it.
    """
    kept = []
    for place, (tick, value) in enumerate(points):
        before = points[place - 1][1] if place else at_rest
        after = points[place + 1][1] if place + 1 < len(points) else value
        if value == at_rest or before == value or after == value:
            kept.append((tick, value))
    return kept


def steps(points):
    """Return [ticks, values] without what changes nothing."""
    ticks, values = [], []
    for tick, value in points:
        if not values or value != values[-1]:
            if ticks and ticks[-1] == tick:
                values[-1] = value
                continue
            ticks.append(int(tick))
            values.append(int(value))
    return [ticks, values]
