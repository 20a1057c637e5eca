"""The page on the hazards: cause, hardware, elements, tests, and what remains."""

from typing import Any

from forebay.docs.sheets import lesser, text

_HEAD = """\
# Hazards

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


def page(hazards: dict[str, Any]) -> str:
    """The page. hazards: hardware/hazards.toml."""
    head = _HEAD.format(drawn=text.DRAWN.format("hazards"))
    return "\n".join([head, *(_hazard(hazard) for hazard in hazards["hazard"]),
                      lesser.section()])


def _hazard(hazard: dict[str, Any]) -> str:
    tests = [f"`{name}`" for name in hazard["tests"]]
    lines = [
        f"Cause: {hazard['cause']}.",
        f"Hardware: {', '.join(hazard['hardware'])}.",
        f"Elements: {', '.join(hazard['elements']) or 'none: the firmware cannot help'}.",
        *([f"Where an instrument is absent, later: {', '.join(hazard['stand_ins'])}."]
          if "stand_ins" in hazard else []),
        f"Card: {hazard['card']}.",
        f"Remains: {hazard['remains'] or 'nothing that is known'}.",
    ]
    items = "".join(text.item(line) for line in lines)
    proofs = "".join(f"  - {name}\n" for name in tests)  # a path is not wrapped
    proof = f"- Proved by:\n{proofs}" if tests else "- Proved by: no test can.\n"
    return f"## {hazard['id']}: {hazard['hazard']}\n\n{items}{proof}"
