"""Least squares with uncertainty: straight in its figures or bent, errors in both directions.

Errors of two kinds come in apart.  Those of each point by itself weigh the points; where the
points scatter more than all stated errors allow, these are widened to fit, never narrowed
(after Birge, and Mandel and Paule).  Those that all points share, as a hand meter's own, move
the figures as one and are added after: to weigh by them would let their noise pull the figures
(Peelle's puzzle).  Nothing is left out: points that stand apart are named.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares, root_scalar
from scipy.stats import norm, t

Numbers = np.ndarray | Sequence[float] | float
COVERED = 0.95
NORMAL = float(norm.ppf(0.5 + COVERED / 2))
APART = 3.0        # standard uncertainties beyond which a point is named as apart
PASSES = 3         # over which errors in x are turned into such in y by the slope
STEP = 1e-6        # of a figure's size, for slopes
LEAST_STEP = 1e-9
LONGEST_LOG = 100.0  # of an interval: beyond it nothing is known
STRETCH_STEP = 1e-9  # to which a widening is found


class NoFit(ValueError):
    """Points that give no figure: why."""


@dataclass(frozen=True)
class Fit:
    """Figures and how well they are known.

    values, covariance: of the figures; own: the part of the covariance that is each point's
    own errors; dof: points less figures; residuals, spreads: of each point [unit of y], what
    it lies off and its standard uncertainty; stretch: by what the stated own errors were
    widened [-]; is_stated: whether errors were stated, else they are taken from the scatter.
    """

    values: np.ndarray
    covariance: np.ndarray
    own: np.ndarray
    dof: int
    residuals: np.ndarray
    spreads: np.ndarray
    stretch: float
    is_stated: bool

    def u(self, place: int) -> float:
        """Return the standard uncertainty of a figure."""
        return float(np.sqrt(self.covariance[place, place]))

    def along(self, slopes: Sequence[float]) -> float:
        """Return the standard uncertainty of what has these slopes by the figures."""
        slope = np.asarray(slopes, float)
        return float(np.sqrt(slope @ self.covariance @ slope))

    @property
    def factor(self) -> float:
        """How many standard uncertainties cover 95 % (GUM G.3.2: Student's t if by scatter)."""
        side = 0.5 + COVERED / 2
        return NORMAL if self.is_stated else float(t.ppf(side, max(self.dof, 1)))

    def interval(self, place: int) -> tuple[float, float]:
        """Return what covers 95 % of a figure, as far on either side."""
        value, reach = float(self.values[place]), self.factor * self.u(place)
        return value - reach, value + reach

    def ratio_interval(self, place: int) -> tuple[float, float]:
        """Return what covers 95 % of a figure that is above 0 by nature, such as a resistance.

        Even in its logarithm: where such a figure is badly known, the slopes at a value that
        came out low are those of a smaller one, and an interval even in the figure is too
        short upwards (GUM 5.1.2, note: the law is not straight over u).
        """
        value = float(self.values[place])
        reach = float(np.exp(min(self.factor * self.u(place) / value, LONGEST_LOG)))
        return value / reach, value * reach

    def apart(self) -> list[int]:
        """Return the places of the points that lie APART or more from the fit."""
        return [int(one) for one in np.flatnonzero(
            np.abs(self.residuals) > APART * np.maximum(self.spreads, np.finfo(float).tiny))]


def linear(columns: np.ndarray, y: Numbers, u_y: Numbers | None = None, u_x: Numbers = 0.0,
           slopes: Callable | None = None,
           shared: Sequence[Numbers] = (), weighs_shared: bool = False) -> Fit:
    """Return the fit of y = columns @ figures.

    columns: (points, figures); u_y: own standard uncertainties, None = from the scatter; u_x:
    those of what the columns are made of, with slopes(figures) = dy/dx; shared: for each
    error that all points share, by how much one standard uncertainty of it moves each y;
    weighs_shared: they weigh too, where they are free of noise.
    Raises NoFit for too few or too like points.
    """
    columns, y = np.asarray(columns, float), np.asarray(y, float)
    count, figures = columns.shape
    _enough(count, figures, u_y is not None)
    stated = np.broadcast_to(1.0 if u_y is None else np.asarray(u_y, float), count)
    # Where all error is in x, the first pass that finds the slope is not weighted.
    u = np.where(stated > 0, stated, 1.0)
    values, inverse = np.zeros(figures), np.eye(figures)
    for _ in range(PASSES if slopes is not None else 1):
        values, inverse = _solved(columns / u[:, None], y / u)
        if slopes is not None:
            u = np.hypot(stated, np.asarray(slopes(values)) * u_x)
    if weighs_shared:
        values = _shared_out(columns, y, u, _columns(shared, count))[0]
    return _fit(columns, values, inverse, y - columns @ values, u, u_y is not None, shared,
                weighs_shared)


def curved(model: Callable[[np.ndarray], np.ndarray], start: Numbers, y: Numbers,
           u_y: Numbers, shared: Sequence[Numbers] = (),
           bounds: tuple = (-np.inf, np.inf)) -> Fit:
    """Return the fit of y = model(figures), whatever its form.

    start: figures to begin with, none of them 0; u_y: own standard uncertainties; shared: as
    for `linear`.  Raises NoFit for too few points or figures that nothing here tells apart.
    """
    y = np.asarray(y, float)
    _enough(len(y), np.size(start), True)
    u = np.maximum(np.broadcast_to(np.asarray(u_y, float), len(y)), np.finfo(float).tiny)
    found = least_squares(lambda p: (model(p) - y) / u, np.asarray(start, float),
                          bounds=bounds, x_scale=np.abs(start), method="trf")
    columns = _slopes(model, found.x)
    _, inverse = _solved(columns / u[:, None], y / u)
    return _fit(columns, found.x, inverse, y - model(found.x), u, True, shared)


def _enough(count, figures, is_stated):
    least = figures if is_stated else figures + 1
    if count < least:
        raise NoFit(f"{count} points are too few: {least} or more are needed")


def _solved(columns, y):
    """Return figures and the inverse of the normal matrix of weighted columns."""
    scale = np.sqrt((columns**2).sum(axis=0))
    if not np.all(scale > 0):
        raise NoFit("a figure moves none of the points")
    q, r = np.linalg.qr(columns / scale)
    if np.abs(np.diag(r)).min() < LEAST_STEP:
        raise NoFit("the points are too like each other to tell the figures apart")
    inverse = np.linalg.inv(r)
    values = inverse @ (q.T @ y) / scale
    return values, inverse @ inverse.T / np.outer(scale, scale)


def _fit(columns, values, inverse, residuals, u, is_stated, shared, weighs_shared=False):
    """Return the fit with its covariances; columns: dy by the figures."""
    count, figures = columns.shape
    dof, moves = count - figures, _columns(shared, count)
    if is_stated:
        stretch = _stretch(columns, residuals, u, moves, dof)
    else:
        stretch = float(np.sqrt(((residuals / u) ** 2).sum() / dof))
    wide = u * stretch
    follow = inverse @ (columns.T / u**2)
    if weighs_shared:
        follow = _shared_out(columns, residuals, wide, moves)[2]
    own = (follow * wide**2) @ follow.T
    moved = follow @ moves
    # What a point lies off has its own error less what it pulls the fit towards itself, and
    # of the shared ones what the fit does not follow.
    left = np.eye(count) - columns @ follow
    spreads = np.sqrt((left**2) @ u**2 + ((left @ moves) ** 2).sum(axis=1))
    return Fit(values, own + moved @ moved.T, own, dof, residuals,
               spreads * (1.0 if is_stated else stretch), stretch, is_stated)


def _columns(shared, count):
    """Return the shared errors as columns, none of them as a matrix without columns."""
    return np.array([np.broadcast_to(one, count) for one in shared], float).reshape(-1, count).T


def _shared_out(columns, y, u, moves):
    """Return (figures, chi squared, what each y adds to the figures) by the whole covariance.

    Of own errors u and shared ones, columns `moves`, by Woodbury's formula.
    """
    weight = 1.0 / u**2
    inner = np.linalg.inv(np.eye(moves.shape[1]) + (moves.T * weight) @ moves)

    def weighed(some):
        plain = (some.T * weight).T
        return plain - ((moves.T * weight).T @ (inner @ (moves.T @ plain)))

    by = weighed(columns)
    follow = np.linalg.solve(columns.T @ by, by.T)
    left = y - columns @ (follow @ y)
    return follow @ y, float(left @ weighed(left)), follow


def _stretch(columns, residuals, u, moves, dof):
    """Return by what own errors must be widened so that the points scatter no more than that."""
    def excess(by):
        return _shared_out(columns, residuals, u * by, moves)[1] - dof

    if dof < 1 or excess(1.0) <= 0.0:
        return 1.0
    high = 2.0
    while excess(high) > 0.0:
        high *= 2.0
    return root_scalar(excess, bracket=(1.0, high), rtol=STRETCH_STEP).root


def _slopes(model, values):
    columns = []
    for place, value in enumerate(values):
        step = max(abs(value) * STEP, LEAST_STEP)
        ends = []
        for sign in (1, -1):
            moved = np.array(values, float)
            moved[place] += sign * step
            ends.append(model(moved))
        columns.append((ends[0] - ends[1]) / (2 * step))
    return np.array(columns).T


def straight(x: Numbers, y: Numbers, u_y: Numbers | None = None, u_x: Numbers = 0.0,
             shared: Sequence[Numbers] = (), about: float = 0.0,
             weighs_shared: bool = False) -> Fit:
    """Return the fit of y = figure 0 + figure 1 (x - about); arguments as for `linear`."""
    x = np.asarray(x, float)
    columns = np.stack([np.ones_like(x), x - about], axis=1)
    slopes = (lambda values: np.full(len(x), values[1])) if np.any(u_x) else None
    return linear(columns, y, u_y, u_x, slopes, shared, weighs_shared)


def proportional(x: Numbers, y: Numbers, u_y: Numbers, u_x: Numbers = 0.0,
                 shared: Sequence[Numbers] = ()) -> Fit:
    """Return the fit of y = figure 0 x; arguments as for `linear`."""
    x = np.asarray(x, float)
    slopes = (lambda values: np.full(len(x), values[0])) if np.any(u_x) else None
    return linear(x[:, None], y, u_y, u_x, slopes, shared)


def constant(y: Numbers, u_y: Numbers, shared: Sequence[Numbers] = (),
             weighs_shared: bool = False) -> Fit:
    """Return the weighted mean of y as figure 0; arguments as for `linear`."""
    return linear(np.ones((np.size(y), 1)), y, u_y, shared=shared, weighs_shared=weighs_shared)
