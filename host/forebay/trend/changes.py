"""Whether a series of days has changed: one step or one ramp, against days that only scatter.

A likelihood-ratio test with a known variance for each day, u^2 + s^2: u of the day's meters,
s the scatter from day to day, estimated from the differences of neighbouring days by a
quantile of them, which a change moves little.  Under no change z = |slope| / u(slope) of each
candidate is the modulus of a standard normal variable; the largest over all candidates and over
all looks of a year is what `least_z` bounds, found by simulation (`python -m tests.bench.trend`).
What was found is then measured all together, so that no change is in another's size.
"""

from collections.abc import Sequence
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

STEP, RAMP = "step", "ramp"
# The largest z of a year of daily looks lies below SURE (1 + FEW / days) in 993 of 1000 years
# without a change: five figures together then raise a false alarm in 3 to 4 years of a hundred.
# Of few days the scatter is poorly known, hence the second.
SURE, FEW = 4.95, 8.0
SURE_AT_NOTE = 2.58      # at a day that a person named nothing is searched: 1 %, two-sided normal
LEAST_DAYS = 8           # of fewer the scatter is not known
LEAST_SIDE = 2           # days on either side of a change
AROUND = 7               # days on either side of a note that are compared
LEAST_AROUND = 2
# Of the neighbours' differences that which a quarter of them exceeds: a wild day in eight does
# it no harm, and it is known better than their median.  Of a normal variable's |x| it is 1.15 s.
QUANTILE, BY_QUANTILE = 0.75, 1.0 / NormalDist().inv_cdf(0.875)
WITHIN = 2.0             # of the log-likelihood: dates so near to the best (95 %, chi2 / 2)
MOST_SCATTER = 10.0      # no figure's ln scatters more
HALVINGS = 50


class Series(NamedTuple):
    """Days of one figure: numbers of the days [d], values, standard uncertainties of the day."""

    days: np.ndarray
    values: np.ndarray
    u: np.ndarray

    def part(self, mask) -> "Series":
        """Return the days that a mask selects."""
        return Series(self.days[mask], self.values[mask], self.u[mask])


class Change(NamedTuple):
    """A change: kind, its first day and the days between which that lies [d], its size.

    size, u: of a step, from the days between the change before it and the one behind it; or of
    a ramp from its first day to the last; rate, rate_u: of a ramp [1/d], 0 for a step; z: how
    sure it was when it was found; until: last day of a ramp [d], infinite of a step; note:
    number of the person's note at which it came, None = at none; is_cure: it takes an earlier
    change back.
    """

    kind: str
    day: float
    earliest: float
    latest: float
    size: float
    u: float
    z: float
    rate: float = 0.0
    rate_u: float = 0.0
    until: float = np.inf
    note: int | None = None
    is_cure: bool = False


def least_z(days: int, sure: float = SURE) -> float:
    """Return the z [-] beyond which a series of so many days has changed."""
    return sure * (1.0 + FEW / days)


def scatter(values: np.ndarray, u: np.ndarray) -> float:
    """Return the scatter from day to day [unit of the values] beside the meters' u.

    It is what makes the neighbours' differences as large as they are; 0 where u does.
    """
    steps, both = np.abs(np.diff(values)), u[1:] ** 2 + u[:-1] ** 2

    def too_large(s):
        off = steps / np.sqrt(both + 2.0 * s * s + 1e-30)
        return BY_QUANTILE * float(np.quantile(off, QUANTILE)) < 1.0

    low, high = 0.0, MOST_SCATTER
    if not len(steps) or too_large(low):
        return 0.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if too_large(middle) else (middle, high)
    return high


def candidates(days: np.ndarray) -> tuple[list[tuple[str, int]], np.ndarray]:
    """Return ((kind, place of the first day), shape of each change over the days)."""
    names, shapes = [], []
    for place in range(LEAST_SIDE, len(days) - LEAST_SIDE + 1):
        names.append((STEP, place))
        shapes.append((np.arange(len(days)) >= place).astype(float))
    # A ramp from the last day before it on; from the first day on it is a drift all along.
    for place in range(1, len(days) - LEAST_SIDE):
        names.append((RAMP, place))
        shapes.append(np.maximum(0.0, days - days[place - 1]))
    return names, np.array(shapes)


