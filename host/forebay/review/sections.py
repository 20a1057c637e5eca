"""A part of a review that is worked out elsewhere: sentences and a table, for page and terminal.

The trend and what was to be expected come as these.
"""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Section:
    """A part with a heading.

    lines: sentences; columns: heads of the table; rows: its cells as text, the first one the
    label; curves: for the page's plot, (name, unit, times [s since 1970 UTC], values).
    """

    heading: str
    lines: list[str] = field(default_factory=list)
    columns: list[str] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)
    curves: list[tuple] = field(default_factory=list)
