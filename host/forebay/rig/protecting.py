"""Limits of protection and of the night budget, worked out from the rig's own figures.

Each function takes values by "section.key_unit" [SI] and returns one setting
before rounding.  Where a figure is a guess, its constant says so.
"""

import math
from collections.abc import Mapping
from typing import Any

from forebay.rig import governing, instruments
from keeper.physics import of_rig
from keeper.physics.solar_pump import SolarPump
from keeper.physics.solve import rising_root
from keeper.protection import derived, standing_in, volumes

M_TO_MM = 1e3
V_TO_MV = 1e3
M3_TO_ML = 1e6
# Half of the extra current that a motor without flow draws over an empty pump: a guess.
DRY_PART = 0.4
JUDGE_FRAC = 0.5          # of the rated voltage: below it dry and wet lie too close; a guess
OVERLOAD_FRAC = 1.2       # of the rated current: what any motor stands for ever; a guess
STALL_PART = 2.0          # resistances: a turning motor shows more volts per ampere; a guess
STALL_CURRENT = 2.0       # no-load currents: less does not hurt a motor that stands; a guess
SURE_PART = 1.1           # of the power at which water must go up; a guess
LEAD_PART = 0.5           # of the no-load current: less, and no motor is there; a guess
USEFUL_PART = 1.3         # of the power that lifts the useful flow: lift and wear; a guess
RISE_PART = 0.7           # of the warmth by its losses: what is known of its cooling; a guess
GENERATOR_PART = 1.05     # of the rated power: the governor holds 5 %
LEAST_WELDED_A = 0.05     # a leaking switch passes less; a guess
WELDED_FRAC = 0.02        # of the monitor's range
PRIME_PART = 0.75         # of a trial start, so that 48-PMP comes before "too weak"
LEAST_HIGH_M = 0.001      # over a full tank: a millimetre, the board's step; below it, it lets go
VALVE_GAP_FRAC = 0.05     # of travel; more where the position is less certain
COVERAGE = 3.0            # standard uncertainties that a difference may be wrong by
VALVE_RESERVE_S = 2.0     # over the travel, before the valve counts as stuck; a guess
OUT_OF_REACH_PERMILLE = 1001.0
OPEN_FRAC = 0.03          # of travel above the shut reading; a guess
SEEN_FLOW_PART = 1.5      # of the meter's floor: a flow that is surely seen
SHUT_FLOW_PART = 0.6      # of the meter's floor: still counted, and no drip
SURE_LAMP_PART = 1.1      # of the lamps' threshold
LEAST_LAMP_V = 0.1        # at which lamps without a threshold are judged; a guess
# Stand-ins: what a rig is judged by that lacks an instrument.
HOT_WATER_PART = 0.5      # of the way from the site's water to its hottest air; a guess
SUNLIT_K = 15.0           # what the sun warms a resting motor's case beyond the air; a guess
WARMER_CELLS_K = 20.0     # cells in a bright sun against the coldest ones, even in wind; a guess
BRIGHTEST_W_M2 = 1200.0   # at the rim of a cloud, for minutes; common practice, no source
SUN_STEP_W_M2 = 50.0
MOST_RISE_MDEGC = 200e3   # more than a thermometer can read: a motor of next to no mass
TEMPERATURE_STEP_K = 1 / 16  # of the thermometers, as the twin reads them
FILL_PART = 1.5           # of the time that a fill takes at the least flow: lift and wear; a guess
LEAK_WATCH_S = 6 * 3600.0 # in which the level falls by the leak that is told, where it is read
AGAIN_S = 30.0            # a valve that still gives volts is pressed shut anew meanwhile; a guess
POINTS = 8
OBLIQUITY_DEG = 23.44     # of the ecliptic; from memory, any almanac
DARKER_MIN = 60           # dusk and dawn of a panel lie inside sunset and sunrise; a guess
DAY_MIN = 1440


def upper_level_mm(values: Mapping[str, Any], key: str) -> float:
    """Level of a volume of the upper tank [mm]."""
    return M_TO_MM * of_rig.tank(values, "upper.").level_m(values[f"upper.{key}_m3"])


def level_high_mm(values: Mapping[str, Any]) -> float:
    """Level at which 71H-LVL stops the pump [mm].

    Beyond the full float's by the tolerance: it must not act before the float.  Without that
    float it stands in its place, and what the level may be wrong by is all the room there is
    below the over-full float, which would trip.
    """
    beyond_m = LEAST_HIGH_M
    if instruments.is_fitted(values, "full_float"):
        beyond_m = values["limits.level_tolerance_m"]
    return upper_level_mm(values, "full_volume") + M_TO_MM * beyond_m


