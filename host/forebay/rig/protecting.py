"""Limits of protection and of the night budget, worked out from the rig's own figures.

Each function takes values by "section.key_unit" [SI] and returns one setting
before rounding.  Where a figure is a guess, its constant says so.
"""

import math
from collections.abc import Mapping
from typing import Any

from forebay.rig import governing
from forebay.rig.tank import tank_of
from keeper import settings
from keeper.physics import turbine, water

M_TO_MM = 1e3
M2_TO_CM2 = 1e4
# Half of the extra current that a motor without flow draws over an empty pump: a guess.
DRY_PART = 0.4
JUDGE_FRAC = 0.5          # of the rated voltage: below it dry and wet lie too close; a guess
OVERLOAD_FRAC = 1.2       # of the rated current: what any motor stands for ever; a guess
STALL_PART = 2.0          # resistances: a turning motor shows more volts per ampere; a guess
STALL_CURRENT = 2.0       # no-load currents: less does not hurt a motor that stands; a guess
SURE_PART = 1.1           # of the power at which water must go up; a guess
LEAST_WELDED_A = 0.05     # a leaking switch passes less; a guess
WELDED_FRAC = 0.02        # of the monitor's range
PRIME_PART = 0.75         # of a trial start, so that 48-PMP comes before "too weak"
VALVE_GAP_FRAC = 0.05     # of travel; more where the position is less certain
COVERAGE = 3.0            # standard uncertainties that a difference may be wrong by
VALVE_RESERVE_S = 2.0     # over the travel, before the valve counts as stuck; a guess
OPEN_FRAC = 0.03          # of travel above the shut reading; a guess
SEEN_FLOW_PART = 1.5      # of the meter's floor: a flow that is surely seen
SHUT_FLOW_PART = 0.6      # of the meter's floor: still counted, and no drip
SURE_LAMP_PART = 1.1      # of the lamps' threshold
POINTS = 8
OBLIQUITY_DEG = 23.44     # of the ecliptic; from memory, any almanac
DARKER_MIN = 60           # dusk and dawn of a panel lie inside sunset and sunrise; a guess
DAY_MIN = 1440


def upper_level_mm(values: Mapping[str, Any], key: str) -> float:
    """Level of a volume of the upper tank [mm]."""
    return M_TO_MM * tank_of(values, "upper").level_m(values[f"upper.{key}_m3"])


def upper_area_cm2(values: Mapping[str, Any]) -> float:
    """Mean water surface of the upper tank [cm2], between empty and full."""
    shape = tank_of(values, "upper")
    low, high = (values[f"upper.{key}_volume_m3"] for key in ("empty", "full"))
    return M2_TO_CM2 * (high - low) / (shape.level_m(high) - shape.level_m(low))


def rated_A(values: Mapping[str, Any]) -> float:
    """Rated current of the pump's motor [A]."""
    return values["pump.rated_power_W"] / values["pump.rated_voltage_V"]


def thermal_base_mA(values: Mapping[str, Any]) -> float:
    """Current whose copper loss brings the uncooled motor to its trip temperature [mA].

    Not below what any motor stands; not above the range of the setting.
    """
    rise_K = values["motor.trip_temperature_degC"] - values["site.water_temperature_degC"]
    still_A = (rise_K / (values["motor.still_resistance_K_W"]
                         * values["motor.resistance_ohm"])) ** 0.5
    most_mA = settings.SETTINGS[settings.index("thermal_base_mA")][2]
    return min(most_mA, 1e3 * max(OVERLOAD_FRAC * rated_A(values), still_A))


def _no_flow(values: Mapping[str, Any], ratio: float) -> tuple[float, float]:
    """Voltage [V] and current over the no-load one [A] of a full pump without flow.

    ratio: speed over rated speed [-].  V = Ke w + R I, T = Ke (I - I0), torque
    with the square of speed (affinity laws).
    """
    ohm, rated = values["motor.resistance_ohm"], rated_A(values)
    idle_A = values["motor.no_load_current_A"]
    extra_A = values["pump.shut_off_torque_frac"] * (rated - idle_A) * ratio ** 2
    back_V = (values["pump.rated_voltage_V"] - ohm * rated) * ratio
    return back_V + ohm * (idle_A + extra_A), extra_A


def dry_gain_uA_V2(values: Mapping[str, Any]) -> float:
    """Growth of the least current with the square of the voltage, 37-PMP [uA/V2]."""
    volts, extra_A = _no_flow(values, 1.0)
    return 1e6 * DRY_PART * extra_A / volts ** 2


