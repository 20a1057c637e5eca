"""From a rig to the board's settings: one table of where each comes from."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from forebay.rig import governing, instruments, lasting, protecting
from forebay.rig.instruments import pulses_L
from forebay.rig.schema import NAME_OF
from keeper import settings
from keeper.boards import wiring
from keeper.protection.volumes import STEPS

M3_TO_uL = 1e9
L_TO_nL = 1e9
S_PER_MIN = 60
LIT_FRAC = 0.05  # of the dimmest lamp step: above it the lamps count as lit
LEAST_LEVEL_MM = 1.0  # the board's step of level


class Source(NamedTuple):
    """Where a setting comes from."""

    keys: tuple[str, ...]  # of the description, for people
    value: Callable[[Mapping[str, Any]], float]  # from values by "section.key_unit"


def _scaled(place: str, factor: float = 1.0) -> Source:
    """A setting that is one key in another unit."""
    return Source((place,), lambda values: values[place] * factor)


def _pulse_nL(side: str) -> Source:
    """The water of a pulse of a meter."""
    return Source((f"sensors.pulses_{side}", "sensors.pulses_per_litre"),
                  lambda values: L_TO_nL / pulses_L(values, side))


def _slope(step: int) -> Source:
    """How the light changes with travel, in hundredths, at a point of the travel."""
    return Source(governing.KEYS, lambda values: 1e2 * governing.tabled_slope(values, step))


def _travel(step: int) -> Source:
    """Where the valve gives a part of the brightest light under a full tank."""
    return Source(governing.KEYS, lambda values: 1e3 * governing.travel_frac(
        values, protecting.night_full_W(values) * step / _STEPS,
        governing.highest_head_m(values)))


def _run_ms(values: Mapping[str, Any]) -> float:
    """How long a motor runs from shut to open; 0: a servo goes where it is told."""
    return 1e3 * values["valve.travel_s"] if values["board.valve_kind"] in wiring.MOTORS else 0.0


_STEPS = 8
_COLD_HYSTERESIS_K = 1.0
_SOLAR_PUMP = ("panel", "pump", "motor", "rising_main")
_TURBINE_SET = governing.KEYS


def _made(rule: Callable[[Mapping[str, Any]], float], *keys: str) -> Source:
    """A setting that a rule works out from some keys or sections."""
    return Source(keys, rule)


def _minute(place: str) -> Source:
    """A time of day that may be absent, in minutes."""
    return Source((place,), lambda values: -1 if values.get(f"{place}_s") is None
                  else values[f"{place}_s"] / S_PER_MIN)


def _step(place: int) -> Source:
    """A brightness step, 0 where there are fewer."""
    return Source(("lamps.steps",), lambda values: (
        1e3 * values["lamps.steps_W"][place] if place < len(values["lamps.steps_W"]) else 0))


def _specific(point: int) -> Source:
    """A point of the specific output [mJ/L]: numerically J/m3."""
    return Source(_TURBINE_SET, lambda values: protecting.specific_J_m3(
        values, protecting.night_full_W(values) * point / _STEPS))


def _volume(step: int) -> Source:
    """A point of the upper tank's water above its low float [mL]."""
    return Source(("upper",), lambda values: protecting.upper_volume_mL(values, step / STEPS))


