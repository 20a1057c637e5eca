"""Numbers of the registers as a person reads them; a reading that cannot be trusted is "-"."""

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, tzinfo

from forebay.si import is_trusted, unit_of

FINE, COARSE = "▁▂▃▄▅▆▇█", "_.-=+*#@"
UNKNOWN_MARK = " "
S_PER_MIN, S_PER_H, S_PER_DAY = 60, 3600, 86400
# By SI unit: the unit that a person reads, how many make one SI unit, digits after the point.
SHOWN = {
    "V": ("V", 1, 2),
    "A": ("A", 1, 3),
    "W": ("W", 1, 2),
    "m": ("m", 1, 3),
    "m3/s": ("L/min", 60000, 2),
    "degC": ("degC", 1, 1),
    "-": ("%", 100, 1),
}


def reading(live: Mapping[str, int], name: str) -> str:
    """Return a reading among registers, by name, as a person reads it."""
    if not is_trusted(live[name]):
        return "-"
    unit = unit_of(name)
    shown, scale, digits = SHOWN[unit.text]
    return f"{live[name] * (unit.factor * scale):.{digits}f} {shown}"


def watts(value: float | None) -> str:
    """Return a power [W, None = unknown] as a person reads it."""
    # No minus before a zero.
    return "-" if value is None else f"{round(value, 2) + 0.0:.2f} W"


def clock(at_s: float, zone: tzinfo | None = None) -> str:
    """Return a moment [s since 1970] as the time of day in a zone, None = this computer's."""
    return datetime.fromtimestamp(at_s, zone).strftime("%H:%M:%S")


def day(at_s: float, zone: tzinfo | None = None) -> str:
    """Return a moment [s since 1970] as the day in a zone, None = this computer's."""
    return datetime.fromtimestamp(at_s, zone).strftime("%d %b %Y")


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
