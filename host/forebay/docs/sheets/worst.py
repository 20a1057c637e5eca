"""The worst that each part of the demo rig may meet, worked out from its description.

Owns which formula belongs to which figure; ratings and margins are the parts'
own (hardware/parts.toml). Losses that would only help are left out: the runaway
has none in pipe and valve, the pump's greatest flow none in its pipe. A name
ends in its unit.
"""

import math
from collections.abc import Mapping
from typing import Any

from forebay.rig.machines import coldest_open_V
from keeper.physics import electrical, gravity, surge, turbine, water
from keeper.physics.solve import rising_root

_Pa_PER_BAR = 1e5
_mm_PER_m = 1e3
_mL_PER_m3 = 1e6
_ORIFICE = 0.6  # discharge coefficient of a sharp edge, handbook value from memory
_COLD_WATER_degC = 4.0  # densest
LOGIC_LOW_V = 0.8  # an input of 3.3 V logic reads low below it (JESD8C)
_LEVEL_STUCK_V, _LEVEL_DIVIDER_ohm = 5.0, 10e3
_LITHIUM_FULL = 14.6 / 12.8  # charging voltage over rated, four cells; from memory


def figures(rig: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, float]:
    """Every figure by its name.

    rig: forebay.rig.Rig.plant(), "section.key_unit" [SI]. parts: hardware/parts.toml.
    """
    assumed = parts["assumed"]
    return {
        **_panel(rig, assumed),
        **_pump(rig, assumed),
        **_generator(rig),
        **_supply(rig, parts),
        **_water(rig, parts),
    }


def _panel(rig: Mapping[str, Any], assumed: Mapping[str, float]) -> dict[str, float]:
    return {
        "panel_open_cold_V": coldest_open_V(rig),
        "panel_short_A": rig["panel.short_circuit_current_A"] * assumed["sun_ratio"],
        "panel_best_A": rig["panel.best_current_A"],
        "panel_best_V": rig["panel.best_voltage_V"],
    }


def _pump(rig: Mapping[str, Any], assumed: Mapping[str, float]) -> dict[str, float]:
    """Motor and pump at the highest voltage of the panel; torque grows as its square."""
    panel = _panel(rig, assumed)
    rated_V = rig["pump.rated_voltage_V"]
    ratio = panel["panel_open_cold_V"] / rated_V
    stalled = electrical_stall_A(panel["panel_open_cold_V"], rig["motor.resistance_ohm"])
    gravity_m_s2 = _gravity(rig)
    most_head_m = rig["pump.shut_off_head_m"] * ratio**2
    inner = (rig["pump.shut_off_head_m"] - rig["pump.rated_head_m"]) / (
        rig["pump.rated_flow_m3_s"] ** 2
    )
    lift_m = rig["upper.inlet_height_m"] - rig["lower.base_height_m"] - rig["lower.height_m"]
    density = water.density_kg_m3(_COLD_WATER_degC)
    return {
        "pump_rated_V": rated_V,
        "pump_run_A": rig["pump.rated_power_W"] / rated_V * ratio**2,
        "pump_stall_A": min(stalled, panel["panel_short_A"]),
        "pump_most_mL_s": math.sqrt(max(0.0, most_head_m - lift_m) / inner) * _mL_PER_m3,
        "rising_main_bar": density * gravity_m_s2 * most_head_m / _Pa_PER_BAR,
        "motor_hottest_degC": rig["motor.trip_temperature_degC"] + assumed["passes_trip_K"],
        "motor_limit_degC": assumed["motor_limit_degC"],
    }


def electrical_stall_A(volts_V: float, winding_ohm: float) -> float:
    """Current of a motor that stands still [A]."""
    return volts_V / winding_ohm


def _generator(rig: Mapping[str, Any]) -> dict[str, float]:
    """Runaway with the lamps off, with and without the clamp; the lamps' own worst."""
    rest_V = rig["lamps.threshold_voltage_V"]
    clamp_V, clamp_ohm = rig["generator.clamp_voltage_V"], rig["generator.clamp_resistance_ohm"]
    running = Runaway(rig)
    clamped_A = running.current_A(clamp_V, clamp_ohm)
    clamped_V = clamp_V + clamped_A * clamp_ohm
    dump_ohm = rig["generator.dump_resistance_ohm"]
    dumped_A = running.current_A(0.0, dump_ohm)
    return {
        "clamp_runaway_W": clamped_V * clamped_A,
        "generator_clamped_V": clamped_V,
        "generator_unclamped_V": running.open_V(),
        "generator_A": max(clamped_A, dumped_A, running.current_A(rest_V, rig[_LAMP_OHM])),
        "lamp_A": (clamped_V - rest_V) / rig[_LAMP_OHM],
        "lamp_threshold_V": rest_V,
        "dump_W": dumped_A**2 * dump_ohm,
        "water_W": running.water_W,
    }


_LAMP_OHM = "lamps.resistance_ohm"


