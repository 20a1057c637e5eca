"""What hardware/ says, and the demo rig that it is worked out for."""

import functools
import pathlib

from forebay.docs import hardware
from forebay.docs.sheets import rig as sheets
from forebay.hardware.build import Build
from forebay.rig import load, load_text

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


def named(name):
    """The hardware of a packaged rig, or of the demo with another part."""
    return other(name) if name in OTHERS else build(name)


@functools.cache
def sheets_of(name):
    """Every sheet of such a rig by its file's name: drawn once for all tests."""
    return sheets.files(named(name))


# Circuits that a rig may have and the demo has not, by lines to change in its description.
OTHERS = {
    "servo": [("valve_kind = 2", "valve_kind = 1")],
    "reversed": [("valve_kind = 2", "valve_kind = 3")],
    "spring": [("valve_kind = 2", "valve_kind = 4"),
               ('on_power_loss = "stays"', 'on_power_loss = "closes"')],
    "supervised": [("valve_kind = 2", "valve_kind = 2\nloop_supervised = 1")],
    "thermistor": [("valve_kind = 2", "valve_kind = 2\nmotor_sensor = 2"),
                   ("flow_frac = 0.02", 'flow_frac = 0.02\nvalve_position = "absent"')],
    "lead": [('[supply]\nvoltage = "12.8 V"', '[supply]\nvoltage = "12 V"')],
}


@functools.cache
def other(name):
    """The demo with another part."""
    text = load().toml_text
    for old, new in OTHERS[name]:
        assert old in text
        text = text.replace(old, new, 1)
    return Build.of(load_text(text, name))
