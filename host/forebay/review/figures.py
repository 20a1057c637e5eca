"""Numbers for people: an uncertainty has two digits, its value as many decimals."""

import math

from forebay.balance import Measured

J_PER_WH = 3600.0
COVERAGE = 2.0  # +- 2 u: about 95 % of a normal distribution (GUM 6.2, table G.1)
MOST_DECIMALS = 4
UNDEFINED = "undefined"


def decimals_for(expanded: float) -> int:
    """Return how many decimals [-] show an expanded uncertainty with two digits."""
    if expanded <= 0 or not math.isfinite(expanded):
        return MOST_DECIMALS - 2
    return min(max(1 - math.floor(math.log10(expanded)), 0), MOST_DECIMALS)


def pair(quantity: Measured | None, scale: float = 1.0) -> tuple[str, str]:
    """Return (value, +- 2 u) as text of a quantity times `scale`; undefined if None."""
    if quantity is None:
        return UNDEFINED, ""
    expanded = COVERAGE * quantity.u * abs(scale)
    decimals = decimals_for(expanded)
    value = f"{quantity.value * scale:.{decimals}f}"
    # No minus before a zero.
    value = value if float(value) else f"{0:.{decimals}f}"
    return value, f"{expanded:.{decimals}f}"


def verdict(residual: Measured) -> str:
    """Return in words how a residual compares with its uncertainty."""
    normalised = residual.normalised
    if normalised is None:
        return "closes"
    size = abs(normalised)
    if size <= COVERAGE:
        return f"closes ({size:.1f} u)"
    return f"does not close ({size:.1f} u): a meter or a loss"