_PROTECTION: dict[str, Source] = {
    "overspeed_mV": _made(protecting.overspeed_mV, "generator"),
    "generator_mohm": _scaled("generator.resistance_ohm", 1e3),
    "fitted": _made(instruments.mask, *(one.key for one in instruments.INSTRUMENTS)),
    "level_full_mm": _made(lambda values: protecting.upper_level_mm(values, "full_volume"),
                           "upper.full_volume"),
    "level_high_mm": _made(protecting.level_high_mm, "upper.full_volume",
                           "limits.level_tolerance", "sensors.full_float"),
    "level_empty_mm": _made(lambda values: protecting.upper_level_mm(values, "empty_volume"),
                            "upper.empty_volume"),
    "level_low_mm": Source(("upper.empty_volume", "limits.level_tolerance"), lambda values: (
        protecting.upper_level_mm(values, "empty_volume")
        - protecting.M_TO_MM * values["limits.level_tolerance_m"])),
    **{f"volume_{step}_mL": _volume(step) for step in range(1, STEPS + 1)},
    "level_reserve_mm": Source(
        ("sensors.level_uncertainty",),
        lambda values: max(LEAST_LEVEL_MM, protecting.M_TO_MM * lasting.COVERING
                           * values["sensors.level_uncertainty_m"])),
    "lower_full_delay_ms": _scaled("limits.lower_full_delay_s", 1e3),
    "thermal_base_mA": _made(
        protecting.thermal_base_mA, "motor.resistance", "motor.still_resistance",
        "motor.trip_temperature", *_SOLAR_PUMP),
    "thermal_tau_s": _made(
        lambda values: (values["motor.heat_capacity_J_K"]
                        * values["motor.cooled_resistance_K_W"]),
        "motor.heat_capacity", "motor.cooled_resistance"),
    "motor_rise_mdegC": _made(
        protecting.motor_rise_mdegC, "motor.cooled_resistance", "upper", "lower",
        "sensors.temperature_uncertainty", *_SOLAR_PUMP, "limits.useful_flow"),
    "still_tau_s": _made(
        lambda values: (values["motor.heat_capacity_J_K"]
                        * values["motor.still_resistance_K_W"]),
        "motor.heat_capacity", "motor.still_resistance"),
    "working_most_mdegC": _made(
        protecting.working_most_mdegC, "motor.cooled_resistance", "site.hottest_air",
        "site.coldest_cell", "sensors.temperature_uncertainty", *_SOLAR_PUMP),
    "heating_mdegC": _made(
        protecting.heating_mdegC, "motor.heat_capacity", "site.coldest_cell",
        "sensors.temperature_noise", *_SOLAR_PUMP),
    "warmth_noise_mdegC": _made(protecting.warmth_noise_mdegC, "sensors.temperature_noise"),
    "hot_water_mdegC": _made(
        lambda values: 1e3 * protecting.hottest_water_degC(values),
        "site.hottest_air", "site.water_temperature"),
    "hot_air_mdegC": _made(
        lambda values: 1e3 * (values["site.hottest_air_degC"] + protecting.SUNLIT_K),
        "site.hottest_air"),
    "dry_base_mA": _scaled("motor.no_load_current_A", 1e3),
    "dry_gain_uA_V2": _made(protecting.dry_gain_uA_V2, *_SOLAR_PUMP),
    "pump_judge_mV": _made(
        lambda values: 1e3 * protecting.JUDGE_FRAC * values["pump.rated_voltage_V"],
        "pump.rated_voltage"),
    "lead_mA": _made(
        lambda values: 1e3 * max(values["sensors.current_resolution_A"],
                                 protecting.LEAD_PART * values["motor.no_load_current_A"]),
        "motor.no_load_current"),
    "dry_delay_ms": _scaled("limits.dry_delay_s", 1e3),
    "stall_mohm": _made(
        lambda values: 1e3 * protecting.STALL_PART * values["motor.resistance_ohm"],
        "motor.resistance"),
    "stall_least_mA": _made(
        lambda values: 1e3 * protecting.STALL_CURRENT * values["motor.no_load_current_A"],
        "motor.no_load_current"),
    "flow_sure_mW": _made(protecting.flow_sure_mW, *_SOLAR_PUMP, "upper", "lower",
                          "limits.useful_flow", "sensors.flow_floor"),
    "seen_flow_uL_s": _scaled("sensors.flow_floor_m3_s", M3_TO_uL),
    "trickle_mW": _made(protecting.trickle_mW, *_SOLAR_PUMP, "upper", "lower",
                        "sensors.flow_floor"),
    "useful_sure_mW": _made(protecting.useful_sure_mW, *_SOLAR_PUMP, "upper", "lower",
                            "limits.useful_flow", "sensors.flow_up"),
    "no_flow_delay_ms": _scaled("limits.no_flow_delay_s", 1e3),
    "prime_ms": _made(
        lambda values: 1e3 * protecting.PRIME_PART * values["limits.trial_s"], "limits.trial"),
    "fill_least_mV": _made(protecting.fill_least_mV, *_SOLAR_PUMP, "upper", "lower",
                           "limits.useful_flow"),
    "fill_most_s": _made(protecting.fill_most_s, "upper", "limits.useful_flow"),
    "fill_look_min": _scaled("limits.fill_look_s", 1 / S_PER_MIN),
    "float_fall_s": _made(protecting.float_fall_s, "upper.float_hysteresis", "limits.leak"),
    "welded_mA": _made(
        lambda values: 1e3 * max(protecting.LEAST_WELDED_A,
                                 protecting.WELDED_FRAC * values["sensors.pump_range_A"]),
        "sensors.pump_range"),
    "starts_per_hour": _scaled("limits.starts_per_hour"),
    "starts_most_milli": _made(
        lambda values: 1000 * values["limits.starts_per_hour"] - 500, "limits.starts_per_hour"),
    "starts_again_milli": _made(
        lambda values: 1000 * values["limits.starts_per_hour"] - 1000, "limits.starts_per_hour"),
    "valve_gap_permille": _made(protecting.valve_gap_permille, "sensors.valve_frac"),
    "valve_travel_ms": _made(
        lambda values: 1e3 * (protecting.valve_way_s(values) + protecting.VALVE_RESERVE_S),
        "valve.travel", "limits.valve_rate"),
    "valve_open_permille": _made(
        lambda values: 1e3 * (values["valve.shut_reading"] + protecting.OPEN_FRAC),
        "valve.shut_reading"),
    "valve_sure_permille": _made(protecting.valve_sure_permille, *_TURBINE_SET,
                                 "sensors.flow_floor"),
    "wheel_turns_permille": _made(protecting.wheel_turns_permille, *_TURBINE_SET,
                                  "sensors.valve_frac"),
    "no_volts_delay_ms": _made(
        protecting.no_volts_delay_ms, "limits.no_flow_delay", "valve.travel", "limits.valve_rate",
        "sensors.valve_frac"),
    "shut_dark_ms": _made(
        protecting.shut_dark_ms, "valve.travel", "limits.valve_rate", "turbine", "generator"),
    "shut_flow_uL_s": _made(
        lambda values: M3_TO_uL * protecting.SHUT_FLOW_PART * values["sensors.flow_floor_m3_s"],
        "sensors.flow_floor"),
    "leak_mm": _scaled("limits.leak_m", 1e3),
    "volume_gap_mm": _scaled("limits.volume_gap_m", 1e3),
    "lamp_sure_mV": _made(
        lambda values: 1e3 * max(protecting.LEAST_LAMP_V, protecting.SURE_LAMP_PART
                                 * values["lamps.threshold_voltage_V"]),
        "lamps.threshold_voltage"),
    "lamp_gap_mA": _made(
        protecting.lamp_gap_mA, "lamps", "sensors.current_frac", "generator.trip_voltage"),
    "clamp_free_mV": _made(
        protecting.clamp_free_mV, "generator.clamp_voltage", "sensors.voltage_frac"),
    "generator_most_mW": _scaled("generator.rated_power_W", 1e3 * protecting.GENERATOR_PART),
    "supply_low_mV": _scaled("supply.low_voltage_V", 1e3),
    "supply_good_mV": _scaled("supply.good_voltage_V", 1e3),
    "supply_delay_ms": _scaled("limits.supply_delay_s", 1e3),
    "freeze_mdegC": _scaled("limits.freeze_temperature_degC", 1e3),
    "cold_mdegC": _scaled("limits.cold_temperature_degC", 1e3),
    "cold_reset_mdegC": _made(
        lambda values: 1e3 * (values["limits.cold_temperature_degC"] + _COLD_HYSTERESIS_K),
        "limits.cold_temperature"),
}