def upper_volume_mL(values: Mapping[str, Any], frac: float) -> float:
    """Water above the low float of the upper tank [mL], so far from empty to full by level.

    Raises ValueError if its surface in the step below is larger than the board counts with.
    """
    shape = of_rig.tank(values, "upper.")
    low_m, high_m = (shape.level_m(values[f"upper.{key}_volume_m3"]) for key in ("empty", "full"))
    step_m = (high_m - low_m) / volumes.STEPS
    volume_m3 = shape.volume_m3(low_m + frac * (high_m - low_m))
    below_m3 = shape.volume_m3(max(low_m, low_m + frac * (high_m - low_m) - step_m))
    most_m2 = volumes.MOST_ML_MM / M3_TO_ML * M_TO_MM
    surface_m2 = (volume_m3 - below_m3) / step_m
    if surface_m2 > most_m2:
        raise ValueError(f"its surface there is {surface_m2:.0f} m2, at most {most_m2:.0f} m2")
    return M3_TO_ML * (volume_m3 - values["upper.empty_volume_m3"])


def _solar_pump(values: Mapping[str, Any]) -> SolarPump:
    return SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))


def thermal_base_mA(values: Mapping[str, Any]) -> float:
    """Current whose copper loss brings the uncooled motor to its trip temperature [mA].

    Not below what any motor stands.
    """
    pump, motor = _solar_pump(values), of_rig.motor_heat(values)
    still_W = motor.lasting_W(values["motor.trip_temperature_degC"],
                              values["site.water_temperature_degC"])
    still_A = (still_W / pump.resistance) ** 0.5
    return 1e3 * max(OVERLOAD_FRAC * pump.rated_A, still_A)


def dry_gain_uA_V2(values: Mapping[str, Any]) -> float:
    """Growth of the least current with the square of the voltage, 37-PMP [uA/V2]."""
    pump = _solar_pump(values)
    volts, amps = pump.no_flow(1.0)
    return 1e6 * DRY_PART * (amps - pump.no_load_A) / volts ** 2


def flow_sure_mW(values: Mapping[str, Any]) -> float:
    """Power into a pump without flow, turning so fast that water must go up [mW].

    At that speed its head at the useful flow passes the longest lift and the
    rising main, whose friction is taken as at the rated flow.
    """
    pump = _solar_pump(values)
    lift_m = _longest_lift_m(values)
    flow = max(values["limits.useful_flow_m3_s"], least_seen_m3_s(values))
    head_m = lift_m + (pump.pipe_s2_m5 + pump.inner_s2_m5) * flow ** 2
    volts, amps = pump.no_flow((head_m / pump.head_m) ** 0.5)
    return 1e3 * SURE_PART * volts * amps


def _longest_lift_m(values: Mapping[str, Any]) -> float:
    """Lift from the floor of the lower tank [m]."""
    return values["upper.inlet_height_m"] - values["lower.base_height_m"]


def trickle_mW(values: Mapping[str, Any]) -> float:
    """Power over that of `flow_sure_mW` at which even a trickle on the meter is no flow [mW].

    The healthy pump that draws less may lift so little that its meter is not sure of it.
    """
    volts, amps = _solar_pump(values).lifting(_longest_lift_m(values), least_seen_m3_s(values))
    return max(0.0, 1e3 * SURE_PART * volts * amps - flow_sure_mW(values))


def useful_sure_mW(values: Mapping[str, Any]) -> float:
    """Power at which a pump lifts more than the useful flow, over the longest lift [mW].

    A meter that sees less is told of only if the flow surely goes up.  Without one this power
    itself stands for the flow: a healthy pump that lifts it must not be taken for a weak sun.
    """
    volts, amps = _solar_pump(values).lifting(
        _longest_lift_m(values), values["limits.useful_flow_m3_s"])
    part = USEFUL_PART if instruments.is_fitted(values, "flow_up") else 1.0
    return 1e3 * part * volts * amps


