"""The worst that each part of a rig may meet, worked out from its description.

Owns which formula belongs to which figure; ratings and margins are the parts'
own (hardware/parts.toml). Losses that would only help are left out: the runaway
has none in pipe and valve, the pump's greatest flow none in its pipe. A name
ends in its unit.
"""

import math
from collections.abc import Mapping
from typing import Any

from forebay.rig import batteries
from forebay.rig.machines import coldest_open_V
from keeper.physics import electrical, gravity, motor, of_rig, surge, water
from keeper.physics.generation import TurbineSet
from keeper.physics.pipes import Pipe
from keeper.physics.valve import ControlValve

_Pa_PER_BAR = 1e5
_mm_PER_m = 1e3
_mL_PER_m3 = 1e6
_ORIFICE = 0.6  # discharge coefficient of a sharp edge, handbook value from memory
_COLD_WATER_degC = 4.0  # densest
LOGIC_LOW_V = 0.8  # an input of 3.3 V logic reads low below it (JESD8C)
_LEVEL_STUCK_V, _LEVEL_DIVIDER_ohm = 5.0, 10e3
_NO_LOSS_KV_m3_h = 1e5  # the widest valve of the physics: it costs no head that counts
# What a lead of two cores holds: mu0 / pi x ln(distance / radius) with cores that touch, some
# 0.7 uH for each metre of the pair; handbook formula, from memory.
LEAD_H_PER_m = 0.7e-6
# IEC 60127 preferred ratings of fuses, from memory; room over what flows, common practice.
FUSES_A = (0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15,
           4.0, 5.0, 6.3, 8.0, 10.0, 12.5, 16.0, 20.0, 25.0, 32.0)
FUSE_LEAST = 0.25