def fitted(shapes: np.ndarray, weight: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return what turns values into z [candidate, day], and u of each candidate's slope."""
    centred = shapes - ((shapes * weight).sum(axis=1) / weight.sum())[:, None]
    u = 1.0 / np.sqrt((weight * centred ** 2).sum(axis=1))
    return centred * weight * u[:, None], u


def found_in(series: Series, sure: float = SURE) -> list[Change]:
    """Return the changes of a series, in order, each measured beside the others."""
    return measured(series, _split(series, sure))


def _split(series, sure):
    """Return the changes of a series, in order, by splitting it at each that is found."""
    one = maybe_change(series, sure)
    if one is None:
        return []
    days, values, u = series.part(series.days >= one.day)
    # Behind a ramp's begin is the ramp: what is left beside it may have changed once more.
    behind = Series(days, values - one.rate * (days - one.day), u)
    return [*_split(series.part(series.days < one.day), sure), one, *_split(behind, sure)]


def measured(series: Series, found: Sequence[Change]) -> list[Change]:
    """Return the changes that were found in a series, with their sizes from one fit of all.

    Weighted least squares; of steps alone a size is the difference of the means of the days
    on both sides up to the next change.  When each was found, the others were in those means.
    """
    if not found:
        return []
    s = scatter(series.values, series.u)
    root = 1.0 / np.sqrt(series.u ** 2 + s * s + 1e-30)
    shapes = [np.ones(len(root)), *(_shape(series.days, one) for one in found)]
    turned = np.linalg.pinv(np.stack(shapes, axis=1) * root[:, None])
    slopes, u = turned @ (series.values * root), np.sqrt((turned ** 2).sum(axis=1))
    return [_sized(series.days, one, float(slope), float(of_slope))
            for one, slope, of_slope in zip(found, slopes[1:], u[1:], strict=True)]


def _shape(days, one):
    """Return a change of slope 1 over days: behind the last day of a ramp it stays."""
    if one.kind == STEP:
        return (days >= one.day).astype(float)
    return np.clip(days, _begin(days, one), one.until) - _begin(days, one)


def _begin(days, ramp):
    """Return the last day before a ramp [d]."""
    return days[days < ramp.day][-1]


def _sized(days, one, slope, u):
    if one.kind == STEP:
        return one._replace(size=slope, u=u)
    length = float(one.until - _begin(days, one))
    return one._replace(size=slope * length, u=u * length, rate=slope, rate_u=u)


def maybe_change(series: Series, sure: float = SURE) -> Change | None:
    """Return the one change that explains a series best, None if chance may have made it."""
    days, values, u = series
    if len(days) < LEAST_DAYS:
        return None
    s = scatter(values, u)
    weight = 1.0 / (u ** 2 + s * s + 1e-30)
    names, shapes = candidates(days)
    turned, slope_u = fitted(shapes, weight)
    z = turned @ values
    best = int(np.argmax(np.abs(z)))
    if abs(z[best]) <= least_z(len(days), sure):
        return None
    kind, place = names[best]
    slope, of_slope = float(z[best] * slope_u[best]), float(slope_u[best])
    near = [days[at] for (of, at), one in zip(names, z, strict=True)
            if of == kind and one ** 2 >= z[best] ** 2 - 2.0 * WITHIN]
    # The first day after the change is known; it came in the night before at the latest.
    if kind == STEP:
        return Change(STEP, float(days[place]), float(min(near)), float(max(near)), slope,
                      of_slope, abs(float(z[best])))
    length = float(days[-1] - days[place - 1])
    return Change(RAMP, float(days[place]), float(min(near)), float(max(near)), slope * length,
                  of_slope * length, abs(float(z[best])), slope, of_slope, float(days[-1]))


def found_with_notes(series: Series, notes: Sequence[tuple[int, float]],
                     sure: float = SURE) -> list[Change]:
    """Return the changes of a series where a person left notes: (number, day [d], a fraction).

    At a note the days before and behind are compared without any search; a note at which
    nothing changed splits nothing.
    """
    steps = []
    for number, at in sorted(notes, key=lambda one: one[1]):
        one = _at_note(series, number, at)
        if one is not None and (not steps or one.day > steps[-1].day):
            steps.append(one)
    edges = [-np.inf, *[one.day for one in steps], np.inf]
    found: list[Change] = []
    for place, (begin, end) in enumerate(zip(edges, edges[1:], strict=False)):
        inside = series.part((series.days >= begin) & (series.days < end))
        found += [*_split(inside, sure), *steps[place:place + 1]]
    told: list[Change] = []
    for one in measured(series, found):
        told.append(one if one.note is None else _cured(one, told))
    return told


def _at_note(series, number, at):
    """Return the step at a note, None where there is none."""
    before = series.part(series.days < at)
    after = series.part(series.days >= at)
    before, after = (Series(*[each[-AROUND:] for each in before]),
                     Series(*[each[:AROUND] for each in after]))
    if min(len(before.days), len(after.days)) < LEAST_AROUND or len(series.days) < LEAST_DAYS:
        return None
    s = scatter(series.values, series.u)
    means = []
    for side in (before, after):
        weight = 1.0 / (side.u ** 2 + s * s + 1e-30)
        means.append(((weight * side.values).sum() / weight.sum(), 1.0 / weight.sum()))
    size, u = means[1][0] - means[0][0], float(np.sqrt(means[0][1] + means[1][1]))
    if abs(size) <= SURE_AT_NOTE * u:
        return None
    day = float(after.days[0])
    return Change(STEP, day, day, day, float(size), u, abs(float(size)) / u, note=number)


def _cured(step, earlier):
    """Return a step at a note, told as a cure if it takes back what had changed before."""
    since = [one for one in earlier if not one.is_cure]
    gone = sum(one.size for one in since[-2:])
    return step._replace(is_cure=bool(since) and gone * step.size < 0.0)