def motor_rise_mdegC(values: Mapping[str, Any]) -> float:
    """How much warmer than its water the working motor reads at least, less the errors [mdegC].

    From its losses at the useful flow over the shortest lift, through its cooled
    resistance.  Negative where the two thermometers are less certain than that.
    """
    pump = _solar_pump(values)
    lift_m = max(0.0, _longest_lift_m(values) - values["lower.height_m"])
    volts, amps = pump.lifting(lift_m, values["limits.useful_flow_m3_s"])
    winding_V = pump.resistance * amps
    loss_W = winding_V * amps + (volts - winding_V) * pump.no_load_A
    rise_K = RISE_PART * loss_W * values["motor.cooled_resistance_K_W"]
    error_K = COVERAGE * math.sqrt(2.0) * values["sensors.temperature_uncertainty_K"]
    return 1e3 * (rise_K - error_K)


def hottest_water_degC(values: Mapping[str, Any]) -> float:
    """Hottest water that the pump lifts [degC]."""
    degC = values["site.water_temperature_degC"]
    return degC + HOT_WATER_PART * max(0.0, values["site.hottest_air_degC"] - degC)


def most_loss_W(values: Mapping[str, Any]) -> float:
    """Largest loss in the motor of a pump that lifts [W]: brightest sun, coldest cells by day."""
    pump = _solar_pump(values)
    cell_degC = values["site.coldest_cell_degC"] + WARMER_CELLS_K
    longest_m = _longest_lift_m(values)
    most_W = 0.0
    for lift_m in (longest_m, max(0.0, longest_m - values["lower.height_m"])):
        for step in range(1, round(BRIGHTEST_W_M2 / SUN_STEP_W_M2) + 1):
            if pump.steady(step * SUN_STEP_W_M2, cell_degC, lift_m)[0] > 0.0:
                winding_W, friction_W = pump.losses_W(True)[:2]
                most_W = max(most_W, winding_W + friction_W)
    return most_W


def working_most_mdegC(values: Mapping[str, Any]) -> float:
    """Warmest reading of a motor that is cooled by the water it lifts, 26-PMP [mdegC].

    Not below the hottest air: in the dark it is as warm as that.
    """
    rise_K = most_loss_W(values) * values["motor.cooled_resistance_K_W"]
    error_K = COVERAGE * values["sensors.temperature_uncertainty_K"]
    return min(MOST_RISE_MDEGC, 1e3 * (error_K + max(
        hottest_water_degC(values) + rise_K, values["site.hottest_air_degC"])))


def warmth_noise_mdegC(values: Mapping[str, Any]) -> float:
    """Difference of two readings of a motor that has kept its warmth [mdegC]."""
    return 1e3 * (COVERAGE * math.sqrt(2.0) * values["sensors.temperature_noise_K"]
                  + TEMPERATURE_STEP_K)


def heating_mdegC(values: Mapping[str, Any]) -> float:
    """How much a motor may read warmer by its own losses in a minute, 14-HOT [mdegC]."""
    rise_K = most_loss_W(values) * standing_in.WINDOW_S / values["motor.heat_capacity_J_K"]
    return min(MOST_RISE_MDEGC, 1e3 * rise_K + warmth_noise_mdegC(values))


def fill_least_mV(values: Mapping[str, Any]) -> float:
    """Panel voltage from which the pump surely lifts the useful flow [mV]."""
    volts, _ = _solar_pump(values).lifting(
        _longest_lift_m(values), values["limits.useful_flow_m3_s"])
    return V_TO_MV * SURE_PART * volts


def fill_most_s(values: Mapping[str, Any]) -> float:
    """Time in which a healthy pump fills the tank, or lifts the level, at the useful flow [s]."""
    volume_m3 = values["upper.full_volume_m3"]
    if instruments.is_fitted(values, "level"):
        shape = of_rig.tank(values, "upper.")
        seen_m = derived.JUDGED_MM / M_TO_MM + COVERAGE * values["sensors.level_uncertainty_m"]
        steps = range(math.ceil(shape.level_m(volume_m3) / seen_m))
        volume_m3 = max(shape.volume_m3(min(shape.height_m, (step + 1) * seen_m))
                        - shape.volume_m3(step * seen_m) for step in steps)
    return FILL_PART * volume_m3 / values["limits.useful_flow_m3_s"]


def float_fall_s(values: Mapping[str, Any]) -> float:
    """Time in which a leak that is told lets the full float fall [s], where no level is read."""
    return LEAK_WATCH_S * values["upper.float_hysteresis_m"] / values["limits.leak_m"]


