"""The sheets of one rig's hardware: which there are, and the text of each."""

from collections.abc import Callable
from functools import partial

from forebay.docs.schematic import boxing, plumbing, strips
from forebay.docs.sheets import (
    cabling,
    cards,
    circuits,
    commissioning,
    hazards,
    heights,
    interlocks,
    parts,
    striping,
)
from forebay.hardware.build import Build

# What every rig has beside the drawings of its circuits.
SHEETS: dict[str, Callable[[Build], str]] = {
    "parts.md": parts.page, "wiring.md": circuits.page, "cables.md": cabling.page,
    "commissioning.md": commissioning.page, "heights.md": heights.page,
    "interlocks.md": interlocks.page, "hazards.md": hazards.page, "cards.md": cards.page,
    "box.svg": boxing.svg, "strips.md": striping.page, "plumbing.svg": plumbing.svg,
}


def makers(build: Build) -> dict[str, Callable[[Build], str]]:
    """Return what makes each sheet of a rig, by its file's name."""
    return {**SHEETS,
            **{file: partial(interlocks.svg, place=place)
               for file, place in interlocks.names(build).items()},
            **{file: partial(strips.svg, place=place)
               for file, place in striping.names(build).items()},
            **{file: partial(circuits.svg, drawing=drawing)
               for file, drawing in circuits.drawings(build).items()}}


def files(build: Build) -> dict[str, str]:
    """Return the text of every sheet by its file's name."""
    return {file: make(build) for file, make in makers(build).items()}
