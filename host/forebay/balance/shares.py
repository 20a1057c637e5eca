"""Spans of totals that a period cuts: which part of their growth lies on each side."""

from typing import NamedTuple

import numpy as np

from forebay.balance.covered import Rowed, growth_of
from forebay.balance.spans import Spans
from keeper.channels import TOTALS

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
    is cut; period: the same as (begin, end) [s since 1970 UTC], None = nothing is cut.
    """
    if period is None:
        return spans, np.arange(len(spans.key)), []
    inside = (spans.end_s > low_s + SAME_S) & (
        (spans.end_s <= high_s + SAME_S) | (spans.begin_s < high_s - SAME_S))
    places = np.flatnonzero(inside)
    found, cuts = spans.where(places), []
    found.totals = found.totals.astype(float)
    cut = (spans.begin_s[places] < low_s - SAME_S) | (spans.end_s[places] > high_s + SAME_S)
    for one in np.flatnonzero(cut).tolist():
        place = int(places[one])
        # Both ends by the whole span: what is left and right of a cut is then all of it.
        shares = [np.zeros(len(TOTALS)), np.ones(len(TOTALS))]
        for side, (at_s, at_utc_s) in enumerate(zip((low_s, high_s), period, strict=True)):
            if spans.begin_s[place] < at_s - SAME_S and spans.end_s[place] > at_s + SAME_S:
                shares[side], half = _share(rowed, spans, place, at_s)
                cuts.append(Cut(at_utc_s, int(spans.state[place]), half if side else -half))
                (found.end_s if side else found.begin_s)[one] = at_s
        found.totals[one] *= shares[1] - shares[0]
        found.error[one] *= shares[1] - shares[0]
    return found, places, cuts


def _share(rowed, spans, place, at_s):
    """Return (share [-] of each total's growth before a moment, its half-width [its unit]).

    The rows say; where they are silent, the time.
    """
    begin_s, end_s = float(spans.begin_s[place]), float(spans.end_s[place])
    growth = spans.totals[place]
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