_NIGHT: dict[str, Source] = {
    "useful_mW": _scaled("night.useful_W", 1e3),
    **{f"step_{place + 1}_mW": _step(place) for place in range(_STEPS)},
    "light_press_min": _scaled("night.press_s", 1 / S_PER_MIN),
    "at_dusk": _made(lambda values: values["night.begins"] == "dusk", "night.begins"),
    "until_dawn": _made(lambda values: values["night.until_dawn"] == "yes", "night.until_dawn"),
    "clock_on_min": _minute("night.clock_on"),
    "clock_off_min": _minute("night.clock_off"),
    "longest_night_min": _made(protecting.longest_night_min, "site.latitude"),
    "night_full_mW": _made(lambda values: 1e3 * protecting.night_full_W(values), "lamps.steps"),
    **{f"specific_{point}_mJ_L": _specific(point) for point in range(1, _STEPS + 1)},
    "full_sure_mL": _made(lasting.sunk_mL, "upper.full_volume", "upper.float_hysteresis"),
    "spare_mL": _made(lasting.spare_mL, "upper.empty_volume", "sensors.empty_float"),
    "output_permille": _made(
        lambda values: 1e3 * lasting.output_frac(values), "turbine.output_uncertainty"),
    "flow_permille": _made(
        lambda values: 1e3 * lasting.COVERING * values["sensors.flow_frac"], "sensors.flow_frac"),
    "lift_most_uL_s": _made(
        lambda values: M3_TO_uL * lasting.lift_most_m3_s(values), *_SOLAR_PUMP, "upper", "lower"),
}

