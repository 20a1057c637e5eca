"""From a rig to the board's settings: one table of where each comes from."""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from forebay.rig import governing
from keeper import settings

M3_TO_uL = 1e9
L_TO_nL = 1e9
LIT_FRAC = 0.05  # of the dimmest lamp step: above it the lamps count as lit
CLEAR_OF_SHUT_FRAC = 0.01  # of travel: a valve that runs must not read as shut


class Source(NamedTuple):
    """Where a setting comes from."""

    keys: tuple[str, ...]  # of the description, for people
    value: Callable[[Mapping[str, Any]], float]  # from values by "section.key_unit"


def _scaled(place: str, factor: float = 1.0) -> Source:
    """A setting that is one key in another unit."""
    return Source((place,), lambda values: values[place] * factor)


_PULSES = Source(("sensors.pulses_per_litre",),
                 lambda values: L_TO_nL / values["sensors.pulses_per_litre"])


def _curve(share: float) -> Source:
    """A point of the governor's curve, clear of the reading at which the valve is shut."""
    return Source(governing.KEYS, lambda values: 1e3 * max(
        governing.position_frac(values, share),
        values["valve.shut_reading"] + CLEAR_OF_SHUT_FRAC))


SOURCES: dict[str, Source] = {
    "rig_id": Source(("rig.name",), lambda values: governing.identity(values["rig.name"])),
    "pulse_up_nL": _PULSES,
    "pulse_down_nL": _PULSES,
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
    "dark_panel_mV": _scaled("night.dark_voltage_V", 1e3),
    "dark_s": _scaled("night.dark_wait_s"),
    "setpoint_mW": _scaled("night.setpoint_W", 1e3),
    "lit_mW": Source(
        ("lamps.steps",), lambda values: 1e3 * LIT_FRAC * min(values["lamps.steps_W"])),
    "valve_rate_permille_s": _scaled("limits.valve_rate_per_s", 1e3),
    "valve_first_permille": _curve(1 / 64),
    "valve_shut_permille": _scaled("valve.shut_reading", 1e3),
    "governor_gain_upermille_mW": Source(governing.KEYS, governing.gain_upermille_mW),
    "governor_reset_ms": _scaled("night.governor_reset_s", 1e3),
    **{f"curve_{step}_permille": _curve(step / 8) for step in range(1, 8)},
    "row_running_s": _scaled("journal.row_running_s"),
    "row_standstill_s": _scaled("journal.row_standstill_s"),
    "tail_sync_s": _scaled("journal.tail_sync_s"),
}


def compiled(values: Mapping[str, Any]) -> list[int]:
    """Return the settings [integers in the order of keeper.settings], not yet checked.

    values: of a description by "section.key_unit" [SI].
    """
    return [round(SOURCES[name].value(values)) for name in settings.NAMES]


def faults(numbers: list[int]) -> list[str]:
    """Return one line, naming the keys, for each setting that the board would refuse."""
    found = []
    for (name, low, high, _), number in zip(settings.SETTINGS, numbers, strict=True):
        if not low <= number <= high:
            keys = ", ".join(SOURCES[name].keys)
            found.append(f"{keys}: these make {name} = {number}, which must be {low} to {high}")
    for lower, upper in settings.ORDERED:
        if numbers[settings.index(lower)] >= numbers[settings.index(upper)]:
            keys = [SOURCES[name].keys[0] for name in (lower, upper)]
            found.append(f"{keys[0]}: must be below {keys[1]}, also after rounding")
    return found or settings.problems(numbers)
