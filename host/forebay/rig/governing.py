"""What the governor must know of the valve, worked out from the rig's hydraulics.

The governor thinks in shares of full jet power: the power of the jet with the
valve fully open and the upper tank half-way between empty and full. With a
fixed nozzle, jet power goes with the cube of flow.
"""

import hashlib
from collections.abc import Mapping
from typing import Any

from keeper.physics import of_rig
from keeper.physics.generation import TurbineSet

# The keys that the curve and the gain rest on, for people.
KEYS = ("upper", "penstock", "valve", "turbine")
# A guess of lamp power over jet power at full jet power; the loop's gain is
# low enough to bear twice as much.
LAMP_FRAC = 0.4
# Share of full power that the proportional part moves for an error of full power.
GAIN_FRAC = 0.3
MOST_RIG_ID = 0x3FFFFFFF
_PERMILLE = 1000
_MICRO = 1e6


def identity(name: str) -> int:
    """Return the rig's identity [-], 1 to 0x3FFFFFFF, from a hash of its name."""
    digest = hashlib.sha256(name.encode()).digest()
    return 1 + int.from_bytes(digest[:8], "big") % MOST_RIG_ID


def turbine_set(values: Mapping[str, Any]) -> TurbineSet:
    """Return the rig's turbine set; values: by "section.key_unit" [SI]."""
    return TurbineSet(*of_rig.turbine_set(values, *of_rig.water(values)))


def _mean_head_m(values: Mapping[str, Any]) -> float:
    """Water surface above the nozzle half-way between empty and full [m]."""
    middle_m3 = (values["upper.empty_volume_m3"] + values["upper.full_volume_m3"]) / 2
    return values["upper.base_height_m"] + of_rig.tank(values, "upper.").level_m(middle_m3)


def position_frac(values: Mapping[str, Any], share: float) -> float:
    """Return the valve travel [-], 0 to 1, for a share of full jet power [-], 0 to 1.

    Inverts the valve's inherent characteristic for the flow (share)^(1/3) that the
    penstock and the nozzle leave; values by "section.key_unit" [SI].
    """
    machine, head_m = turbine_set(values), _mean_head_m(values)
    return machine.travel_for_frac(machine.steady(1.0, head_m)[0] * share ** (1 / 3), head_m)


def lowest_head_m(values: Mapping[str, Any]) -> float:
    """Return the head [m] under which the light ends: the upper tank empty, 71L-UP."""
    level_m = of_rig.tank(values, "upper.").level_m(values["upper.empty_volume_m3"])
    return values["upper.base_height_m"] + level_m


def full_jet_W(values: Mapping[str, Any]) -> float:
    """Return the power of the jet [W] with the valve fully open, at mean head."""
    machine = turbine_set(values)
    return machine.jet_power_W(machine.steady(1.0, _mean_head_m(values))[0])


def gain_upermille_mW(values: Mapping[str, Any]) -> float:
    """Return the governor's gain [millionths of a permille of jet power per mW]."""
    full_mW = LAMP_FRAC * full_jet_W(values) * 1e3
    return GAIN_FRAC * _PERMILLE / full_mW * _MICRO
