"""A plan in the terminal: the same parts in the same order as on the page, 80 columns wide."""

import math
import textwrap
from collections.abc import Sequence
from itertools import zip_longest
from typing import Any

from forebay.plan.answers import Column, Figure, Part, Range, Table
from forebay.plan.planning import Plan
from forebay.showing import METRIC, NOTHING, System, in_unit, shown, unit_of

WIDTH = 80
NAME_WIDTH = 44
GAP = "  "
RANGE_BEGINS = " ("
INDENT = "    "
NARROWEST = 8    # of a column of words
HEADING_WIDTHS = (13, 10, 8)   # the widest with which a table fits
USUAL = {"time": 3600.0, "volume": 1e-3}
SMALLEST = 1e-9     # of which the smallest unit is shown
SURE_FRAC = 1e-4    # of a value: what it is known better than has no spread
DIGITS = 3          # of a figure in a table
RANGE_DIGITS = (3, 2, 2)   # of a value, and of between what it lies


def lines(plan: Plan, system: System = METRIC) -> list[str]:
    """Return a plan as lines of text."""
    found = [*_wrapped(f"Plan of {plan.rig.rig.name}", ""), ""]
    for part in plan.parts:
        found += part_lines(part, system)
    found.append("What this rests on")
    for note in plan.notes:
        found += _wrapped(note, "  ")
    return found


def part_lines(part: Part, system: System = METRIC) -> list[str]:
    """Return one part as lines of text."""
    found = [part.title]
    for warning in part.warns:
        found += _wrapped(f"! {warning}", "  ")
    for figure in part.figures:
        found += _figure(figure, system)
    for said in part.says:
        found += _wrapped(said, "  ")
    for table in part.tables:
        found += ["", *_table(table, system)]
    return [*found, ""]


def _figure(figure: Figure, system: System) -> list[str]:
    said = shown_value(figure, system)
    told = f"  {figure.name:<{NAME_WIDTH}}{GAP}{said}"
    if not figure.note:
        return [told]
    if len(told) + len(GAP) + len(figure.note) + 2 <= WIDTH:
        return [f"{told}{GAP}({figure.note})"]
    return [told, *_wrapped(f"({figure.note})", " " * 6)]


def shown_value(figure: Figure, system: System = METRIC) -> str:
    """Return a figure's value with its unit, and what it may be wrong by."""
    return cell((figure.value, figure.spread), figure.dimension, system)


def cell(value: Any, dimension: str, system: System = METRIC) -> str:
    """Return a value, a (value, spread) or words as they are shown."""
    if isinstance(value, str):
        return value
    value, spread = value if isinstance(value, tuple) else (value, None)
    if value is None:
        return NOTHING
    if not dimension:
        return f"{value:.3g}"
    return shown(value, dimension, system, spread=spread or None)


def rows_of(table: Table, system: System = METRIC) -> tuple[list[str], list[list[str]]]:
    """Return (headings, rows of cells) as they are shown; hidden columns left out.

    A column has one unit, which its heading tells.
    """
    headings, columns = [], []
    for place, column in enumerate(table.columns):
        if column.dimension == "hidden":
            continue
        raw = [row[place] for row in table.rows]
        if column.dimension == "as said":
            headings.append(column.name)
            columns.append([_beside(one, row, table.columns, system)
                            for one, row in zip(raw, table.rows, strict=True)])
            continue
        if column.dimension == "text":
            headings.append(column.name)
            columns.append([cell(one, "", system) for one in raw])
            continue
        unit, cells = in_one_unit(raw, column, system)
        headings.append(f"{column.name} [{unit}]" if unit else column.name)
        columns.append(cells)
    return headings, [list(row) for row in zip(*columns, strict=True)]


def _beside(value, row, columns, system):
    """Return a value in the unit that suits the largest of its row."""
    dimension = row[-1]
    if value is None or not dimension:
        return cell(value, dimension, system)
    beside = [one for one, column in zip(row, columns, strict=True)
              if column.dimension == "as said" and one is not None]
    unit = unit_of(max(map(abs, beside)), dimension, system)
    return f"{_digits(in_unit(value, dimension, unit))} {unit}".rstrip()


def in_one_unit(raw: Sequence[Any], column: Column,
                system: System = METRIC) -> tuple[str, list[str]]:
    """Return (unit, cells) of a column: the unit that suits its largest value."""
    unit = unit_of_column([value_of(one) for one in raw], column, system)
    return unit, [_number(one, column.dimension, unit) for one in raw]


