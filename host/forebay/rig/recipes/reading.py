"""Recipes for what is read: instruments and their wiring. Every uncertainty here is a guess."""

from forebay.rig.instruments import is_fitted
from forebay.rig.recipes.rows import Row, part, plus, with_any
from keeper.boards import wiring

_SHEET = "Look it up in its sheet"
_STEP = f"{_SHEET}: the step of its reading."
_METERS = ("panel_meter", "pump_meter", "generator_meter", "lamp_meter", "supply_meter")
# Which meters read the voltage of a node.
_VOLTAGES = {"panel": ("panel_meter", "pump_meter"),
             "generator": ("generator_meter", "lamp_meter"), "supply": ("supply_meter",)}
_flow = with_any("flow_up", "flow_down")
_level = with_any("level")
_thermometers = with_any("motor_temperature", "water_temperature")
_meters = with_any(*_METERS)
_position = with_any("valve_position")
_STANDSTILL = "Watch it at standstill for a minute (forebay watch): a quarter of its whole swing."


def _range(name: str) -> Row:
    return Row("Divide 81.92 mV by the shunt in ohms, which is printed on it.",
               part(0.02), part(0.01), with_any(f"{name}_meter"), follows=True)


SENSORS = {
    "flow_frac": Row("Let fifty litres through into a measured drum, three times: how far the"
                     " count is from them.", part(0.7), part(0.3), _flow),
    "pulses_per_litre": Row("Let fifty litres through into a measured drum, and divide the pulses"
                            " by them.", part(0.10), part(0.015), _flow, follows=True),
    **{f"pulses_{side}": Row("Fill a bucket of known size some times: forebay calibrate flow.",
                             part(0.10), part(0.015), with_any(f"flow_{side}"))
       for side in ("up", "down")},
    **{f"{name}_voltage_factor": Row("Hold a hand meter beside it: forebay calibrate voltage.",
                                     part(0.01), part(0.003), with_any(*meters))
       for name, meters in _VOLTAGES.items()},
    "flow_floor": Row("Throttle until a bucket's time and the meter part by a tenth.",
                      part(0.5), part(0.15), _flow),
    "flow_stall": Row("Throttle on until the meter stands still, and time a bucket.",
                      part(0.5), part(0.15), _flow),
    "voltage_frac": Row(f"{_SHEET}, or hold a good hand meter beside it.",
                        part(0.7), part(0.4), _meters),
    "voltage_resolution": Row(_STEP, part(0.5), part(0.1), _meters),
    "voltage_noise": Row(_STANDSTILL, part(0.7), part(0.3), _meters),
    "current_frac": Row("Look up the tolerance of its shunt, or hold a good hand meter in line.",
                        part(0.7), part(0.4), _meters),
    "current_resolution": Row(_STEP, part(0.5), part(0.1), _meters),
    "current_noise_frac": Row(_STANDSTILL, part(0.7), part(0.3), _meters),
    **{f"{name.removesuffix('_meter')}_range": _range(name.removesuffix("_meter"))
       for name in _METERS},
    "level_uncertainty": Row("Compare it with a rule in the tank at five levels.",
                             part(0.7), part(0.3), _level),
    "level_resolution": Row(_STEP, part(0.5), part(0.1), _level),
    "level_noise": Row(_STANDSTILL, part(0.7), part(0.3), _level),
    "temperature_uncertainty": Row("Hold it in crushed ice that melts: it has 0 degC.",
                                   part(0.7), part(0.3), _thermometers),
    "temperature_noise": Row(_STANDSTILL, part(0.7), part(0.3), _thermometers),
    "valve_frac": Row("Stop the valve at marks on its shaft, and compare.",
                      part(0.7), part(0.3), _position),
}


def _two_on_a_line(values) -> bool:
    return (values["board.motor_sensor"] == wiring.ONE_WIRE
            and is_fitted(values, "water_temperature"))


def _has_thermistor(values) -> bool:
    return values["board.motor_sensor"] == wiring.THERMISTOR


def _has_servo(values) -> bool:
    return values["board.valve_kind"] == wiring.SERVO


def _is_analogue(values) -> bool:
    return any((_level(values), _position(values), _has_thermistor(values)))


_SERIAL = "With it alone on the line, read its number as [board] in host/docs/rig.md says."
_PULSE = "Move its pulse by 10 us at a time, and take the one at which the valve is at that end."
BOARD = {
    **{f"{name}_serial_{half}": Row(_SERIAL, used=_two_on_a_line)
       for name in ("motor", "water") for half in ("high", "low")},
    "thermistor_ohm": Row("Measure its ohms in a room of 25 degC.",
                          part(0.05), part(0.02), _has_thermistor),
    "thermistor_beta_K": Row("Look it up by its type.", part(0.05), part(0.01), _has_thermistor),
    "thermistor_pull_ohm": Row("Measure its ohms with a hand meter, off the board.",
                               part(0.05), part(0.01), _has_thermistor),
    "rail_mV": Row("Measure the board's 3.3 V pin with a hand meter.",
                   part(0.02), part(0.003), _is_analogue),
    "level_zero_mV": Row("Measure the sensor's volts at a level that a rule tells, near the"
                         " floor.", plus(80.0), plus(10.0), _level),
    "level_zero_mm": Row("Read on a rule the level at which level_zero_mV was taken.",
                         plus(30.0), plus(3.0), _level),
    "level_span_mV": Row("Measure the sensor's volts near the brim, less level_zero_mV.",
                         part(0.10), part(0.01), _level),
    "level_span_mm": Row("Read on a rule the rise over which level_span_mV was taken.",
                         part(0.10), part(0.01), _level),
    "valve_shut_mV": Row("Measure the position's volts with the valve shut.",
                         plus(150.0), plus(10.0), _position),
    "valve_open_mV": Row("Measure the position's volts with the valve wide open.",
                         plus(150.0), plus(10.0), _position),
    "servo_shut_us": Row(_PULSE, plus(150.0), plus(10.0), _has_servo),
    "servo_open_us": Row(_PULSE, plus(150.0), plus(10.0), _has_servo),
}