def flow_sure_mW(values: Mapping[str, Any]) -> float:
    """Power into a pump without flow, turning so fast that water must go up [mW].

    At that speed its head at the useful flow passes the longest lift and the
    rising main.
    """
    pipe_s2_m5 = governing.rising_main(values).loss_m(values["pump.rated_flow_m3_s"]) / (
        values["pump.rated_flow_m3_s"] ** 2)
    inner_s2_m5 = (values["pump.shut_off_head_m"] - values["pump.rated_head_m"]) / (
        values["pump.rated_flow_m3_s"] ** 2)
    lift_m = values["upper.inlet_height_m"] - values["lower.base_height_m"]
    flow = max(values["limits.useful_flow_m3_s"],
               SEEN_FLOW_PART * values["sensors.flow_floor_m3_s"])
    head_m = lift_m + (pipe_s2_m5 + inner_s2_m5) * flow ** 2
    volts, extra_A = _no_flow(values, (head_m / values["pump.shut_off_head_m"]) ** 0.5)
    return 1e3 * SURE_PART * volts * (values["motor.no_load_current_A"] + extra_A)


def overspeed_mV(values: Mapping[str, Any]) -> float:
    """Inner voltage at which the clamp carries its rating [mV]."""
    amps = values["generator.clamp_power_W"] / values["generator.clamp_voltage_V"]
    inside_ohm = values["generator.clamp_resistance_ohm"] + values["generator.resistance_ohm"]
    return 1e3 * (values["generator.clamp_voltage_V"] + amps * inside_ohm)


def valve_gap_permille(values: Mapping[str, Any]) -> float:
    """Difference between told and read position that is no uncertainty [permille]."""
    return 1e3 * max(VALVE_GAP_FRAC, COVERAGE * values["sensors.valve_frac"]
                     + VALVE_GAP_FRAC / 2)


def valve_sure_permille(values: Mapping[str, Any]) -> float:
    """Opening at which even the lowest level gives a flow that is seen; 1001 = none does."""
    position = governing.position_for_flow(
        values, SEEN_FLOW_PART * values["sensors.flow_floor_m3_s"])
    return 1001 if position is None else 1e3 * min(1.0, position + VALVE_GAP_FRAC)


def longest_night_min(values: Mapping[str, Any]) -> float:
    """Longest night of the site [min], from its latitude.

    cos(half a day) = -tan(latitude) tan(obliquity), at the winter solstice.
    """
    cosine = math.tan(math.radians(abs(values["site.latitude_deg"]))) * math.tan(
        math.radians(OBLIQUITY_DEG))
    if cosine >= 1.0:
        return DAY_MIN
    night = DAY_MIN * (1 - math.acos(cosine) / math.pi)
    return min(DAY_MIN, night + DARKER_MIN)


def night_full_W(values: Mapping[str, Any]) -> float:
    """Setpoint of the last point of the specific output [W]: the brightest step."""
    return max(*values["lamps.steps_W"], values["night.setpoint_W"])


def specific_J_m3(values: Mapping[str, Any], power_W: float) -> float:
    """Lamp energy from a cubic metre at a steady lamp power [J/m3].

    Lamps give current and voltage, these the wheel's speed and torque, and
    Euler's equation for the buckets the flow: a fixed nozzle leaves no choice.
    """
    threshold_V, lamp_ohm = values["lamps.threshold_voltage_V"], values["lamps.resistance_ohm"]
    half_A = threshold_V / (2 * lamp_ohm)
    amps = (half_A ** 2 + power_W / lamp_ohm) ** 0.5 - half_A
    source_V = (threshold_V + amps * (lamp_ohm + values["generator.resistance_ohm"])
                + values["generator.rectifier_drop_V"])
    emf, radius_m = values["generator.emf_constant_V_s_rad"], values["turbine.wheel_radius_m"]
    bucket_m_s = source_V / emf * radius_m
    torque = emf * amps + values["turbine.friction_torque_N_m"]
    density = water.density_kg_m3(values["site.water_temperature_degC"])
    turned = 1 + values["turbine.bucket_coefficient"] * math.cos(
        math.radians(180 - values["turbine.bucket_angle_deg"]))
    push = torque / (values["turbine.hit_frac"] * density * turned * radius_m)
    area_m2 = turbine.nozzle_area_m2(values["turbine.nozzle_diameter_m"], 1.0)
    flow = area_m2 / 2 * (bucket_m_s + (bucket_m_s ** 2 + 4 * push / area_m2) ** 0.5)
    return power_W / flow


def most_lamp_W(values: Mapping[str, Any], level_m: float) -> float:
    """Lamp power with the valve fully open at a level of the upper tank [W]."""
    flow = governing.full_flow_m3_s(values, values["upper.base_height_m"] + level_m)
    low, high = 0.0, 10 * night_full_W(values)
    for _ in range(60):
        middle = (low + high) / 2
        if middle <= 0 or middle / specific_J_m3(values, middle) < flow:
            low = middle
        else:
            high = middle
    return low

