"""What closes, what cannot be checked, and what a rig cannot tell, in words."""

from forebay.balance import Balance
from forebay.balance.model import ENERGIES, NODES, STEPS, WATER
from forebay.balance.ways import BOUNDS, MEASURED, TANGLED, UNKNOWN
from forebay.review.figures import COVERAGE, J_PER_WH, verdict

RESIDUALS = [row for row in WATER if row[0].endswith("residual")]
LABELS = dict((*ENERGIES, *STEPS, *WATER))


def closures(found: Balance):
    """Return (label, what is left over or None, its scale and unit, what that says) by node."""
    nodes = [(key, label, found.nodes[key], (1 / J_PER_WH, "Wh")) for key, label in NODES]
    water = [(key, label, found.water[key], (1.0, "L")) for key, label in RESIDUALS]
    return [(label, left, unit, verdict(left) if left is not None
             else f"cannot be checked: {found.told[key].by}")
            for key, label, left, unit in nodes + water]


BY_CHANCE = ("On a sound rig, too, one residual in twenty lies beyond two standard uncertainties,"
             " by chance.")


def verdicts(found: Balance) -> list[str]:
    """Return what the closures say in all: whether the tank is tight, which meter is off."""
    said = [one.words for one in (found.leak, found.blame) if one is not None]
    beyond = any(left is not None and abs(left.normalised or 0.0) > COVERAGE
                 for _, left, _, _ in closures(found))
    return [*said, *([BY_CHANCE] if beyond else [])]


def untold(found: Balance) -> list[str]:
    """Return what a rig cannot tell, one paragraph each, and the part that would tell the most."""
    reasons: dict[str, list[str]] = {}
    for key, label in (*ENERGIES, *WATER):
        if found.told[key].kind == UNKNOWN and not key.endswith("residual"):
            reasons.setdefault(found.told[key].by, []).append(_short(label))
    lines = [f"{_listed(labels)}: {why}" for why, labels in reasons.items()]
    within = [_short(label) for key, label in (*ENERGIES, *WATER)
              if found.told[key].kind == BOUNDS]
    if within:
        lines.append(f"only within bounds: {_listed(within)}")
    steps = [(label, found.told[key]) for key, label in STEPS if found.told[key].kind == UNKNOWN]
    tangled = [_short(label) for label, told in steps if told.by == TANGLED]
    if tangled:
        lines.append(f"{_listed(tangled)}: {TANGLED}")
    resting = [_short(label) for label, told in steps if told.by != TANGLED]
    if resting:
        lines.append(f"hence these steps: {_listed(resting)}")
    if found.telling:
        known = [_short(LABELS[key]) for key in found.telling.known if key in LABELS]
        lines.append(f"A {found.telling.name} would tell the most:"
                     f" {found.telling.effort}. Known with it: {_listed(known)}.")
    return lines


def is_only_switched(found: Balance) -> bool:
    """Return whether the hours of the pump are those of its switch: nothing tells if it ran."""
    return not found.told["pump"].is_known and found.told["up"].kind != MEASURED


def pump_hours(found: Balance) -> str:
    """Return the hours of the pump in words."""
    return f"pump {'switched on ' if is_only_switched(found) else ''}{found.pump_h:.1f} h"


def _short(label):
    """Return a label without what explains it."""
    return label.partition(":")[0].partition(",")[0]


def _listed(labels):
    return ", ".join(labels)
