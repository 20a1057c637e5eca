"""What a plan answers with: figures, tables and sentences in parts, as data.

Terminal, JSON and page show the same parts in the same order; nothing here computes.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

COVERING = 2.0       # standard uncertainties of what is shown beside a value: about 95 %


class Figure(NamedTuple):
    """One figure; spread: two standard uncertainties, None = none is stated."""

    key: str                     # of the JSON document, with the unit of `value`
    name: str                    # for people
    value: float | None          # [SI unit of the dimension]; None = cannot be said
    dimension: str               # of forebay.units; "" = a plain number
    spread: float | None = None
    note: str = ""


class Range(NamedTuple):
    """A value, and between what it lies, where that is not as much to either side."""

    value: float
    low: float
    high: float


class Column(NamedTuple):
    """One column of a table.

    dimension: "text" = words; "as said" = that in the row's last cell; "hidden" = not shown.
    is_fine: in the smallest unit, such as millimetres, whatever its size.
    """

    key: str
    name: str
    dimension: str
    is_fine: bool = False


class Table(NamedTuple):
    """Rows under columns; a cell: a value [SI], None, words, (value, spread) or a Range."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: Sequence[Sequence[Any]]
    note: str = ""


class Part(NamedTuple):
    """One part of the plan.  says: what a person must know of it; warns: what must be changed."""

    key: str
    title: str
    figures: Sequence[Figure] = ()
    tables: Sequence[Table] = ()
    says: Sequence[str] = ()
    warns: Sequence[str] = ()
