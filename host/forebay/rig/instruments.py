"""The instruments that a rig may have or lack: one key of [sensors] each, declared once.

An instrument says which channels and contacts of `keeper.channels` it reads.  What no
fitted instrument reads does not exist for the board: it is neither bad nor zero.
"""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from forebay.rig.keys import CHOICE, Derived, Key
from keeper import channels as ch

FITTED, ABSENT = "fitted", "absent"


class Instrument(NamedTuple):
    """One instrument; name: its key of [sensors]; reads: places of `keeper.channels`."""

    name: str
    meaning: str
    reads: tuple[int, ...]

    @property
    def key(self) -> str:
        """Its key, and the name of its value, "sensors.name"."""
        return f"sensors.{self.name}"


# A voltage is that of a node: whichever monitor of the node is there reads it.
INSTRUMENTS = (
    Instrument("panel_meter", "voltage and current of the panel", (ch.PANEL_MV, ch.PANEL_MA)),
    Instrument("pump_meter", "current of the pump, and the panel's voltage",
               (ch.PANEL_MV, ch.PUMP_MA)),
    Instrument("generator_meter", "voltage and current of the generator",
               (ch.GENERATOR_MV, ch.GENERATOR_MA)),
    Instrument("lamp_meter", "current of the lamps, and the generator's voltage",
               (ch.GENERATOR_MV, ch.LAMP_MA)),
    Instrument("supply_meter", "voltage and current of the board's battery",
               (ch.SUPPLY_MV, ch.SUPPLY_MA)),
    Instrument("flow_up", "flow in the rising main", (ch.FLOW_UP,)),
    Instrument("flow_down", "flow to the turbine", (ch.FLOW_DOWN,)),
    Instrument("level", "level of the upper tank", (ch.LEVEL_MM,)),
    Instrument("motor_temperature", "temperature of the pump's motor", (ch.MOTOR_MDEGC,)),
    Instrument("water_temperature",
               "temperature of the water in the pump's pipe, where that is coldest",
               (ch.WATER_MDEGC,)),
    Instrument("valve_position", "position of the valve", (ch.VALVE_PERMILLE,)),
    Instrument("full_float", "LSH-UP, the float that stops the pump", (ch.C_71H_UP,)),
    Instrument("over_full_float", "the second contact of LSHH-UP, which the board reads; the"
               " first breaks the pump's supply in every rig", (ch.C_71HH_UP,)),
    Instrument("empty_float", "LSL-UP, the float that ends the light", (ch.C_71L_UP,)),
    Instrument("lower_empty_float", "LSL-LO, the float that keeps the pump from running dry",
               (ch.C_71L_LO,)),
    Instrument("lower_full_float", "LSH-LO, the float of a lower tank that is full",
               (ch.C_71H_LO,)),
    Instrument("local_stop", "the second contact of the local stop, which the board reads",
               (ch.C_STOP,)),
)
BY_NAME = {one.name: one for one in INSTRUMENTS}
# Without any of a row the rig cannot be kept safe, or cannot do its work: why.
NEEDED = (
    (("full_float", "level"), "nothing would stop the pump at a full tank before its hardware"),
    (("motor_temperature", "pump_meter"), "nothing would see the motor get hot"),
    (("lamp_meter", "generator_meter"), "nothing would see what light there is"),
)
SUN = ("panel_meter", "pump_meter")


def keys() -> tuple[Key, ...]:
    """Return the keys of [sensors] that say what is fitted."""
    return tuple(Key(one.name, CHOICE, choices=(FITTED, ABSENT), default=FITTED,
                     meaning=f"{one.meaning}: whether it is there") for one in INSTRUMENTS)


def is_fitted(values: Mapping[str, Any], name: str) -> bool:
    """Return whether a rig has an instrument; values: by "section.key_unit"."""
    return values[BY_NAME[name].key] == FITTED


def fitted(sensors: Any) -> set[str]:
    """Return the names of what is there; sensors: that section of a rig."""
    return {one.name for one in INSTRUMENTS if getattr(sensors, one.name) == FITTED}


def any_fitted(values: Mapping[str, Any], names: tuple[str, ...]) -> bool:
    """Return whether a rig has any of some instruments."""
    return any(is_fitted(values, name) for name in names)


def mask(values: Mapping[str, Any]) -> int:
    """Return what exists as the setting `fitted`: bit i = place i of `keeper.channels`."""
    bits = 1 << ch.BUTTON
    for one in INSTRUMENTS:
        if is_fitted(values, one.name):
            for place in one.reads:
                bits |= 1 << place
    return bits


def names_of(fitted: int) -> set[str]:
    """Return the names of the instruments of a rig; fitted: the setting, as of `mask`."""
    # What it reads last it alone reads: a voltage may come from another monitor of its node.
    return {one.name for one in INSTRUMENTS if fitted >> one.reads[-1] & 1}


def pulses_L(values: Mapping[str, Any], side: str) -> float:
    """Return the pulses [1/L] of a meter, side: "up" or "down", of values by "section.key"."""
    own = values.get(f"sensors.pulses_{side}")
    return values["sensors.pulses_per_litre"] if own is None else own


def needed_with(names: tuple[str, ...], stand_in: float) -> Derived:
    """Return the default of a key that must be stated where one of some instruments is fitted.

    stand_in: what it is in a rig that has none of them, where nothing rests on it.
    """
    said = " or ".join(names)
    return Derived(f"none where there is no {said}; else it must be stated",
                   lambda values: None if any_fitted(values, names) else stand_in)


def faults(values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield (key, what must hold) of a set of instruments that is too small."""
    for names, why in NEEDED:
        if not any_fitted(values, names):
            one, other = names
            yield f"sensors.{one}", f'{why}; fit it, or sensors.{other}: set it to "{FITTED}"'
    if values["night.begins"] == "dusk" and not any_fitted(values, SUN):
        yield "night.begins", ('nothing reads the panel, so nobody sees the dusk: must be "order"'
                               " (the button, the clock or an order begin the light)")
