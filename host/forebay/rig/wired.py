"""The section of a rig's description that says how the rig is wired to its board.

Its keys are the board's own table, `keeper.boards.wiring.WIRING`, less what other
keys of the description already say: that is derived, and cannot be said twice.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from forebay.rig.instruments import FITTED
from forebay.rig.keys import COUNT, Derived, Key, Section
from forebay.words.rig import WIRING
from keeper.boards import wiring
from keeper.boards.pins import gpio

# Of a monitor's signed 16-bit shunt register of 2.5 uV a step, as
# keeper.instruments.monitors reads it.
FULL_SCALE_V = 0.08192
# What a monitor's bus input stands and reads (data sheets, from memory): its register, of
# 1.25 mV a step, goes on to 40.95 V.
MONITOR_MOST_V = 36.0
MONITORS = ("panel", "pump", "generator", "lamp", "supply")
_MICRO, _MILLI = 1e6, 1e3


def shunt_uohm(range_A: float) -> float:
    """Return the shunt [uohm] whose monitor reaches a range [A], two digits, rounded down."""
    most = FULL_SCALE_V / range_A * _MICRO
    step = 10 ** (math.floor(math.log10(most)) - 1)
    return math.floor(most / step) * step


def _is_fitted(key: str) -> Callable[[Mapping[str, Any]], int]:
    return lambda values: int(values[key] == FITTED)


def _shunt(name: str) -> Derived:
    return Derived(f"from sensors.{name}_range; 0 without {name}_meter", lambda values: (
        int(shunt_uohm(values[f"sensors.{name}_range_A"]))
        if values[f"sensors.{name}_meter"] == FITTED else 0))


_DEFAULTS: dict[str, Derived] = {
    **{f"{name}_shunt_uohm": _shunt(name) for name in MONITORS},
    "motor_sensor": Derived("1; 0 without sensors.motor_temperature",
                            _is_fitted("sensors.motor_temperature")),
}
# Entries of [board] that must be 0 where an instrument is absent, and nothing else where it
# is fitted.
_SWITCHED = {
    **{f"{name}_shunt_uohm": f"sensors.{name}_meter" for name in MONITORS},
    "motor_sensor": "sensors.motor_temperature",
}
# Entries of the board's table that other keys say: (the key, how it is worked out).
SAID_BY: dict[str, tuple[str, Callable[[Mapping[str, Any]], int]]] = {
    "link_unit": ("link.unit", lambda values: values["link.unit"]),
    "link_baud": ("link.speed_baud", lambda values: values["link.speed_baud"]),
    "meter_up": ("sensors.flow_up", _is_fitted("sensors.flow_up")),
    "meter_down": ("sensors.flow_down", _is_fitted("sensors.flow_down")),
    "level_sensor": ("sensors.level", _is_fitted("sensors.level")),
    "water_sensor": ("sensors.water_temperature", _is_fitted("sensors.water_temperature")),
    "valve_feedback": ("sensors.valve_position", _is_fitted("sensors.valve_position")),
}

_MEANING = f"""How the rig is wired to its board: whole numbers in the unit that ends the name. \
Two thermometers on the 1-Wire line are told apart by their serial numbers. With one of them \
alone on the line, `import onewire, machine; \
list(onewire.OneWire(machine.Pin({gpio("one_wire")})).scan()[0])` at the prompt of the board's \
interpreter gives eight bytes, counted from 1: its kind, the serial number from the lowest byte \
to the highest, a checksum. The high half is byte 7 x 65536 + byte 6 x 256 + byte 5, the low half \
byte 4 x 65536 + byte 3 x 256 + byte 2."""

_ROWS = {row[wiring.W_NAME]: row for row in wiring.WIRING}


def _link_key(name: str, entry: str) -> Key:
    """Return a key of [link] with the range that the board's own entry has."""
    row = _ROWS[entry]
    return Key(name, COUNT, str(row[wiring.W_LOW]), str(row[wiring.W_HIGH]),
               row[wiring.W_DEFAULT], WIRING[entry])


LINK = Section(
    "link", "The RS-485 line from the board. Board and laptop both go by it; over USB and TCP the"
    " board answers whichever unit it is called, at any speed.", (
        _link_key("unit", "link_unit"),
        _link_key("speed_baud", "link_baud"),
    ))
BOARD = Section(
    "board", _MEANING,
    tuple(Key(row[wiring.W_NAME], COUNT, str(row[wiring.W_LOW]), str(row[wiring.W_HIGH]),
              _DEFAULTS.get(row[wiring.W_NAME], row[wiring.W_DEFAULT]), WIRING[row[wiring.W_NAME]])
          for row in wiring.WIRING if row[wiring.W_NAME] not in SAID_BY))


def entries(values: Mapping[str, Any]) -> list[int]:
    """Return the wiring [integers in table order] from values by "section.key_unit"."""
    return [SAID_BY[name][1](values) if name in SAID_BY else values[f"board.{name}"]
            for name in wiring.NAMES]


def faults(values: Mapping[str, Any]) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield (keys, what is wrong) of a wiring that the board would refuse, or take wrongly.

    values: by "section.key_unit"; where some are missing, nothing is said.
    """
    try:
        numbers = entries(values)
    except KeyError:
        return
    for problem in wiring.problems(numbers):
        yield ("board",), problem
    yield from _switched(values)
    yield from _spring(values)
    yield from _thermometers(dict(zip(wiring.NAMES, numbers, strict=True)))


def _switched(values: Mapping[str, Any]) -> Iterator[tuple[tuple[str, ...], str]]:
    """What is wired is said to be there, and the other way round."""
    for name, key in _SWITCHED.items():
        if (values[f"board.{name}"] != 0) != (values[key] == FITTED):
            yield (f"board.{name}", key), (
                f"board.{name} is 0 exactly where there is no such instrument; leave it out")


def _spring(values: Mapping[str, Any]) -> Iterator[tuple[tuple[str, ...], str]]:
    """A spring shuts without power; what stays then has none."""
    if (values["board.valve_kind"] == wiring.SPRING
            and values.get("valve.on_power_loss", "closes") != "closes"):
        yield ("board.valve_kind", "valve.on_power_loss"), (
            "a motor against a spring shuts without power: on_power_loss must be \"closes\"")


def _thermometers(wired: Mapping[str, int]) -> Iterator[tuple[tuple[str, ...], str]]:
    """Two on one line are told apart by their serial numbers alone."""
    if not (wired["motor_sensor"] == wiring.ONE_WIRE and wired["water_sensor"]):
        return
    serials = {name: (wired[f"{name}_serial_high"], wired[f"{name}_serial_low"])
               for name in ("motor", "water")}
    why = "two thermometers share the 1-Wire line, and may be taken for each other"
    for name, serial in serials.items():
        if serial == (0, 0):
            yield (f"board.{name}_serial_low",), (
                f"{why}; set board.{name}_serial_high and _low to its own serial number, above 0;"
                " [board] in host/docs/rig.md says how it is found")
    if serials["motor"] == serials["water"] != (0, 0):
        yield ("board.water_serial_low",), (
            "is the motor's serial number; set the water's own: no two thermometers share one")
