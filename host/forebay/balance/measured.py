"""Quantities with uncertainty, propagated to first order (JCGM 100:2008, GUM, 5.1 and 5.2).

A `Measured` remembers how much of it moves with each independent source of
error.  So two readings of one meter stay correlated through any sum, product
or ratio, and a common error cancels where it should.
"""

import itertools
import math
from dataclasses import dataclass, field

import numpy as np

_fresh = itertools.count()
# Beyond this many standard uncertainties from 0 a divisor counts as known.
LEAST_DIVISOR_U = 3.0


@dataclass(frozen=True)
class Measured:
    """A value and its signed standard contributions by source, in the value's unit."""

    value: float
    parts: dict = field(default_factory=dict)

    @property
    def u(self) -> float:
        """Combined standard uncertainty [unit of the value] (GUM equation 10)."""
        return math.sqrt(sum(part * part for part in self.parts.values()))

    @property
    def normalised(self) -> float | None:
        """Value over its standard uncertainty [-]; None if it is exact."""
        return self.value / self.u if self.u else None

    def __add__(self, other) -> "Measured":
        other = as_measured(other)
        return _combined(self.value + other.value, (self, 1.0), (other, 1.0))

    def __sub__(self, other) -> "Measured":
        other = as_measured(other)
        return _combined(self.value - other.value, (self, 1.0), (other, -1.0))

    def __mul__(self, other) -> "Measured":
        other = as_measured(other)
        return _combined(self.value * other.value, (self, other.value), (other, self.value))

    def __truediv__(self, other) -> "Measured":
        other = as_measured(other)
        ratio = self.value / other.value
        return _combined(ratio, (self, 1 / other.value), (other, -ratio / other.value))

    def __neg__(self) -> "Measured":
        return _combined(-self.value, (self, -1.0))

    __radd__ = __add__
    __rmul__ = __mul__

    def __rsub__(self, other) -> "Measured":
        return as_measured(other) - self

    def __rtruediv__(self, other) -> "Measured":
        return as_measured(other) / self

    def with_part(self, source, part: float) -> "Measured":
        """Return the same value with one more contribution [unit of the value]."""
        parts = dict(self.parts)
        parts[source] = parts.get(source, 0.0) + part
        return Measured(self.value, parts)

    def with_noise(self, u: float) -> "Measured":
        """Return the same value with a contribution [unit of the value] shared with nothing."""
        return self.with_part(("noise", next(_fresh)), u) if u else self


def as_measured(value) -> Measured:
    """Return a plain number as an exact quantity."""
    return value if isinstance(value, Measured) else Measured(float(value))


def _combined(value, *terms):
    parts = {}
    for quantity, slope in terms:
        for source, part in quantity.parts.items():
            parts[source] = parts.get(source, 0.0) + slope * part
    return Measured(value, parts)


def maybe_ratio(above: Measured, below: Measured, least: float = 0.0) -> Measured | None:
    """Return above / below, None where the divisor cannot be told from 0.

    That is within 3 u of it, or not above `least` [unit of the divisor].
    """
    if abs(below.value) <= max(LEAST_DIVISOR_U * below.u, least):
        return None
    return above / below


def summed(quantities) -> Measured:
    """Return the sum of many quantities; 0, exact, of none."""
    quantities = list(quantities)
    value = float(sum(one.value for one in quantities))
    return _combined(value, *[(one, 1.0) for one in quantities])


def alike(parts: np.ndarray) -> list[dict]:
    """Return contributions of a few fresh sources that do to some figures what many do.

    parts: what each independent source does to each figure [figures, sources]; variances and
    covariances of the figures are the same (GUM 5.2.2), by the R of a QR decomposition.
    """
    if not parts.any():
        return [{} for _ in parts]
    fewer = np.asarray(np.linalg.qr(parts.T, mode="r")) if parts.shape[1] > len(parts) else parts.T
    names = [("noise", next(_fresh)) for _ in fewer]
    return [{name: part for name, part in zip(names, column, strict=True) if part}
            for column in fewer.T.tolist()]
