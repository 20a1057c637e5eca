"""Rigs with fewer instruments, made from the full demonstration."""

import json
import tomllib

from forebay import rig as rigs
from forebay.rig import instruments

NAMES = tuple(one.name for one in instruments.INSTRUMENTS)
THERMOMETERS = {"motor_temperature", "water_temperature"}


def text_without(*names, demo="hillside"):
    """Returns the description of a demonstration with these instruments taken away, as TOML.

    Keys that only an instrument that is gone needs go with it; the light then begins by
    order where nothing is left to see the dusk.
    """
    source = tomllib.loads(rigs.load(demo=demo).toml_text)
    sensors = source.setdefault("sensors", {})
    for thermometer in THERMOMETERS.intersection(names):
        for half in ("high", "low"):
            source["board"].pop(f"{thermometer.split('_')[0]}_serial_{half}", None)
    for name in names:
        sensors[name] = instruments.ABSENT
        if name.endswith("_meter"):
            sensors.pop(name.replace("_meter", "_range"), None)
    if {"flow_up", "flow_down"} <= set(names):
        sensors.pop("pulses_per_litre", None)
    if set(instruments.SUN) <= set(names):
        source["night"]["begins"] = "order"
    return "\n".join(f"[{section}]\n" + "".join(
        f"{key} = {json.dumps(value)}\n" for key, value in keys.items())
        for section, keys in source.items())


def without(*names, demo="hillside"):
    """Returns the rig of such a description."""
    return rigs.load_text(text_without(*names, demo=demo), "rig.toml")
