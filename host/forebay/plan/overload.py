"""Whether the panel drives the pump beyond what it is rated for."""

from collections.abc import Mapping
from typing import Any

from forebay.plan import chain
from forebay.rig.protecting import OVERLOAD_FRAC
from keeper.physics import of_rig
from keeper.physics.panel import REFERENCE_W_M2
from keeper.physics.solar_pump import SolarPump

MOST = OVERLOAD_FRAC   # of the rated current: what any motor stands for ever


def point(values: Mapping[str, Any]) -> tuple[float, float]:
    """Return voltage [V] and current [A] of the pump in full sun, the cells warmed by it."""
    pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    _, volts, amps, _ = pump.steady(
        REFERENCE_W_M2, chain.sunlit_cell_degC(values), chain.mean_lift_m(values))
    return volts, amps


def times(values: Mapping[str, Any]) -> float:
    """Return that current over the rated one [-]."""
    return point(values)[1] * values["pump.rated_voltage_V"] / values["pump.rated_power_W"]
