"""What closes, what cannot be checked, and what a rig cannot tell, in words."""

from forebay.balance import Balance
from forebay.balance.blame import NAMED, NONE, SURE_U, UNEXPLAINED
from forebay.balance.leaks import GAIN, LEAK
from forebay.balance.model import ENERGIES, NODES, STEPS, WATER
from forebay.balance.ways import BOUNDS, MEASURED, TANGLED, UNKNOWN
from forebay.review.figures import COVERAGE, J_PER_WH, verdict

TELLING_H = 0.05  # what one decimal shows
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
             " by chance: nothing to do, unless the same one is off the same way on other days.")
COMPARE = "Compare it with a meter of your own, and state what you find in the rig's description."
COMPARE_ALL = "Compare these with a meter of your own, one by one."
NO_CHANCE = ("A residual beyond three standard uncertainties is hardly chance: look for a loss"
             " first, such as a leak, water over the rim or a lead that gets warm, then compare"
             " the meters of that line with one of your own, one by one.")
LOST = "What does not close is that water: see to the tank first."


def verdicts(found: Balance) -> list[str]:
    """Return what the closures say in all: whether the tank is tight, which meter is off.

    The last line is what to do.
    """
    leak, blame = found.leak, found.blame
    off_u = max((abs(left.normalised or 0.0) for _, left, _, _ in closures(found)
                 if left is not None), default=0.0)
    said = [] if leak is None else [leak.words]
    if blame is not None and blame.suspects:
        return [*said, blame.words, COMPARE if blame.kind == NAMED else COMPARE_ALL]
    is_lost = leak is not None and leak.kind in (LEAK, GAIN) and (
        blame is None or blame.is_by_chance) and all(
        left is None or abs(left.normalised or 0.0) <= SURE_U for left in found.nodes.values())
    if blame is not None:
        is_open = off_u > SURE_U and blame.kind == NONE and not is_lost
        said.append(UNEXPLAINED if is_open else blame.words)
    if off_u <= COVERAGE:
        return said
    if off_u <= SURE_U:
        return [*said, BY_CHANCE]
    return [*said, LOST if is_lost else NO_CHANCE]


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
    return (f"pump {'switched on ' if is_only_switched(found) else ''}{found.pump_h:.1f} h"
            f"{_in_the_dark(found)}")


def _in_the_dark(found):
    """Return for how much of its time the pump's switch was on without any sun, if at all."""
    if not is_only_switched(found) or (found.pump_sun_down_h or 0.0) < TELLING_H:
        return ""
    return (f" ({found.pump_sun_down_h:.1f} h of that with the sun down, when no water comes up:"
            " nothing tells this board that the panel is dark, so it leaves the switch on)")


def _short(label):
    """Return a label without what explains it."""
    return label.partition(":")[0].partition(",")[0]


def _listed(labels):
    return ", ".join(labels)
