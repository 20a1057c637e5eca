"""The section of a rig's description that says how the rig is wired to its board.

Its keys are the board's own table, `keeper.boards.wiring.WIRING`; what other
keys already say is the default.
"""

import math
from collections.abc import Mapping
from typing import Any

from forebay.rig.keys import COUNT, Derived, Key, Section
from forebay.words.rig import WIRING
from keeper.boards import wiring

FULL_SCALE_V = 0.08192  # of the shunt voltage of an INA226-type monitor (its data sheet)
MONITORS = ("panel", "pump", "generator", "lamp", "supply")
_MICRO, _MILLI = 1e6, 1e3


def shunt_uohm(range_A: float) -> float:
    """Return the shunt [uohm] whose monitor reaches a range [A], two digits, rounded down."""
    most = FULL_SCALE_V / range_A * _MICRO
    step = 10 ** (math.floor(math.log10(most)) - 1)
    return math.floor(most / step) * step


def _shunt(name: str) -> Derived:
    return Derived(f"from sensors.{name}_range",
                   lambda values: int(shunt_uohm(values[f"sensors.{name}_range_A"])))


_DEFAULTS: dict[str, Derived] = {
    **{f"{name}_shunt_uohm": _shunt(name) for name in MONITORS},
    "level_sensor": Derived("as sensors.level says",
                            lambda values: int(values["sensors.level"] == "fitted")),
    "water_sensor": Derived("as sensors.water_temperature says",
                            lambda values: int(values["sensors.water_temperature"] == "fitted")),
    "valve_feedback": Derived("as sensors.valve_position says",
                              lambda values: int(values["sensors.valve_position"] == "fitted")),
    "valve_travel_ms": Derived("valve.travel",
                               lambda values: round(values["valve.travel_s"] * _MILLI)),
}

BOARD = Section(
    "board", "How the rig is wired to its board: whole numbers in the unit that ends the name.",
    tuple(Key(row[wiring.W_NAME], COUNT, str(row[wiring.W_LOW]), str(row[wiring.W_HIGH]),
              _DEFAULTS.get(row[wiring.W_NAME], row[wiring.W_DEFAULT]), WIRING[row[wiring.W_NAME]])
          for row in wiring.WIRING))


def entries(values: Mapping[str, Any]) -> list[int]:
    """Return the wiring [integers in table order] from values by "section.key"."""
    return [values[f"board.{name}"] for name in wiring.NAMES]