def value_of(raw: Any) -> Any:
    """Return the value of a cell, without its spread."""
    return raw[0] if isinstance(raw, tuple) else raw


def unit_of_column(values: Sequence[float | None], column: Column, system: System) -> str:
    """Return the unit in which a column is shown; "" = none."""
    if not column.dimension:
        return ""
    largest = max((abs(one) for one in values if one is not None), default=0.0)
    if not largest:     # a column of nothing, as large as others of its kind are
        largest = USUAL.get(column.dimension, 1.0)
    return unit_of(SMALLEST if column.is_fine else largest, column.dimension, system)


def _number(raw, dimension, unit):
    if raw is None:
        return NOTHING
    if not dimension:
        return f"{value_of(raw):.3g}"
    if isinstance(raw, Range):
        value, low, high = (_digits(in_unit(one, dimension, unit), digits)
                            for one, digits in zip(raw, RANGE_DIGITS, strict=True))
        return value if raw.low == raw.high else f"{value}{RANGE_BEGINS}{low}-{high})"
    value, spread = raw if isinstance(raw, tuple) else (raw, None)
    if value is None:
        return NOTHING
    number = in_unit(value, dimension, unit)
    if not spread or spread < SURE_FRAC * abs(value):
        return _digits(number)
    width = abs(in_unit(value + spread, dimension, unit) - number)
    place = max(0, 1 - math.floor(math.log10(width)))
    return f"{number:.{place}f} +- {width:.{place}f}"


def _digits(number, digits=DIGITS):
    """Return a number with so many digits, but never in powers of ten."""
    if not number:
        return "0"
    return f"{number:.{max(0, min(4, digits - 1 - math.floor(math.log10(abs(number)))))}f}"


def _table(table: Table, system: System) -> list[str]:
    """Return a table; its headings take lines, so that a column is no wider than its figures."""
    headings, rows = rows_of(table, system)
    shown_columns = [one for one in table.columns if one.dimension != "hidden"]
    is_words = [column.dimension == "text" for column in shown_columns]
    # A range may stand under its value where there is no room beside it.
    breaks = [words or any(RANGE_BEGINS in row[place] for row in rows)
              for place, words in enumerate(is_words)]
    tops, widths = _fitted(headings, rows, breaks)
    found = _wrapped(table.title, "  ")
    for row in zip(*tops, strict=True):
        found.append(_row(row, widths, is_words))
    for row in rows:
        cells = [textwrap.wrap(one, width, break_on_hyphens=False) or [""] if may else [one]
                 for one, width, may in zip(row, widths, breaks, strict=True)]
        found += [_row(line, widths, is_words) for line in zip_longest(*cells, fillvalue="")]
    return [*found, *_wrapped(table.note, INDENT)] if table.note else found


def _fitted(headings, rows, breaks):
    """Return (lines of each heading, widths of the columns) for which a table fits.

    Headings take more lines first; then cells do that may be broken, by column.
    """
    for heading_width in HEADING_WIDTHS:
        tops = [heading_lines(one, heading_width) for one in headings]
        widths = [max(map(len, (*top, *(row[place] for row in rows))))
                  for place, top in enumerate(tops)]
        excess = len(INDENT) + sum(widths) + len(GAP) * (len(widths) - 1) - WIDTH
        if excess <= 0:
            break
    while excess > 0:
        widest = max((place for place, may in enumerate(breaks) if may),
                     key=lambda place: widths[place], default=None)
        if widest is None or widths[widest] <= max([NARROWEST, *map(len, tops[widest])]):
            break
        widths[widest] -= 1
        excess -= 1
    deep = max(map(len, tops))
    return [[""] * (deep - len(one)) + one for one in tops], widths


def _row(cells, widths, is_words):
    return (INDENT + GAP.join(
        f"{one:<{width}}" if words else f"{one:>{width}}"
        for one, width, words in zip(cells, widths, is_words, strict=True))).rstrip()


def heading_lines(heading: str, width: int) -> list[str]:
    """Return a heading as lines, its unit on one of its own."""
    name, _, unit = heading.partition(" [")
    return [*textwrap.wrap(name, width, break_long_words=False), *([f"[{unit}"] if unit else [])]


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ",
                         break_on_hyphens=False)
