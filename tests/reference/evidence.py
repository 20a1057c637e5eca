"""What the checks found, target by target, in the form that the page shows."""

import dataclasses
import functools

from tests.reference.model import Check, run
from tests.reference.physics_table import CHECKS, NOT_A_QUANTITY, public_targets
from tests.reference.single import worst_errors
from tests.reference.stress import STRESS


@dataclasses.dataclass(frozen=True)
class Group:
    """Checks of one target against one source: how many, the worst residual, what is allowed.

    absolute: residual and tolerance are in the source's unit, not relative.
    """

    source: str
    why: str
    count: int
    residual: float
    tolerance: float
    absolute: bool


@dataclasses.dataclass(frozen=True)
class Evidence:
    """All groups of a target, its worst error in single precision, or why there is none."""

    groups: tuple[Group, ...]
    single_error: float | None
    excuse: str


def _groups(target: str) -> tuple[Group, ...]:
    sorted_out: dict[tuple, list[Check]] = {}
    for check in CHECKS:
        if check.target == target:
            key = (check.source, check.why, check.tolerance, check.absolute)
            sorted_out.setdefault(key, []).append(check)
    return tuple(
        Group(
            source,
            why,
            len(checks),
            max(check.residual(run(check)) for check in checks),
            tolerance,
            absolute,
        )
        for (source, why, tolerance, absolute), checks in sorted_out.items()
    )


@functools.cache
def evidence() -> dict[str, Evidence]:
    """Evidence for every public target."""
    single = worst_errors(CHECKS + STRESS)
    return {
        target: Evidence(_groups(target), single.get(target), NOT_A_QUANTITY.get(target, ""))
        for target in public_targets()
    }
