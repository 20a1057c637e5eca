"""Spans of totals that a period cuts: which part of their growth lies on each side."""

from typing import NamedTuple

import numpy as np

from forebay.balance.covered import Rowed, growth_of
from forebay.balance.spans import Spans

SAME_S = 1e-3  # of two moments: a hundredth of a scan


class Cut(NamedTuple):
    """A span of totals of which a part lies outside of the period.

    at_s: where it is cut [s since 1970 UTC]; state: in force; error: half-width of each
    total's share [unit of the total], signed: what it adds here it takes there.
    """

    at_s: float
    state: int
    error: np.ndarray


def between(spans: Spans, rowed: Rowed, low_s: float, high_s: float,
            period) -> tuple[Spans, np.ndarray, list[Cut]]:
    """Return (the parts of spans within, their places among the spans, cuts).

    rowed: the rows of the spans' time; low_s, high_s: on the axis [s], infinite where nothing
    is cut; period: the same as (begin, end) [s since 1970 UTC].
    """
    inside = (spans.end_s > low_s + SAME_S) & (
        (spans.end_s <= high_s + SAME_S) | (spans.begin_s < high_s - SAME_S))
    places = np.flatnonzero(inside)
    found = spans.where(places)
    cuts = []
    if np.isfinite(low_s):
        cuts += _cut(found, rowed, low_s, period[0], False)
    if np.isfinite(high_s):
        cuts += _cut(found, rowed, high_s, period[1], True)
    return found, places, cuts


def _cut(spans, rowed, at_s, at_utc_s, is_left):
    """Leave of those spans that a moment cuts their left or their right part."""
    cuts = []
    across = (spans.begin_s < at_s - SAME_S) & (spans.end_s > at_s + SAME_S)
    if across.any() and spans.totals.dtype.kind == "i":
        spans.totals = spans.totals.astype(float)
    for place in np.flatnonzero(across).tolist():
        begin_s, end_s = float(spans.begin_s[place]), float(spans.end_s[place])
        share, half = _share(rowed, begin_s, at_s, end_s, spans.totals[place])
        mine = share if is_left else 1 - share
        spans.totals[place] = spans.totals[place] * mine
        spans.error[place] = spans.error[place] * mine
        (spans.end_s if is_left else spans.begin_s)[place] = at_s
        cuts.append(Cut(at_utc_s, int(spans.state[place]), half if is_left else -half))
    return cuts


def _share(rowed, begin_s, at_s, end_s, growth):
    """Return (share [-] of each total's growth before a moment, its half-width [its unit]).

    The rows say; where they are silent, the time.
    """
    first = int(np.searchsorted(rowed.ends_s, begin_s, side="right"))
    end = int(np.searchsorted(rowed.begins_s, end_s))
    part = rowed.part(first, max(first, end))
    of_time = (at_s - begin_s) / (end_s - begin_s)
    lengths = [np.maximum(np.minimum(part.ends_s, b) - np.maximum(part.begins_s, a), 0.0)
               for a, b in ((begin_s, at_s), (at_s, end_s))]
    (before, wrong), (behind, wrong_too) = (
        [one.sum(axis=0) for one in growth_of(part.rows, length, part.seconds)]
        for length in lengths)
    whole = before + behind
    share = np.where(whole > 0, before / np.where(whole > 0, whole, 1.0), of_time)
    half = np.minimum(wrong, wrong_too)
    if sum(length.sum() for length in lengths) < end_s - begin_s - SAME_S:
        half = np.maximum(half, np.abs(growth) * min(of_time, 1 - of_time))
    return share, np.minimum(half, np.abs(growth))
