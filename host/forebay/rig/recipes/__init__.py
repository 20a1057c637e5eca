"""How each figure of a rig is found by a person with simple things, and what is doubted of it.

- Every key of forebay.rig.schema is a figure or fact of the real world, with a row here, or
  a choice of the owner, declared here.
- Uncertainties are standard ones and guesses, unless [model] of the rig states them.
- What a planner makes of it is not known here.
"""

from collections.abc import Mapping
from typing import Any

from forebay.rig.instruments import INSTRUMENTS
from forebay.rig.keys import OPTIONAL, REQUIRED
from forebay.rig.recipes import machines, reading, water
from forebay.rig.recipes.rows import Row
from forebay.rig.schema import KEYS, PLACE_OF

__all__ = ["CHOSEN", "CHOSEN_SECTIONS", "ROWS", "Row", "figures", "guessed", "is_figure"]

_SECTIONS = {
    "site": water.SITE, "upper": water.UPPER, "lower": water.LOWER,
    "rising_main": water.RISING_MAIN, "penstock": water.PENSTOCK, "panel": machines.PANEL,
    "pump": machines.PUMP, "motor": machines.MOTOR, "valve": machines.VALVE,
    "turbine": machines.TURBINE, "generator": machines.GENERATOR, "lamps": machines.LAMPS,
    "support": water.SUPPORT, "cables": water.CABLES,
    "supply": machines.SUPPLY, "sensors": reading.SENSORS, "board": reading.BOARD,
}
# "section.key" -> how it is found.
ROWS: dict[str, Row] = {f"{section}.{key}": row for section, rows in _SECTIONS.items()
                        for key, row in rows.items()}

# Sections whose keys are all choices: limits and wishes; and [model], which says how well one
# knows what the others say.
CHOSEN_SECTIONS = ("rig", "model", "limits", "night", "journal", "link")
# And single keys: with what a rehearsal begins, at what is tripped, what is wished, which
# instruments there are, to which pin and address each is wired.
CHOSEN = frozenset({
    "support.gust", "support.allowed_load", "support.allowed_bearer",
    "site.zone", "site.air_temperature", "upper.start_volume", "lower.start_volume",
    "motor.trip_temperature", "motor.reset_temperature", "valve.rest", "valve.press",
    "turbine.output_uncertainty", "generator.trip_voltage", "generator.reset_voltage",
    "lamps.steps", "supply.chemistry", "supply.start_charge_frac", "supply.low_voltage",
    "supply.good_voltage",
    *(one.key for one in INSTRUMENTS),
    *(place for place in KEYS if place not in ROWS
      and place.partition(".")[0] in (*CHOSEN_SECTIONS, "board")),
})


def is_figure(place: str) -> bool:
    """Return whether a key, "section.key", is of the real world, so that it can be measured."""
    return place in ROWS


def figures(values: Mapping[str, Any]) -> list[str]:
    """Return the "section.key" of each figure and fact that a rig has, in the file's order.

    values: by "section.key_unit", of a sound rig.
    """
    return [place for place in KEYS if place in ROWS and ROWS[place].used(values)
            and values.get(PLACE_OF[place]) is not None]


def guessed(place: str) -> bool:
    """Return whether a figure that a file leaves out is then a guess about the part."""
    default = KEYS[place].default
    return default is not REQUIRED and default is not OPTIONAL and not ROWS[place].follows
