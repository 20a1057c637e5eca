"""The page on the hazards: cause, hardware, elements, tests, and what remains."""

from typing import Any

from forebay.docs.sheets import lesser, text
from forebay.hardware import duty, tables
from forebay.hardware.build import Build
from forebay.rig import remaining
from forebay.rig.instruments import mask

_HEAD = """\
# Hazards: {name}

{drawn}

What can hurt someone or ruin something, and what stands against it. The
hardware acts with the board removed; elements are those of the firmware
(`firmware/keeper/protection/elements.py`); a test proves the firmware's part on the
simulated rig, or works out the hardware's from its figures. No test here shows
silicon, contacts or water: that is in the bench sheet and the commissioning
list, [commissioning.md](commissioning.md), and all of it is *not tried*.

Hobby-grade, not a safety-rated system. The list is no assessment of your site:
local codes and licensed practice come first.
"""


def page(build: Build) -> str:
    """The page of a rig: parts and elements that it has."""
    parts = {row["name"] for row in duty.used_rows(build.netlist)}
    judging = remaining.fitted_elements(mask(build.values))
    head = _HEAD.format(name=build.name, drawn=text.MADE)
    return "\n".join([head, *(_hazard(hazard, parts, judging)
                              for hazard in tables.load("hazards")["hazard"]),
                      lesser.section(build.rig)])


def _hazard(hazard: dict[str, Any], parts: set[str], judging: set[str]) -> str:
    tests = [f"`{name}`" for name in hazard["tests"]]
    elements = [one for one in hazard["elements"] if one in judging]
    instead = [one for one in hazard.get("stand_ins", ()) if one in judging]
    none = ("none: the firmware cannot help" if not hazard["elements"]
            else "none with the instruments of this rig")
    lines = [
        f"Cause: {hazard['cause']}.",
        f"Hardware: {', '.join(one for one in hazard['hardware'] if one in parts)}.",
        f"Elements: {', '.join(elements) or none}.",
        *([f"In place of those without an instrument, later: {', '.join(instead)}."]
          if instead else []),
        f"Card: {hazard['card']}.",
        f"Remains: {hazard['remains'] or 'nothing that is known'}.",
    ]
    items = "".join(text.item(line) for line in lines)
    proofs = "".join(f"  - {name}\n" for name in tests)  # a path is not wrapped
    proof = f"- Proved by:\n{proofs}" if tests else "- Proved by: no test can.\n"
    return f"## {hazard['id']}: {hazard['hazard']}\n\n{items}{proof}"
