"""Balances of many spans as a table of at most 80 columns: one line each, then their sum."""

import textwrap
from collections.abc import Iterable, Iterator
from datetime import tzinfo
from typing import Any, NamedTuple

from forebay.balance import Balance
from forebay.balance.by import CYCLE, DAY, MONTH, NIGHT
from forebay.balance.ways import BOUNDS, MODEL
from forebay.described import Then
from forebay.review.figures import J_PER_WH, LEGEND, MARK
from forebay.shelf.local import iso_local, maybe_iso

WIDTH = 80
BEGIN = 13
NUMBER = 7
TRIPS = 6
# How the begin of a span is written.
FORMS = {DAY: "%d %b %Y", MONTH: "%b %Y", NIGHT: "%d %b %H:%M", CYCLE: "%d %b %H:%M"}
DIGITS = 3
PERCENT = 100.0
MIXED = "*"
MIXED_SAID = textwrap.fill(
    f"{MIXED} another description was flashed in it: read by the one that stood for most of it.",
    WIDTH)
EFFICIENCIES = textwrap.fill(
    "pumping: stored as water of what the pump took; turbine: generator of what the water gave"
    " up. --json has every figure with its uncertainty.", WIDTH)


class Read(NamedTuple):
    """A span from begin to end [s since 1970 UTC], balanced, and by which description."""

    begin_s: float
    end_s: float
    balance: Balance
    by: Then

    def as_json(self) -> dict[str, Any]:
        """Return it as documented in docs/json.md."""
        return {"begin_utc": maybe_iso(self.begin_s), "end_utc": maybe_iso(self.end_s),
                "description_utc": maybe_iso(self.by.came_s),
                "other_descriptions_utc": [maybe_iso(one) for one in self.by.others_s],
                "balance": self.balance.as_json()}


class Shown(NamedTuple):
    """A column: two lines of its head, its unit; table, key: of the figure; scale to the unit."""

    head: str
    under: str
    unit: str
    table: str
    key: str
    scale: float
    is_summed: bool = True


COLUMNS = (
    Shown("from", "panel", "Wh", "energies", "panel", 1 / J_PER_WH),
    Shown("into", "pump", "Wh", "energies", "pump", 1 / J_PER_WH),
    Shown("pumped", "up", "L", "water", "up", 1.0),
    Shown("let", "down", "L", "water", "down", 1.0),
    Shown("into", "lamps", "Wh", "energies", "lamps", 1 / J_PER_WH),
    Shown("pumping", "effic.", "%", "steps", "wire_to_water", PERCENT, False),
    Shown("turbine", "effic.", "%", "steps", "water_to_wire", PERCENT, False),
)


def lines(found: Iterable[Read], by: str, zone: tzinfo, name: str) -> Iterator[str]:
    """Yield the lines of a table."""
    yield textwrap.fill(f"{name}, {by} by {by}; times of {zone}", WIDTH, break_on_hyphens=False)
    yield ""
    heads = [[getattr(one, part) for one in COLUMNS] for part in ("head", "under", "unit")]
    for head, more in zip(heads, (("", ""), ("light", "trips"), ("h", "")), strict=True):
        yield _line("", [*head, more[0]], more[1])
    total, count, has_models, trips, light_h = [0.0] * len(COLUMNS), 0, False, 0, 0.0
    is_mixed = False
    for begin_s, _, one, then in found:
        mark = MIXED if then.others_s else ""
        is_mixed |= bool(mark)
        values = [_value(one, column) for column in COLUMNS]
        yield _line(iso_local(begin_s, zone, FORMS[by]) + mark,
                    [*[text for text, _ in values], f"{one.light_h:.1f}"],
                    str(one.trips or "-"))
        total = [sum_ + value for sum_, (_, value) in zip(total, values, strict=True)]
        has_models |= one.has_models
        count, trips, light_h = count + 1, trips + one.trips, light_h + one.light_h
    if count:
        yield _line(f"in all {count}", [
            *[_short(sum_) if column.is_summed and sum_ == sum_ else "" for column, sum_ in
              zip(COLUMNS, total, strict=True)], f"{light_h:.1f}"], str(trips or "-"))
    yield ""
    if is_mixed:
        yield MIXED_SAID
    yield EFFICIENCIES
    if has_models:
        yield LEGEND


def _line(begin, texts, trips):
    widths = [max(NUMBER, len(one.head) + 1) for one in COLUMNS] + [NUMBER]
    numbers = "".join(f"{text:>{width}}" for text, width in zip(texts, widths, strict=True))
    return (f"{begin:<{BEGIN}}{numbers}{trips:>{TRIPS}}").rstrip()


def _value(balance, column):
    """Return (text, value) of a figure; NaN where it has none."""
    quantity = getattr(balance, column.table)[column.key]
    told = balance.told[column.key]
    if told.kind == BOUNDS:
        return "bounds", float("nan")
    if quantity is None:
        return "-", float("nan")
    value = quantity.value * column.scale
    return _short(value) + (MARK if told.kind == MODEL and column.is_summed else ""), value


def _short(value):
    """Return a number with DIGITS digits, without an exponent."""
    size = abs(value)
    decimals = 0 if size >= 100 else 1 if size >= 10 else 2
    text = f"{value:.{decimals}f}"
    return text if float(text) else f"{0:.{decimals}f}"
