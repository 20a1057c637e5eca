"""What a check against the outside is: a call of keeper.physics and the value it must give."""

import dataclasses
import importlib
import types
from typing import Any

PACKAGE = "keeper.physics"

# Why a tolerance is what it is; a check may say its own reason instead.
CLOSED_FORM = "same closed form, worked out apart: rounding only"
PRINTED = "half a unit or so of the last digit that the source prints"
ROUND_TRIP = "inverse of a value from the source: rounding and the root's last step"


@dataclasses.dataclass(frozen=True)
class Make:
    """An object to be built before the call. target: "module.Class"; args: for its constructor."""

    target: str
    args: tuple[Any, ...]

    def __repr__(self) -> str:
        return call_text(self.target, self.args)


@dataclasses.dataclass(frozen=True)
class Check:
    """One value from outside the project.

    target: "module.function" or "module.Class.method"; for a method the first
    of args is the object, a Make.
    expected: the source's value, times `scale` ours: scale turns our SI unit
    into the source's. A string or a tuple is compared whole.
    tolerance: relative, or absolute in the source's unit if `absolute`.
    source: where the value stands. RUN: that library was run; READ: it stands
    on that page; CALC: closed form worked out apart; MEM: from memory;
    PRACTICE: common practice, no source.
    why: why the tolerance is what it is. item: which part of a tuple, or which
    attribute, counts.
    """

    target: str
    args: tuple[Any, ...]
    expected: Any
    tolerance: float
    source: str
    why: str = CLOSED_FORM
    absolute: bool = False
    item: int | str | None = None
    scale: float = 1.0

    def residual(self, result: Any) -> float:
        """Deviation of a result: relative, or absolute in the source's unit."""
        if not isinstance(self.expected, int | float):
            return 0.0 if result == self.expected else float("inf")
        if result == self.expected:
            return 0.0
        found = result * self.scale
        gap = abs(found - self.expected)
        return gap if self.absolute or self.expected == 0 else gap / abs(self.expected)

    def holds(self, result: Any) -> bool:
        """True if the result is within the tolerance."""
        return self.residual(result) <= self.tolerance


def module_of(target: str) -> types.ModuleType:
    """The module of keeper.physics that a target names first."""
    return importlib.import_module(f"{PACKAGE}.{target.split('.')[0]}")


def find(target: str) -> Any:
    """The function, class or method that a target names."""
    found: Any = module_of(target)
    for name in target.split(".")[1:]:
        found = getattr(found, name)
    return found


def build(value: Any, number=lambda x: x) -> Any:
    """An argument ready for a call: objects made, each number passed through `number`."""
    if isinstance(value, Make):
        return find(value.target)(*(build(arg, number) for arg in value.args))
    if isinstance(value, tuple | list):
        return tuple(build(item, number) for item in value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return number(value)
    return value


def run(check: Check, number=lambda x: x) -> Any:
    """Result of a check's call, the part that counts."""
    result = find(check.target)(*(build(arg, number) for arg in check.args))
    if check.item is None:
        return result
    return getattr(result, check.item) if isinstance(check.item, str) else result[check.item]


def call_text(target: str, args: tuple[Any, ...]) -> str:
    """Source text of a call; methods are called through their class, which works everywhere."""
    return f"{target}({', '.join(repr(arg) for arg in args)})"
