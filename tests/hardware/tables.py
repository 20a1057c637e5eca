"""What hardware/ says, and the demo rig that it is worked out for."""

import functools
import pathlib

from forebay.docs import hardware
from forebay.docs.sheets import worst
from forebay.rig import load

ROOT = pathlib.Path(__file__).resolve().parents[2]
PINS, PARTS, WIRING, HAZARDS, COMMISSIONING = (
    hardware.load(ROOT, name) for name in ("pins", "parts", "wiring", "hazards", "commissioning")
)


@functools.cache
def rig():
    """The demo rig as "section.key_unit" [SI]."""
    return load().plant()


@functools.cache
def figures():
    """The worst that its parts may meet."""
    return worst.figures(rig(), PARTS)


def part(name):
    """A row of parts.toml by its name."""
    return next(row for row in PARTS["part"] if row["name"] == name)
