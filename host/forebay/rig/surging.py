"""How fast the valve may travel: the surge in the penstock, and what its pipe stands.

The pressure at the valve is that of a tank full to its rim plus the surge of the
flow that the moving valve stops.  A bound: the pipe gives nowhere, and the flow
falls all the way as fast as it does where the valve acts most.
"""

from collections.abc import Mapping
from typing import Any

from forebay.rig import governing
from keeper.physics import of_rig, surge
from keeper.physics.pipes import velocity_m_s

# Speed of sound in cold water, to which a pipe that gives nowhere comes; handbook
# value, from memory. A softer pipe surges less.
STIFF_WAVE_M_S = 1480.0
STEPS = 200             # of travel: finer than the valve's way onto its seat


def standing_m(values: Mapping[str, Any]) -> float:
    """Return the head at the valve [m] under a tank that is full to its rim."""
    return values["upper.base_height_m"] + values["upper.height_m"]


def weight_N_m3(values: Mapping[str, Any]) -> float:
    """Return the weight of the rig's water [N/m3]."""
    density, _, fall = of_rig.water(values)
    return density * fall


def rated_m(values: Mapping[str, Any]) -> float:
    """Return what the penstock is rated for, as a head of water [m]."""
    return values["penstock.pressure_rating_Pa"] / weight_N_m3(values)


def _stopped(values: Mapping[str, Any]) -> tuple[float, float]:
    """Return (velocity [m/s] of the full flow, share of it that the steepest travel stops [-]).

    The share is a multiple: 3 = were the whole travel as its steepest part, a third
    of it would stop the flow.
    """
    machine, head_m = governing.turbine_set(values), standing_m(values)
    full = machine.steady(1.0, head_m)[0]
    before, steepest = 0.0, 0.0
    for step in range(1, STEPS + 1):
        machine.travel(step / STEPS)
        flow = machine.fall_m3_s(head_m)
        before, steepest = flow, max(steepest, flow - before)
    return velocity_m_s(full, values["penstock.diameter_m"]), steepest * STEPS / full


def safe_rate_per_s(values: Mapping[str, Any]) -> float | None:
    """Return the fastest rate of travel [1/s] within the penstock's rating; None = any.

    Raises ValueError if the standing water leaves no room, or water is too fast.
    """
    velocity, steepest = _stopped(values)
    room_m = rated_m(values) - standing_m(values)
    least_s = surge.least_closing_s(values["penstock.length_m"], velocity, STIFF_WAVE_M_S,
                                    room_m, _fall_m_s2(values))
    return None if least_s == 0.0 else 1 / (least_s * steepest)


def default_rate_per_s(values: Mapping[str, Any]) -> float:
    """Return the rate of travel [1/s] of a rig that states none: its valve's own, or the safe."""
    own = 1 / values["valve.travel_s"]
    safe = safe_rate_per_s(values)
    return own if safe is None else min(own, safe)


def pressure_Pa(values: Mapping[str, Any], rate_per_s: float) -> float:
    """Return the highest pressure in the penstock [Pa] while the valve shuts at a rate [1/s]."""
    velocity, steepest = _stopped(values)
    rise_m = surge.closing_surge_m(values["penstock.length_m"], velocity, STIFF_WAVE_M_S,
                                   1 / (rate_per_s * steepest), _fall_m_s2(values))
    return weight_N_m3(values) * (standing_m(values) + rise_m)


def _fall_m_s2(values: Mapping[str, Any]) -> float:
    return of_rig.water(values)[2]
