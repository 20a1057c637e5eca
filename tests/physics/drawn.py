"""Two hundred valid rigs round the demo's, from a fixed seed, each with a sun and a travel."""

import functools
import importlib.resources
import math
import random
import tomllib
from typing import Any, NamedTuple

from forebay.rig import load
from forebay.rig.loading import values_of

COUNT, SEED = 200, 20160101
# How far a figure may lie from the demo's, as a factor either way.
SPREAD = {
    **{f"{pipe}.{key}": by for pipe in ("rising_main", "penstock")
       for key, by in (("length", 1.5), ("diameter", 1.3), ("roughness", 30.0),
                       ("minor_loss", 3.0))},
    **{f"panel.{key}": 1.02 for key in ("open_circuit_voltage", "best_voltage", "best_current")},
    "panel.voltage_temperature": 1.3, "panel.current_temperature": 1.5,
    "pump.rated_power": 1.3, "pump.rated_speed": 1.5, "pump.shut_off_head": 1.4,
    "pump.rated_head": 1.3, "pump.rated_flow": 1.3, "pump.shut_off_torque_frac": 1.8,
    "motor.resistance": 1.8, "motor.no_load_current": 1.8,
    "valve.flow_coefficient": 2.0, "valve.rangeability": 2.0,
    "turbine.nozzle_diameter": 1.5, "turbine.bucket_coefficient": 1.1,
    "turbine.bucket_angle": 1.08, "turbine.hit_frac": 1.6, "turbine.wheel_radius": 1.5,
    "turbine.friction_torque": 2.0, "turbine.nozzle_coefficient": 1.03,
    "turbine.inertia": 3.0, "generator.emf_constant": 1.5, "generator.resistance": 1.7,
    "generator.rectifier_drop": 1.7, "generator.clamp_resistance": 2.0,
    "lamps.threshold_voltage": 1.2, "lamps.resistance": 1.6, "site.height": 3.0,
    "upper.base_height": 1.2, "upper.inlet_height": 1.2,
}  # fmt: skip


class Drawn(NamedTuple):
    """A rig by "section.key_unit" [SI], and what it is asked."""

    rig: dict[str, Any]
    irradiance_W_m2: float
    cell_degC: float
    lift_m: float
    travel_frac: float
    head_m: float


@functools.cache
def rigs() -> tuple[Drawn, ...]:
    """The rigs; a description that the program refuses is drawn anew."""
    chance, found = random.Random(SEED), []
    demo, plant = importlib.resources.files("forebay") / "demo" / "hillside.toml", load().plant()
    text = demo.read_text(encoding="utf-8")
    while len(found) < COUNT:
        values, faults = values_of(_description(tomllib.loads(text), plant, chance))
        if not faults:
            lift_m = values["upper.inlet_height_m"] - values["lower.base_height_m"]
            found.append(Drawn(
                {key: value for key, value in values.items() if value is not None},
                chance.uniform(10.0, 1100.0), chance.uniform(-10.0, 65.0),
                lift_m - chance.uniform(0.0, 1.0), chance.uniform(0.1, 1.0),
                values["upper.base_height_m"] + chance.uniform(0.05, 1.0)))
    return tuple(found)


def _description(source, plant, chance: random.Random) -> dict[str, Any]:
    for place, factor in SPREAD.items():
        section, _, key = place.partition(".")
        name = next(n for n in plant if n == place or n.startswith(place + "_"))
        by = math.exp(chance.uniform(-1.0, 1.0) * math.log(factor))
        source[section][key] = plant[name] * by
    source["panel"]["power"] = source["panel"]["best_voltage"] * source["panel"]["best_current"]
    source["site"]["water_temperature"] = chance.uniform(2.0, 30.0)
    # What a rig is for is not drawn: a wish that any of them can meet.
    source["limits"].update(start_voltage="15 V", useful_flow="0.1 L/min")
    source["sensors"].update(flow_floor="0.1 L/min", flow_stall="0.05 L/min")
    source["lower"]["low_volume"] = "1200 L"
    source["lamps"]["steps"], source["night"]["setpoint"] = ["20 mW"], "20 mW"
    source["valve"]["characteristic"] = chance.choice(["equal percentage", "linear"])
    return source
