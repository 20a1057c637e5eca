"""What one key of a rig's description may be: kind, range, default, meaning."""

from collections.abc import Callable, Mapping
from typing import NamedTuple

from forebay import units

NUMBER, COUNT, TEXT, CHOICE = "number", "count", "text", "choice"
_PLAIN_KINDS = (NUMBER, COUNT, TEXT, CHOICE)

REQUIRED = object()  # the description must state it
OPTIONAL = object()  # may be absent: the value is then None


class Derived(NamedTuple):
    """A default that follows from other keys."""

    text: str  # the rule, for people
    rule: Callable[[Mapping], float | None]  # from values by "section.key_unit"


class Key(NamedTuple):
    """One key of a section."""

    name: str
    kind: str  # a dimension of forebay.units, or one of the plain kinds
    low: str = ""  # as a person would write it, with its unit
    high: str = ""
    default: object = REQUIRED
    meaning: str = ""
    choices: tuple[str, ...] = ()
    shape: str = ""  # the key belongs to this shape of tank only
    counts: tuple[int, int] | None = None  # least and most values of a list; None = no list

    @property
    def is_quantity(self) -> bool:
        """Whether text with a unit is read as its value."""
        return self.kind not in _PLAIN_KINDS

    @property
    def unit(self) -> str:
        """Unit of plain numbers; "" = none."""
        return units.DIMENSIONS[self.kind].unit if self.is_quantity else ""

    @property
    def attribute(self) -> str:
        """Name of the value: the key, then its SI unit."""
        suffix = units.DIMENSIONS[self.kind].suffix if self.is_quantity else ""
        return f"{self.name}_{suffix}" if suffix else self.name

    @property
    def bounds(self) -> tuple[float, float]:
        """Lowest and highest value [unit of plain numbers]."""
        if self.is_quantity:
            return units.parse(self.low, self.kind), units.parse(self.high, self.kind)
        return float(self.low), float(self.high)

    @property
    def allowed(self) -> str:
        """What may stand there, in words."""
        if self.kind == CHOICE:
            *rest, last = [f'"{choice}"' for choice in self.choices]
            return f"{', '.join(rest)} or {last}"
        if self.kind == TEXT:
            return f"{self.low} to {self.high} printable characters"
        span = f"{self.low} to {self.high}"
        if self.kind == COUNT:
            span = f"a whole number, {span}"
        if self.counts:
            return f"{self.counts[0]} to {self.counts[1]} values of {span}"
        return span


class Section(NamedTuple):
    """One section: a table of the TOML file."""

    name: str
    meaning: str
    keys: tuple[Key, ...]

    def key(self, name: str) -> Key | None:
        """Return a key by its name; None if there is none."""
        return next((key for key in self.keys if key.name == name), None)
