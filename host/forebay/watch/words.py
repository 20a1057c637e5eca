"""Numbers of the registers as a person reads them; a reading that cannot be trusted is "-"."""

import math
import time
from collections.abc import Iterable, Sequence

from keeper.channels import INVALID

FINE, COARSE = "▁▂▃▄▅▆▇█", "_.-=+*#@"
UNKNOWN_MARK = " "
S_PER_MIN, S_PER_H, S_PER_DAY = 60, 3600, 86400
UL_S_TO_L_MIN = 60e-6


def _number(value, factor, form):
    return "-" if value < INVALID // 2 else form.format(value * factor)


def volts(value: int) -> str:
    """Return a voltage [mV] as a person reads it."""
    return _number(value, 1e-3, "{:.2f} V")


def amperes(value: int) -> str:
    """Return a current [mA] as a person reads it."""
    return _number(value, 1e-3, "{:.3f} A")


def metres(value: int) -> str:
    """Return a length [mm] as a person reads it."""
    return _number(value, 1e-3, "{:.3f} m")


def degrees(value: int) -> str:
    """Return a temperature [mdegC] as a person reads it."""
    return _number(value, 1e-3, "{:.1f} degC")


def per_cent(value: int) -> str:
    """Return a position [permille] as a person reads it."""
    return _number(value, 0.1, "{:.1f} %")


def flow(value: int) -> str:
    """Return a flow [uL/s] as a person reads it."""
    return _number(value, UL_S_TO_L_MIN, "{:.2f} L/min")


def watts(value: float | None) -> str:
    """Return a power [W, None = unknown] as a person reads it."""
    return "-" if value is None else f"{value:.2f} W"


def clock(at_s: float) -> str:
    """Return a moment [s since 1970] as the local time of day."""
    return time.strftime("%H:%M:%S", time.localtime(at_s))


def span(seconds: float) -> str:
    """Return a time [s] as a person reads it."""
    if seconds < S_PER_MIN:
        return f"{seconds:.0f} s"
    if seconds < S_PER_H:
        return f"{seconds / S_PER_MIN:.0f} min"
    if seconds < S_PER_DAY:
        return f"{seconds / S_PER_H:.1f} h"
    return f"{seconds / S_PER_DAY:.1f} days"


def sparkline(values: Iterable[float | None], columns: int, fine: bool = True) -> str:
    """Return a curve in one line and its range: each column the mean of its share of the values.

    values: oldest first, None = unknown, shown as a gap.  columns: most
    columns of the curve [-].
    """
    marks = FINE if fine else COARSE
    means = _means(list(values), columns)
    known = [value for value in means if value is not None]
    if not known:
        return UNKNOWN_MARK * columns + " nothing known yet"
    low, high = min(known), max(known)
    spread = high - low
    text = "".join(
        UNKNOWN_MARK if value is None
        else marks[min(len(marks) - 1, int(len(marks) * (value - low) / spread)) if spread else 0]
        for value in means)
    return f"{text.ljust(columns)} {low:.3g} to {high:.3g}"


def _means(values: Sequence[float | None], columns: int) -> list[float | None]:
    per_column = max(1, math.ceil(len(values) / columns))
    found: list[float | None] = []
    for at in range(0, len(values), per_column):
        known = [value for value in values[at:at + per_column] if value is not None]
        found.append(sum(known) / len(known) if known else None)
    return found
