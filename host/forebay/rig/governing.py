"""What the governor must know of the way from valve to light, worked out from the rig.

How much a step of the valve changes the light, where to open it for a power, how long
the wheel takes to settle; and how finely all that lets the light be held.
"""

import hashlib
from collections.abc import Mapping
from typing import Any

from keeper.boards import wiring
from keeper.operation import governor
from keeper.physics import of_rig
from keeper.physics.generation import TurbineSet
from keeper.physics.generator import lamp_current_A

# The keys that the tables rest on, for people.
KEYS = ("upper", "penstock", "valve", "turbine", "generator", "lamps")
# Where light changes faster with travel than this, or hardly at all, the table ends
# [d ln P / d x]: beside the lamps' threshold, and with the valve wide open; a guess.
STEEPEST, FLATTEST = 30.0, 0.2
STEEPEST_TABLED = 100.0  # of a step without light: the end of what the board takes
NEAR_FRAC = 0.01         # of travel, over which the change is taken
SETTLES = 3.0            # time constants of the wheel: within 5 %
LEAST_SETTLE_S = 1.0     # three turns of the monitors that are read in turn, and the water's
PROMISED_FRAC = 0.05     # of the light: what a governor is asked to hold
REFUSED_FRAC = 0.15      # a rig that cannot hold this is refused
MOST_RIG_ID = 0x3FFFFFFF
_PERMILLE = 1000


def identity(name: str) -> int:
    """Return the rig's identity [-], 1 to 0x3FFFFFFF, from a hash of its name."""
    digest = hashlib.sha256(name.encode()).digest()
    return 1 + int.from_bytes(digest[:8], "big") % MOST_RIG_ID


def turbine_set(values: Mapping[str, Any]) -> TurbineSet:
    """Return the rig's turbine set; values: by "section.key_unit" [SI]."""
    return TurbineSet(*of_rig.turbine_set(values, *of_rig.water(values)))


def _head_m(values: Mapping[str, Any], volume_m3: float) -> float:
    """Water surface above the nozzle with so much in the upper tank [m]."""
    return values["upper.base_height_m"] + of_rig.tank(values, "upper.").level_m(volume_m3)


def mean_head_m(values: Mapping[str, Any]) -> float:
    """Return the head half-way between an empty and a full upper tank [m]."""
    return _head_m(values, (values["upper.empty_volume_m3"] + values["upper.full_volume_m3"]) / 2)


def lowest_head_m(values: Mapping[str, Any]) -> float:
    """Return the head [m] under which the light ends: the upper tank empty, 71L-UP."""
    return _head_m(values, values["upper.empty_volume_m3"])


def highest_head_m(values: Mapping[str, Any]) -> float:
    """Return the head of a full upper tank [m], 71H-UP."""
    return _head_m(values, values["upper.full_volume_m3"])


def slope(values: Mapping[str, Any], travel_frac: float, head_m: float) -> float:
    """Return how the light changes with the valve's travel, d ln P / d x [-], as the table has it.

    travel_frac: 0 to 1; head_m: water surface above the nozzle [m].
    """
    return min(STEEPEST, max(FLATTEST, _slope(values, travel_frac, head_m)))


def _slope(values: Mapping[str, Any], travel_frac: float, head_m: float) -> float:
    """Return d ln P / d x [-] as it is; STEEPEST where the lamps' threshold is too near."""
    machine = turbine_set(values)
    low, high = max(0.0, travel_frac - NEAR_FRAC), min(1.0, travel_frac + NEAR_FRAC)
    dimmer, brighter = (machine.steady(one, head_m)[3] for one in (low, high))
    if dimmer <= 0.0:
        return STEEPEST
    return 2.0 * (brighter - dimmer) / (brighter + dimmer) / (high - low)


def tabled_slope(values: Mapping[str, Any], step: int) -> float:
    """Return the slope [-] that the governor's table has at a step of the travel, of STEPS.

    Between two steps the table is a straight line.  Where the dimmest light stands, under a
    full tank, that must not lie below the slope proper: a move of twice what is missing
    never comes to rest.  The step before it, where no light is held, makes up for that.
    """
    here, beyond = step / governor.STEPS, (step + 1) / governor.STEPS
    found = slope(values, here, mean_head_m(values))
    head_m = highest_head_m(values)
    dimmest = travel_frac(values, min(values["lamps.steps_W"]), head_m)
    if not here <= dimmest < beyond:
        return found
    after = slope(values, beyond, mean_head_m(values))
    along = (dimmest - here) / (beyond - here)
    needed = after + (_slope(values, dimmest, head_m) - after) / (1.0 - along)
    return min(STEEPEST_TABLED, max(found, needed))


def travel_frac(values: Mapping[str, Any], power_W: float, head_m: float) -> float:
    """Return the travel of the valve [-] for a power of the lamps [W] under a head [m]."""
    machine = turbine_set(values)
    return machine.travel_for_frac(machine.flow_for_lamps_m3_s(power_W), head_m)


def settle_s(values: Mapping[str, Any]) -> float:
    """Return how long the light takes to follow the valve [s].

    The wheel's time constant, J / (dT/dw of the load + of the jet), with the dimmest light.
    """
    machine, dimmest_W = turbine_set(values), min(values["lamps.steps_W"])
    amps = lamp_current_A(dimmest_W, machine.lamp_V, machine.lamp_ohm)
    inner_V = dimmest_W / amps + machine.drop_V + amps * machine.winding
    machine.drive_Nm(inner_V / machine.emf)
    jet_kg_s = machine.push_kg_s_m2 * machine.flow_for_lamps_m3_s(dimmest_W)
    braked = machine.slope_Nm_s() + jet_kg_s * machine.wheel.radius_m
    return max(LEAST_SETTLE_S, SETTLES * values["turbine.inertia_kg_m2"] / braked)


def least_move_frac(values: Mapping[str, Any]) -> float:
    """Return the least step of the valve [of its travel]."""
    if values["board.valve_kind"] in wiring.MOTORS:
        return min(1.0, values["valve.least_pulse_s"] / values["valve.travel_s"])
    return 1.0 / _PERMILLE


def held_frac(values: Mapping[str, Any], power_W: float) -> float:
    """Return within what part of it a light [W] is held, at whichever head is the worst [-]."""
    steepest = max(slope(values, travel_frac(values, power_W, head_m), head_m)
                   for head_m in (highest_head_m(values), lowest_head_m(values)))
    band = governor.BAND_TENTHS / 10 * least_move_frac(values) * steepest
    return max(PROMISED_FRAC, band)
