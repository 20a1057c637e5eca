"""What the governor must know of the valve, worked out from the rig's hydraulics.

The governor thinks in shares of full jet power: the power of the jet with the
valve fully open and the upper tank half-way between empty and full. With a
fixed nozzle, jet power goes with the cube of flow.
"""

import hashlib
from collections.abc import Mapping
from typing import Any

from forebay.rig.tank import tank_of
from keeper.physics import gravity, turbine, valve, water
from keeper.physics.pipes import Pipe
from keeper.physics.solve import rising_root

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


def _pipe(values: Mapping[str, Any], section: str) -> Pipe:
    """Return one of the two pipes with the rig's water in it."""
    g = gravity.normal_m_s2(values["site.latitude_deg"], values["site.height_m"])
    return Pipe(
        values[f"{section}.length_m"], values[f"{section}.diameter_m"],
        values[f"{section}.roughness_m"], values[f"{section}.minor_loss"],
        water.kinematic_viscosity_m2_s(values["site.water_temperature_degC"]), g,
    )


def rising_main(values: Mapping[str, Any]) -> Pipe:
    """Return the rising main with the rig's water in it."""
    return _pipe(values, "rising_main")


class _Jet:
    """Penstock, valve and nozzle at a head [m], else at the mean one."""

    def __init__(self, values: Mapping[str, Any], head_m: float | None = None):
        self.values = values
        if head_m is None:
            shape = tank_of(values, "upper")
            middle_m3 = (values["upper.empty_volume_m3"] + values["upper.full_volume_m3"]) / 2
            head_m = values["upper.base_height_m"] + shape.level_m(middle_m3)
        self.head_m = head_m
        self.g = gravity.normal_m_s2(values["site.latitude_deg"], values["site.height_m"])
        self.density = water.density_kg_m3(values["site.water_temperature_degC"])
        self.pipe = _pipe(values, "penstock")
        self.area_m2 = turbine.nozzle_area_m2(values["turbine.nozzle_diameter_m"], 1.0)
        self.kvs = values["valve.flow_coefficient_m3_h"]
        self.full_m3_s = self._full_m3_s()

    def _nozzle_m(self, flow_m3_s: float) -> float:
        """Head that the nozzle needs for a flow [m]."""
        jet_m_s = flow_m3_s / (self.area_m2 * self.values["turbine.nozzle_coefficient"])
        return jet_m_s * jet_m_s / (2 * self.g)

    def _full_m3_s(self) -> float:
        """Flow with the valve fully open [m3/s]."""
        def excess_m(flow_m3_s):
            through = valve.head_loss_m(flow_m3_s, self.kvs, self.g)
            return (self.pipe.loss_m(flow_m3_s) + through + self._nozzle_m(flow_m3_s)
                    - self.head_m)

        velocity_frac = self.values["turbine.nozzle_coefficient"]
        most = turbine.nozzle_flow_m3_s(self.head_m, self.area_m2, velocity_frac, self.g)
        return rising_root(excess_m, 0.0, most)

    def power_W(self) -> float:
        """Power of the jet with the valve fully open [W]."""
        jet_m_s = self.full_m3_s / self.area_m2
        return turbine.jet_power_W(self.full_m3_s, jet_m_s, self.density)

    def position_frac(self, share: float) -> float:
        """Valve travel [-] at which the jet has a share of its full power [-]."""
        return self.travel_frac(self.full_m3_s * share ** (1 / 3))

    def travel_frac(self, flow: float) -> float:
        """Valve travel [-] that lets a flow [m3/s] through."""
        loss_m = self.head_m - self.pipe.loss_m(flow) - self._nozzle_m(flow)
        # The loss goes with the inverse square of the coefficient.
        kv_frac = (valve.head_loss_m(flow, self.kvs, self.g) / loss_m) ** 0.5
        rangeability = self.values["valve.rangeability"]
        least = 1 / rangeability
        if kv_frac <= least:
            return 0.0
        if kv_frac >= 1:
            return 1.0
        if self.values["valve.characteristic"] == "linear":
            return (kv_frac - least) / (1 - least)
        return valve.equal_percentage_travel_frac(kv_frac, rangeability)


def position_frac(values: Mapping[str, Any], share: float) -> float:
    """Return the valve travel [-], 0 to 1, for a share of full jet power [-], 0 to 1.

    Inverts the valve's inherent characteristic for the flow (share)^(1/3) that the
    penstock and the nozzle leave; values by "section.key_unit" [SI].
    """
    return _Jet(values).position_frac(share)


def position_for_flow(values: Mapping[str, Any], flow_m3_s: float) -> float | None:
    """Return the valve travel [-] for a flow [m3/s] at the lowest level; None if too much."""
    shape = tank_of(values, "upper")
    level_m = shape.level_m(values["upper.empty_volume_m3"])
    jet = _Jet(values, values["upper.base_height_m"] + level_m)
    return jet.travel_frac(flow_m3_s) if flow_m3_s < jet.full_m3_s else None


def full_flow_m3_s(values: Mapping[str, Any], head_m: float) -> float:
    """Return the flow [m3/s] with the valve fully open under a head [m]."""
    return _Jet(values, head_m).full_m3_s


def full_jet_W(values: Mapping[str, Any]) -> float:
    """Return the power of the jet [W] with the valve fully open, at mean head."""
    return _Jet(values).power_W()


def gain_upermille_mW(values: Mapping[str, Any]) -> float:
    """Return the governor's gain [millionths of a permille of jet power per mW]."""
    full_mW = LAMP_FRAC * full_jet_W(values) * 1e3
    return GAIN_FRAC * _PERMILLE / full_mW * _MICRO