def shut_dark_ms(values: Mapping[str, Any]) -> float:
    """Time after which a valve that is told shut gives no volts [ms]: the wheel has run out."""
    inside_V = overspeed_mV(values) / V_TO_MV + values["generator.rectifier_drop_V"]
    coast_s = (values["turbine.inertia_kg_m2"] * inside_V
               / values["generator.emf_constant_V_s_rad"] / values["turbine.friction_torque_N_m"])
    press_s = values["valve.press"] * values["valve.travel_s"]
    return 1e3 * (2 * (valve_way_s(values) + press_s) + VALVE_RESERVE_S + coast_s + AGAIN_S)


def clamp_free_mV(values: Mapping[str, Any]) -> float:
    """Reading of the generator's voltage below which the clamp carries nothing [mV]."""
    error_V = (values["sensors.voltage_frac"] * values["generator.clamp_voltage_V"]
               + values["sensors.voltage_noise_V"])
    return 1e3 * (values["generator.clamp_voltage_V"] - COVERAGE * error_V)


def lamp_gap_mA(values: Mapping[str, Any]) -> float:
    """Difference of two readings of the lamps' current that is no uncertainty [mA].

    At the current that the lamps take at the generator's trip voltage.
    """
    most_A = ((values["generator.trip_voltage_V"] - values["lamps.threshold_voltage_V"])
              / values["lamps.resistance_ohm"])
    noise_A = values["sensors.current_noise_frac"] * max(
        values["sensors.generator_range_A"], values["sensors.lamp_range_A"])
    error_A = math.sqrt(2.0) * (values["sensors.current_frac"] * most_A + noise_A)
    return 1e3 * (COVERAGE * error_A + values["sensors.current_resolution_A"])


def overspeed_mV(values: Mapping[str, Any]) -> float:
    """Inner voltage at which the clamp carries its rating [mV]."""
    amps = values["generator.clamp_power_W"] / values["generator.clamp_voltage_V"]
    inside_ohm = values["generator.clamp_resistance_ohm"] + values["generator.resistance_ohm"]
    return 1e3 * (values["generator.clamp_voltage_V"] + amps * inside_ohm)


def valve_gap_permille(values: Mapping[str, Any]) -> float:
    """Difference between told and read position that is no uncertainty [permille]."""
    return 1e3 * max(VALVE_GAP_FRAC, COVERAGE * values["sensors.valve_frac"]
                     + VALVE_GAP_FRAC / 2)


def valve_way_s(values: Mapping[str, Any]) -> float:
    """Time from open to shut as the keeper drives it [s]: its own, or at the safe rate."""
    return max(values["valve.travel_s"], 1 / values["limits.valve_rate_per_s"])


def valve_sure_permille(values: Mapping[str, Any]) -> float:
    """Opening at which even the lowest level gives a flow that is seen [permille].

    Out of reach where no opening gives one, or there is no meter to see it.
    """
    machine, head_m = governing.turbine_set(values), governing.lowest_head_m(values)
    if not instruments.is_fitted(values, "flow_down"):
        return OUT_OF_REACH_PERMILLE
    return 1e3 * (VALVE_GAP_FRAC + machine.travel_for_frac(least_seen_m3_s(values), head_m))


def wheel_turns_permille(values: Mapping[str, Any]) -> float:
    """Reading of the valve from which the wheel surely turns, 37-GEN [permille].

    At the lowest head it settles to the volts that 37-GEN asks for; by as much as the
    valve may read too far, it reads more.
    """
    machine, head_m = governing.turbine_set(values), governing.lowest_head_m(values)
    asked_V = derived.LEAST_GENERATOR_MV / V_TO_MV
    travel = rising_root(
        lambda travel: machine.steady(travel, head_m)[2] - asked_V, 0.0, 1.0)
    return 1e3 * travel + valve_gap_permille(values)


def no_volts_delay_ms(values: Mapping[str, Any]) -> float:
    """Delay of 37-GEN [ms]: a valve that reads too far has as much of its way before it.

    What it opens in the delay of its like then gives the wheel the torque to start.
    """
    behind_s = valve_gap_permille(values) / 1e3 * valve_way_s(values)
    return 1e3 * (values["limits.no_flow_delay_s"] + behind_s)


def least_seen_m3_s(values: Mapping[str, Any]) -> float:
    """Flow that the meter surely sees [m3/s]."""
    return SEEN_FLOW_PART * values["sensors.flow_floor_m3_s"]


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
    """Lamp energy from a cubic metre at a steady lamp power [J/m3]."""
    return power_W / governing.turbine_set(values).flow_for_lamps_m3_s(power_W)
