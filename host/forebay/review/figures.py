"""Numbers for people: an uncertainty has two digits, its value as many decimals.

What comes from no meter bears a mark; what is known only within bounds, or not at all,
is said so in the place of a number.
"""

import math

from forebay.balance import Measured
from forebay.balance.blame import SURE_U
from forebay.balance.ways import BOUNDS, MODEL, UNKNOWN, Told

J_PER_WH = 3600.0
COVERAGE = 2.0  # +- 2 u: about 95 % of a normal distribution (GUM 6.2, table G.1)
MOST_DECIMALS = 4
UNDEFINED = "undefined"
NOTHING = "none"         # by the model, and surely
MARK = "m"
LEGEND = f"{MARK}: from a model of the rig, not a meter; its +- says how well that is known."
OPEN_DIGITS, COARSE = 2, 3.0  # of a bound; one that begins with less has one more


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


def figure(quantity: Measured | None, told: Told, scale: float = 1.0) -> tuple[str, str, str]:
    """Return (value, +- 2 u, mark) as text of a figure times `scale`; bounds as one text."""
    if told.kind == UNKNOWN:
        return UNKNOWN, "", ""
    if told.kind == BOUNDS:
        return _within(told, scale), "", MARK
    mark = MARK if told.kind == MODEL else ""
    if mark and quantity is not None and not quantity.value and not quantity.u:
        return NOTHING, "", mark
    return *pair(quantity, scale), mark


def _within(told, scale):
    low, high = (None if one is None else one * scale for one in (told.low, told.high))
    if high is None:
        return f"over {_cut(low, math.floor)}"
    if low is None:
        return f"under {_cut(high, math.ceil)}"
    return f"{_cut(low, math.floor)} to {_cut(high, math.ceil)}"


def _cut(bound, towards):
    """Return a bound with few digits, rounded to the outside."""
    if not bound:
        return "0"
    size = math.floor(math.log10(abs(bound)))
    # Behind a 1 or a 2 the second digit is coarse: 221 of a tank of 212 is not 230.
    decimals = OPEN_DIGITS - 1 - size + (abs(bound) < COARSE * 10.0 ** size)
    step = 10.0 ** -decimals
    return f"{towards(bound / step) * step:.{max(decimals, 0)}f}"


def verdict(residual: Measured) -> str:
    """Return in words how a residual compares with its uncertainty."""
    normalised = residual.normalised
    if normalised is None:
        return "closes"
    size = abs(normalised)
    if size <= COVERAGE:
        return f"closes ({size:.1f} u)"
    if size <= SURE_U:
        return f"not sure to close ({size:.1f} u): it may be chance, see below"
    return f"does not close ({size:.1f} u): a meter or a loss, see below"
