"""What a rig lacks, in words; and which one part would tell the most of what is not known.

The rule is over the table of ways: a part is worth the figures that become known with
it, then those that come from a meter instead of a model; of equals the least effort.
"""

from collections.abc import Mapping
from typing import NamedTuple

from forebay.balance.ways import (
    BY_FIGURE,
    MEASURED,
    MODEL,
    RANK,
    TANGLED,
    UNKNOWN,
    Told,
    allows,
)


class Part(NamedTuple):
    """An instrument that may be lacking: its name in a sentence, what it takes to fit."""

    name: str
    effort: str
    minutes: int  # of work by hand; guesses


PARTS = {
    "panel_meter": Part("meter of the panel", "a voltage-and-current monitor in the panel's"
                        " lead, on the two wires of the others; half an hour", 30),
    "pump_meter": Part("meter of the pump", "a voltage-and-current monitor in the pump's lead,"
                       " on the two wires of the others; half an hour", 30),
    "generator_meter": Part("meter of the generator", "a voltage-and-current monitor behind the"
                            " rectifier, on the two wires of the others; half an hour", 30),
    "lamp_meter": Part("meter of the lamps", "a voltage-and-current monitor in the lamps' lead,"
                       " on the two wires of the others; half an hour", 30),
    "supply_meter": Part("meter of the battery", "a voltage-and-current monitor in the battery's"
                         " lead, on the two wires of the others; half an hour", 30),
    "flow_up": Part("flow meter in the rising main", "a pulse flow meter: a union cut into the"
                    " hose, three wires; half an hour", 30),
    "flow_down": Part("flow meter before the turbine", "a pulse flow meter: a union cut into the"
                      " penstock with the tank shut, three wires; an hour", 60),
    "level": Part("level sensor in the upper tank", "a pressure sensor at the outlet or a probe"
                  " from above, three wires, and its two marks by a filling; two hours", 120),
    "full_float": Part("float of a full upper tank", "a float switch, two wires; half an hour",
                       30),
    "empty_float": Part("float of an empty upper tank", "a float switch, two wires; half an hour",
                        30),
}


class Telling(NamedTuple):
    """The part that would tell the most: its name, effort, and figures that it makes known."""

    instrument: str
    name: str
    effort: str
    known: tuple[str, ...]


def no_part(names) -> str:
    """Return "no meter of the panel, no flow meter ..." of instruments by name."""
    return ", ".join(f"no {PARTS[one].name}" for one in names)


def maybe_telling(told: Mapping[str, Told], fitted) -> Telling | None:
    """Return the part that would tell the most; None where nothing is unknown.

    told: how each figure is known; fitted: names of the instruments that are there.
    """
    best = None
    for name, part in PARTS.items():
        if name in fitted:
            continue
        then = _ranks(told, {*fitted, name})
        known = tuple(figure for figure, rank in then.items()
                      if rank >= RANK[MODEL] and not told[figure].is_known)
        metered = sum(rank == RANK[MEASURED] and told[figure].kind != MEASURED
                      for figure, rank in then.items())
        worth = (len(known), metered, -part.minutes)
        if known and (best is None or worth > best[0]):
            best = worth, Telling(name, part.name, part.effort, known)
    return best and best[1]


def _ranks(told, fitted):
    """Return how each figure would be known at least [rank] with some instruments."""
    ranks = {figure: RANK[one.kind] for figure, one in told.items()}
    changed = True
    while changed:
        changed = False
        for figure, rank in ranks.items():
            tangled = told[figure].by == TANGLED
            reached = max((_rank(way, ranks, tangled) for way in BY_FIGURE[figure]
                           if way.sure and allows(way, fitted)), default=RANK[UNKNOWN])
            if reached > rank:
                ranks[figure] = reached
                changed = True
    return ranks


def _rank(way, ranks, tangled):
    """Return the rank of a way whose instruments are there; tangled: its sides need a meter."""
    least = RANK[MEASURED] if tangled else RANK[MODEL]
    if any(ranks[used] < RANK[MODEL] for used in way.uses) or way.uses and (
            max(ranks[used] for used in way.uses) < least):
        return RANK[UNKNOWN]
    return RANK[way.kind]