class Runaway:
    """The wheel under a tank full to its rim, without loss in pipe and valve."""

    def __init__(self, rig: Mapping[str, Any]):
        """rig: forebay.rig.Rig.plant()."""
        head_m = rig["upper.base_height_m"] + rig["upper.height_m"]
        gravity_m_s2 = _gravity(rig)
        density = water.density_kg_m3(_COLD_WATER_degC)
        area = turbine.nozzle_area_m2(rig["turbine.nozzle_diameter_m"], 1.0)
        self.jet_m_s = turbine.jet_velocity_m_s(
            head_m, rig["turbine.nozzle_coefficient"], gravity_m_s2
        )
        flow = area * self.jet_m_s
        self.water_W = density * gravity_m_s2 * flow * head_m
        turned = 180.0 - rig["turbine.bucket_angle_deg"]
        factor = 1 + rig["turbine.bucket_coefficient"] * math.cos(math.radians(turned))
        self.radius_m = rig["turbine.wheel_radius_m"]
        self.push_kg_m_s = rig["turbine.hit_frac"] * density * flow * factor * self.radius_m
        self.drag_Nm = rig["turbine.friction_torque_N_m"]
        self.emf = rig["generator.emf_constant_V_s_rad"]
        self.winding_ohm = rig["generator.resistance_ohm"]
        self.drop_V = rig["generator.rectifier_drop_V"]

    def open_V(self) -> float:
        """Voltage behind the rectifier with nothing on it [V]."""
        return self.emf * self._speed(lambda speed: 0.0) - self.drop_V

    def current_A(self, threshold_V: float, load_ohm: float) -> float:
        """Current into a load that begins at a voltage [V] and rises by a resistance [ohm]."""

        def drawn(speed: float) -> float:
            over = self.emf * speed - self.drop_V - threshold_V
            return max(0.0, over) / (self.winding_ohm + load_ohm)

        return drawn(self._speed(drawn))

    def _speed(self, drawn) -> float:
        """Speed [rad/s] at which jet, drag and generator balance."""

        def excess(speed: float) -> float:
            driving = self.push_kg_m_s * (self.jet_m_s - speed * self.radius_m)
            return self.drag_Nm + self.emf * drawn(speed) - driving

        return rising_root(excess, 0.0, self.jet_m_s / self.radius_m)


def _supply(rig: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, float]:
    volts = rig["supply.voltage_V"]
    valve_A = parts["assumed"]["valve_motor_A"]
    loop = parts["loop"]
    return {
        "supply_V": volts,
        "supply_most_V": volts * _LITHIUM_FULL,
        "supply_A": max(rig["supply.board_load_W"] / volts + valve_A,
                        rig["supply.charge_current_A"]),
        "valve_motor_A": valve_A,
        "contact_A": loop["rail_V"] / loop["pull_up"],
        "rail_V": loop["rail_V"],
        "level_stuck_V": electrical.divider_V(
            _LEVEL_STUCK_V, _LEVEL_DIVIDER_ohm, _LEVEL_DIVIDER_ohm
        ),
    }


def _water(rig: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, float]:
    density, gravity_m_s2 = water.density_kg_m3(_COLD_WATER_degC), _gravity(rig)
    head_m = rig["upper.base_height_m"] + rig["upper.height_m"]
    bore_m = rig["penstock.diameter_m"]
    flow = Runaway(rig).water_W / (density * gravity_m_s2 * head_m)
    at_once_m = surge.joukowsky_m(
        parts["assumed"]["wave_m_s"], flow / (math.pi / 4 * bore_m**2), gravity_m_s2
    )
    return {
        "penstock_bar": density * gravity_m_s2 * (head_m + at_once_m) / _Pa_PER_BAR,
        "two_bores_mm": 2 * rig["rising_main.diameter_m"] * _mm_PER_m,
    }


def rated(value: float | str, rig: Mapping[str, Any], parts: Mapping[str, Any]) -> float:
    """What a rating stands for: a number, a key of the rig, or a figure of the tanks."""
    if not isinstance(value, str):
        return value
    if value == "air_gap":
        return air_gap_m(rig) * _mm_PER_m
    if value == "overflow":
        bore = next(p["bore_mm"] for p in parts["part"] if p["name"] == "overflow pipe")
        area = math.pi / 4 * (bore / _mm_PER_m) ** 2
        head_m = air_gap_m(rig) - bore / 2 / _mm_PER_m
        return _ORIFICE * area * math.sqrt(2 * _gravity(rig) * head_m) * _mL_PER_m3
    return rig[value]


def air_gap_m(rig: Mapping[str, Any]) -> float:
    """Height of the rising main's end over the overflow's edge, rectangular tank [m]."""
    level = rig["upper.overflow_volume_m3"] / (rig["upper.length_m"] * rig["upper.width_m"])
    return rig["upper.inlet_height_m"] - rig["upper.base_height_m"] - level


def _gravity(rig: Mapping[str, Any]) -> float:
    return gravity.normal_m_s2(rig["site.latitude_deg"], rig["site.height_m"])


def margin(rating: Mapping[str, Any], rated_value: float, worst_value: float) -> float:
    """Room of a rating: a ratio, for temperatures and gaps the difference in their unit."""
    if rating["unit"] in ("degC", "mm"):
        room = rated_value - worst_value
        return -room if rating.get("below") else room
    return rated_value / worst_value - 1