SOURCES: dict[str, Source] = {
    "rig_id": Source(("rig.name",), lambda values: governing.identity(values["rig.name"])),
    "pulse_up_nL": _pulse_nL("up"),
    "pulse_down_nL": _pulse_nL("down"),
    "full_delay_ms": _scaled("limits.full_delay_s", 1e3),
    "over_full_delay_ms": _scaled("limits.over_full_delay_s", 1e3),
    "upper_empty_delay_ms": _scaled("limits.upper_empty_delay_s", 1e3),
    "lower_empty_delay_ms": _scaled("limits.lower_empty_delay_s", 1e3),
    "motor_trip_mdegC": _scaled("motor.trip_temperature_degC", 1e3),
    "motor_reset_mdegC": _scaled("motor.reset_temperature_degC", 1e3),
    "motor_delay_ms": _scaled("limits.motor_delay_s", 1e3),
    "generator_trip_mV": _scaled("generator.trip_voltage_V", 1e3),
    "generator_reset_mV": _scaled("generator.reset_voltage_V", 1e3),
    "generator_delay_ms": _scaled("limits.generator_delay_s", 1e3),
    "trip_retries": _scaled("limits.trip_retries"),
    "trip_wait_s": _scaled("limits.trip_wait_s"),
    "trip_window_s": _scaled("limits.trip_window_s"),
    "start_panel_mV": _scaled("limits.start_voltage_V", 1e3),
    "start_wait_s": _scaled("limits.start_wait_s"),
    "trial_s": _scaled("limits.trial_s"),
    "useful_flow_uL_s": _scaled("limits.useful_flow_m3_s", M3_TO_uL),
    "holdoff_s": _scaled("limits.holdoff_s"),
    "holdoff_longest_s": _scaled("limits.holdoff_longest_s"),
    "pump_least_on_s": _scaled("limits.pump_least_on_s"),
    "pump_least_off_s": _scaled("limits.pump_least_off_s"),
    "light_least_off_s": _scaled("limits.light_least_off_s"),
    "light_rest_longest_s": _scaled("limits.light_rest_longest_s"),
    "dark_panel_mV": _scaled("night.dark_voltage_V", 1e3),
    "dark_s": _scaled("night.dark_wait_s"),
    "setpoint_mW": _scaled("night.setpoint_W", 1e3),
    **_PROTECTION,
    **_NIGHT,
    "lit_mW": Source(
        ("lamps.steps",), lambda values: 1e3 * LIT_FRAC * min(values["lamps.steps_W"])),
    "valve_rate_permille_s": _scaled("limits.valve_rate_per_s", 1e3),
    "valve_shut_permille": _scaled("valve.shut_reading", 1e3),
    "valve_zero_permille": _made(protecting.valve_gap_permille, "sensors.valve_frac"),
    "valve_run_ms": _made(_run_ms, "valve.travel", "board.valve_kind"),
    "valve_pulse_ms": _scaled("valve.least_pulse_s", 1e3),
    "valve_rest_ms": _scaled("valve.rest_s", 1e3),
    "valve_backlash_permille": _scaled("valve.backlash", 1e3),
    "valve_press_ms": _made(lambda values: 1e3 * values["valve.press"]
                            * values["valve.travel_s"], "valve.travel", "valve.press"),
    "settle_ms": _made(lambda values: 1e3 * governing.settle_s(values), *governing.KEYS),
    **{f"slope_{step}_centi": _slope(step) for step in range(_STEPS + 1)},
    **{f"travel_{step}_permille": _travel(step) for step in range(1, _STEPS + 1)},
    "row_running_s": _scaled("journal.row_running_s"),
    "row_standstill_s": _scaled("journal.row_standstill_s"),
    "tail_sync_s": _scaled("journal.tail_sync_s"),
}


def compiled(values: Mapping[str, Any]) -> list[int]:
    """Return the settings [integers in the order of keeper.settings], not yet checked.

    values: of a description by "section.key_unit" [SI].
    """
    return [round(SOURCES[name].value(values)) for name in settings.NAMES]


def faults(values: Mapping[str, Any]) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield (keys, what is wrong) for each setting that the board would refuse.

    values: by "section.key_unit" [SI]; a setting whose values are missing is passed over.
    """
    numbers = {}
    for name, low, high in settings.SETTINGS:
        keys = tuple(_key(place) for place in SOURCES[name].keys)
        try:
            number = numbers[name] = round(SOURCES[name].value(values))
        except KeyError:
            continue
        except (ValueError, ArithmeticError) as error:
            sections = tuple(dict.fromkeys(key.partition(".")[0] for key in keys))
            yield sections, f"{name} cannot be worked out: {error}"
            continue
        if not low <= number <= high:
            yield keys, f"this makes {name} = {number}, which must be {low} to {high}"
    for lower, upper in settings.ORDERED:
        if lower in numbers and upper in numbers and numbers[lower] >= numbers[upper]:
            keys = [_key(SOURCES[name].keys[0]) for name in (lower, upper)]
            yield tuple(keys), f"{keys[0]} must be below {keys[1]}, also after rounding"


def _key(place: str) -> str:
    """Return "section.key" of "section.key_unit", and anything else as it is."""
    return NAME_OF.get(place, place)
