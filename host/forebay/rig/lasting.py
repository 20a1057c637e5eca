"""How long the light lasts: what the board reckons with where no level reads the water.

Each function takes values by "section.key_unit" [SI]; `promises` says what a rig with fewer
instruments is promised, and by what.
"""

from collections.abc import Mapping
from typing import Any

from forebay.rig import governing, instruments, protecting
from keeper.operation.reckoned import LEARNT_PERMILLE, METERED_PERMILLE
from keeper.physics import of_rig
from keeper.physics.panel import REFERENCE_W_M2
from keeper.physics.solar_pump import SolarPump

COVERING = 2.0           # standard uncertainties that the night's plan leaves: 95 %
M3_TO_ML = 1e6
S_PER_H = 3600.0
# Sun at the edge of a cloud over full sun, and a pump over its figures: a guess.
BEST_SUN_FRAC, BEST_PUMP_FRAC = 1.25, 1.2
_PERMILLE, _PERCENT = 1000, 100


def sunk_mL(values: Mapping[str, Any]) -> float:
    """Water above the low float when the full float hangs again [mL], at least 1."""
    shape = of_rig.tank(values, "upper.")
    level_m = shape.level_m(values["upper.full_volume_m3"]) - values["upper.float_hysteresis_m"]
    left_m3 = shape.volume_m3(max(0.0, level_m)) - values["upper.empty_volume_m3"]
    return max(1.0, M3_TO_ML * left_m3)


def spare_mL(values: Mapping[str, Any]) -> float:
    """Water below empty_volume that light may live on: all of it without a float there [mL]."""
    if instruments.is_fitted(values, "empty_float"):
        return 0.0
    return M3_TO_ML * values["upper.empty_volume_m3"]


def output_frac(values: Mapping[str, Any]) -> float:
    """What a litre's light may be wrong by till an evening has taught it [-], as covered."""
    return min(0.9, COVERING * values["turbine.output_uncertainty"])


def lift_most_m3_s(values: Mapping[str, Any]) -> float:
    """The most that the pump may lift [m3/s]: the best sun, a cold panel, the shortest lift."""
    pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    lift_m = (values["upper.inlet_height_m"] - values["lower.base_height_m"]
              - values["lower.height_m"])
    flow = pump.steady(BEST_SUN_FRAC * REFERENCE_W_M2, values["site.coldest_cell_degC"],
                       max(0.0, lift_m))[0]
    return BEST_PUMP_FRAC * flow


def full_tank_h(values: Mapping[str, Any], power_W: float, learnt: bool) -> tuple[float, float]:
    """Return for how long a full tank surely gives a light [W], and at most, as the board tells.

    learnt: an evening has been seen from float to end.
    """
    is_metered = instruments.is_fitted(values, "flow_down")
    taught = (METERED_PERMILLE if is_metered else LEARNT_PERMILLE) / _PERMILLE
    wrong = taught if learnt else output_frac(values)
    full_mL = M3_TO_ML * (values["upper.full_volume_m3"] - values["upper.empty_volume_m3"])
    most_mL = full_mL + (0.0 if learnt and not is_metered else spare_mL(values))
    hours_mL = protecting.specific_J_m3(values, power_W) / M3_TO_ML / power_W / S_PER_H
    return sunk_mL(values) * (1 - wrong) * hours_mL, most_mL * (1 + wrong) * hours_mL


def promises(values: Mapping[str, Any]) -> list[str]:
    """Return what the light is promised in a rig without level or valve position; else nothing.

    One line a promise, with what it rests on.
    """
    found = []
    if not instruments.is_fitted(values, "valve_position"):
        meter = "lamps'" if instruments.is_fitted(values, "lamp_meter") else "generator's"
        held = max(governing.held_frac(values, one) for one in values["lamps.steps_W"])
        found.append(f"Light is held within {_PERCENT * held:.3g} % (by the {meter} meter), the"
                     " valve by time alone: a brightness that was held once is reached at once.")
    if not instruments.is_fitted(values, "level"):
        found.append(_lasting(values))
    return found


def _lasting(values):
    power_W = max(values["lamps.steps_W"])
    first, later = (full_tank_h(values, power_W, learnt) for learnt in (False, True))
    how = ("the floats and the flow down" if instruments.is_fitted(values, "flow_down")
           else "the floats and the light that was given")
    taught_by = ("two hours of light were metered" if instruments.is_fitted(values, "flow_down")
                 else "an evening was seen from the full float to its end")
    return (f"How long it lasts is known by {how}: a full tank gives {power_W:.3g} W for"
            f" {first[0]:.1f} to {first[1]:.1f} h by the rig's figures, and within"
            f" {_PERCENT * (later[1] - later[0]) / (later[1] + later[0]):.0f} % of what it is once"
            f" {taught_by}.")
