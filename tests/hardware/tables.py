"""What hardware/ says, and the demo rig that it is worked out for."""

import functools
import pathlib

from forebay.docs import hardware
from forebay.hardware.build import Build
from forebay.rig import load

ROOT = pathlib.Path(__file__).resolve().parents[2]
PINS, PARTS, HAZARDS, COMMISSIONING, POINTS, CARDS = (
    hardware.load(ROOT, name)
    for name in ("pins", "parts", "hazards", "commissioning", "points", "cards")
)


@functools.cache
def build(demo="hillside"):
    """The hardware of a packaged rig."""
    return Build.of(load(demo=demo))


def rig():
    """The demo rig as "section.key_unit" [SI]."""
    return build().values


def figures():
    """The worst that its parts may meet."""
    return build().figures


def part(name):
    """A row of parts.toml by its name."""
    return next(row for row in PARTS["part"] if row["name"] == name)