def figures(rig: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, float]:
    """Every figure by its name.

    rig: forebay.rig.Rig.plant(), "section.key_unit" [SI]. parts: hardware/parts.toml.
    """
    assumed = parts["assumed"]
    return {
        **_panel(rig, assumed),
        **_pump(rig, parts),
        **_small(assumed),
        **_generator(rig, assumed),
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


def _small(assumed: Mapping[str, float]) -> dict[str, float]:
    """What flows in the box by the circuit alone, as parts.toml takes it for granted."""
    return {name: value for name, value in assumed.items()
            if name.endswith(("_A", "_V")) and name != "valve_motor_A"}


def _pump(rig: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, float]:
    """Motor and pump at the highest voltage of the panel; torque grows as its square.

    No current is larger than what the panel can give.
    """
    assumed = parts["assumed"]
    panel = _panel(rig, assumed)
    rated_V = rig["pump.rated_voltage_V"]
    ratio = panel["panel_open_cold_V"] / rated_V
    stalled = motor.stall_current_A(panel["panel_open_cold_V"], rig["motor.resistance_ohm"])
    stall_A = min(stalled, panel["panel_short_A"])
    run_A = rig["pump.rated_power_W"] / rated_V * ratio**2
    gravity_m_s2 = _gravity(rig)
    most_head_m = rig["pump.shut_off_head_m"] * ratio**2
    inner = (rig["pump.shut_off_head_m"] - rig["pump.rated_head_m"]) / (
        rig["pump.rated_flow_m3_s"] ** 2
    )
    lift_m = rig["upper.inlet_height_m"] - rig["lower.base_height_m"] - rig["lower.height_m"]
    density = water.density_kg_m3(_COLD_WATER_degC)
    return {
        "pump_rated_V": rated_V,
        "pump_run_A": min(run_A, stall_A),
        "pump_stall_A": stall_A,
        **_peaks(rig, parts, panel["panel_open_cold_V"], min(run_A, stall_A), stall_A),
        "pump_most_mL_s": math.sqrt(max(0.0, most_head_m - lift_m) / inner) * _mL_PER_m3,
        "rising_main_bar": density * gravity_m_s2 * most_head_m / _Pa_PER_BAR,
        "motor_hottest_degC": rig["motor.trip_temperature_degC"] + assumed["passes_trip_K"],
        "motor_limit_degC": assumed["motor_limit_degC"],
    }


def _peaks(rig: Mapping[str, Any], parts: Mapping[str, Any], open_V: float, run_A: float,
           stall_A: float) -> dict[str, float]:
    """Highest volts when the pump's current is broken: V + I sqrt(L / C) where a lead ends.

    While it runs V is at most the cold panel's, stalled what drops in the motor. A lead
    that swings against a stiff source rises by I sqrt(L / C): energy of an LC circuit.
    """
    stall_V = stall_A * rig["motor.resistance_ohm"]
    lead = parts["lead"]
    panel_H = LEAD_H_PER_m * run_m(rig, parts, "panel_run")
    deck_H = LEAD_H_PER_m * run_m(rig, parts, "tank_run")

    def peak(henry: float, farad: float) -> float:
        swing_ohm = math.sqrt(henry / farad)
        return max(open_V + run_A * swing_ohm, stall_V + stall_A * swing_ohm)

    node_V = peak(panel_H, lead["panel_F"])
    return {
        "panel_peak_V": node_V,
        # The float's lead swings on top of the node that the panel's lead lifts.
        "pump_plus_peak_V": node_V - open_V + peak(deck_H, lead["pump_F"]),
        "leads_mJ": 0.5e3 * (panel_H + deck_H) * stall_A**2,
    }


def run_m(rig: Mapping[str, Any], parts: Mapping[str, Any], name: str) -> float:
    """Length of a lead [m], one way: by the rig's own keys, else as parts.toml takes it."""
    lead = parts["lead"]
    if name == "tank_run":
        return lead["along_pipe"] * rig["penstock.length_m"]
    key = {"panel_run": "cables.panel_length_m", "lamp_run": "cables.lamp_length_m"}[name]
    return rig.get(key, lead[f"{name}_m"])


def _generator(rig: Mapping[str, Any], assumed: Mapping[str, float]) -> dict[str, float]:
    """Runaway with the lamps off, with and without the clamp; the lamps' own worst."""
    rest_V = rig["lamps.threshold_voltage_V"]
    clamped, dumped = runaway(rig, clamped=True), runaway(rig, dumped=True)
    return {
        "clamp_runaway_W": clamped.generator_V * clamped.clamp_A,
        "clamp_base_A": clamped.clamp_A / assumed["clamp_gain"] + assumed["clamp_bleed_A"],
        "generator_clamped_V": clamped.generator_V,
        "generator_unclamped_V": runaway(rig).generator_V,
        "generator_A": max(clamped.clamp_A, dumped.dump_A, runaway(rig, lit=True).lamp_A),
        "lamp_A": (clamped.generator_V - rest_V) / rig["lamps.resistance_ohm"],
        "lamp_threshold_V": rest_V,
        "dump_W": dumped.generator_V * dumped.dump_A,
        "water_W": clamped.weight * clamped.flow * _rim_m(rig),
    }


def runaway(rig: Mapping[str, Any], *, clamped: bool = False, lit: bool = False,
            dumped: bool = False) -> TurbineSet:
    """The turbine set under a tank full to its rim, settled, without loss in pipe and valve.

    rig: forebay.rig.Rig.plant(). clamped, lit, dumped: what hangs on the generator.
    """
    gravity_m_s2 = _gravity(rig)
    density_kg_m3 = water.density_kg_m3(_COLD_WATER_degC)
    viscosity_m2_s = water.kinematic_viscosity_m2_s(_COLD_WATER_degC)
    parts = of_rig.turbine_set(rig, density_kg_m3, viscosity_m2_s, gravity_m_s2)
    _, _, nozzle_m, coefficient, wheel, loads, *of_water = parts
    plant = TurbineSet(
        Pipe(0.0, rig["penstock.diameter_m"], 0.0, 0.0, viscosity_m2_s, gravity_m_s2),
        ControlValve(_NO_LOSS_KV_m3_h, rig["valve.rangeability"], True),
        nozzle_m, coefficient, wheel, loads, *of_water,
    )
    if not clamped:
        plant.clamp_V = math.inf
    plant.lamps_off, plant.dump_on = int(not lit), int(dumped)
    plant.steady(1.0, _rim_m(rig))
    return plant


def _rim_m(rig: Mapping[str, Any]) -> float:
    return rig["upper.base_height_m"] + rig["upper.height_m"]


def _supply(rig: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, float]:
    volts = rig["supply.voltage_V"]
    valve_A = parts["assumed"]["valve_motor_A"]
    loop = parts["loop"]
    board_A = rig["supply.board_load_W"] / volts
    charge_A = rig["supply.charge_current_A"]
    return {
        "supply_V": volts,
        "supply_most_V": full_V(volts, batteries.of(rig), parts),
        "supply_low_V": rig["supply.low_voltage_V"],
        "battery_short_A": full_V(volts, batteries.of(rig), parts) / rig["supply.resistance_ohm"],
        "supply_A": max(board_A + valve_A, charge_A),
        "supply_start_A": max(board_A + valve_A * parts["assumed"]["valve_start_ratio"], charge_A),
        "charge_A": charge_A,
        "valve_motor_A": valve_A,
        "valve_motor_start_A": valve_A * parts["assumed"]["valve_start_ratio"],
        "contact_A": loop["rail_V"] / loop["pull_up"],
        "rail_V": loop["rail_V"],
        "level_stuck_V": electrical.divider_V(
            _LEVEL_STUCK_V, _LEVEL_DIVIDER_ohm, _LEVEL_DIVIDER_ohm
        ),
    }


def full_V(rated_V: float, chemistry: str, parts: Mapping[str, Any]) -> float:
    """Highest voltage [V] to which a battery of a rated voltage [V] is charged."""
    row = next(one for one in parts["chemistry"] if one["name"] == chemistry)
    return rated_V * row["full_V"] / row["cell_V"]


def _water(rig: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, float]:
    density, gravity_m_s2 = water.density_kg_m3(_COLD_WATER_degC), _gravity(rig)
    plant = runaway(rig)
    at_once_m = surge.joukowsky_m(
        parts["assumed"]["wave_m_s"], plant.flow / plant.pipe.area_m2, gravity_m_s2
    )
    return {
        "penstock_bar": density * gravity_m_s2 * (_rim_m(rig) + at_once_m) / _Pa_PER_BAR,
        "two_bores_mm": 2 * rig["rising_main.diameter_m"] * _mm_PER_m,
    }


def rated(rating: Mapping[str, Any], rig: Mapping[str, Any], parts: Mapping[str, Any],
          worst_value: float) -> float:
    """What a rating stands for, in its unit: the first size that keeps its least margin.

    `rated` is a number, a key of the rig or a figure of the tanks; `also` are larger sizes
    in which the part is made. None that keeps it: the largest.
    """
    value = rating["rated"]
    first = value if not isinstance(value, str) else _named(value, rig, parts)
    sizes = [first, *rating.get("also", ())]
    return next((one for one in sizes if margin(rating, one, worst_value) >= rating["least"]),
                sizes[-1])


def _named(value: str, rig: Mapping[str, Any], parts: Mapping[str, Any]) -> float:
    if value == "fuse":
        return fuse_A(_supply(rig, parts)["supply_start_A"])
    if value == "penstock_rating":
        return rig["penstock.pressure_rating_Pa"] / _Pa_PER_BAR
    if value == "air_gap":
        return air_gap_m(rig) * _mm_PER_m
    if value == "overflow":
        return _overflow_mL_s(rig, overflow_bore_mm(rig, parts))
    return rig[value]


def overflow_bore_mm(rig: Mapping[str, Any], parts: Mapping[str, Any]) -> float:
    """Bore of the overflow pipe [mm]: the smallest that keeps its margin, else the best."""
    row = next(p for p in parts["part"] if p["name"] == "overflow pipe")
    rating = row["rating"][0]
    needed_mL_s = _pump(rig, parts)[rating["worst"]] * (1 + rating["least"])
    return next((bore for bore in row["bores_mm"] if _overflow_mL_s(rig, bore) >= needed_mL_s),
                max(row["bores_mm"], key=lambda bore: _overflow_mL_s(rig, bore)))


def _overflow_mL_s(rig: Mapping[str, Any], bore_mm: float) -> float:
    """What an overflow passes with water up to the rising main's end: an orifice."""
    area_m2 = math.pi / 4 * (bore_mm / _mm_PER_m) ** 2
    head_m = max(0.0, air_gap_m(rig) - bore_mm / 2 / _mm_PER_m)
    return _ORIFICE * area_m2 * math.sqrt(2 * _gravity(rig) * head_m) * _mL_PER_m3


def fuse_A(flows_A: float) -> float:
    """Rating [A] of the smallest fuse that keeps its room over what flows, or the largest."""
    return next((one for one in FUSES_A if one >= flows_A * (1 + FUSE_LEAST)), FUSES_A[-1])


def air_gap_m(rig: Mapping[str, Any]) -> float:
    """Height of the rising main's end over the overflow's edge [m]."""
    level = of_rig.tank(rig, "upper.").level_m(rig["upper.overflow_volume_m3"])
    return rig["upper.inlet_height_m"] - rig["upper.base_height_m"] - level


def _gravity(rig: Mapping[str, Any]) -> float:
    return gravity.normal_m_s2(rig["site.latitude_deg"], rig["site.height_m"])


def margin(rating: Mapping[str, Any], rated_value: float, worst_value: float) -> float:
    """Room of a rating: a ratio, for temperatures and gaps the difference in their unit."""
    if rating["unit"] in ("degC", "mm"):
        room = rated_value - worst_value
        return -room if rating.get("below") else room
    if rating.get("below"):
        return worst_value / rated_value - 1
    return rated_value / worst_value - 1 if worst_value > 0.0 else math.inf
