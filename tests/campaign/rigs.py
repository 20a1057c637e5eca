"""Random rigs that somebody might build: each from its seed alone, and sound by the loader.

A rig is drawn by what decides it (fall, jet, hours of light, voltage of the
panel); its parts follow by laws of similarity from the demo's, with some play.
What the loader refuses is drawn again.
"""

import functools
import json
import math
import random
import tomllib

from forebay import rig as rigs
from tests.campaign import given

G_M_S2 = 9.81
TRIES = 60               # of a seed: most rigs load at the first
MAIN_CLASSES_bar = (6.0, 10.0, 16.0, 25.0)     # PN classes of pipe, ISO 161-1 and its kin
WAVE_M_S = 1400.0        # as in `limits`
HOUR_S = 3600.0
DEMO = rigs.load()
FALL_M = DEMO.upper.base_height_m
JET_M3_S = 4.7e-5        # the demo's at its lowest head: 2.1 mm, Torricelli
MOST_A = 8.0             # of a monitor (keeper.channels)
SWITCHED = ("level", "water_temperature", "valve_position")


def drawn(seed):
    """Returns {"rig", "settings"} of the rig of a seed, as `given.described`, and its TOML."""
    rig = _sound(seed)
    told = given.described(rig)
    told["rig"]["stands.main_Pa"] = main_Pa(told["rig"])
    return {**told, "toml": rig.toml_text}


def _sound(seed):
    draw = random.Random(f"rig {seed}")
    for _ in range(TRIES):
        try:
            return rigs.load_text(_text(draw, seed), f"rig {seed}")
        except rigs.RigError:
            continue
    raise AssertionError(f"no sound rig in {TRIES} tries of seed {seed}")


@functools.cache
def sound(seed):
    """Returns the forebay.rig.Rig of a seed, drawn once."""
    return _sound(seed)


def _text(draw, seed):
    """Returns a description as TOML: the demo's, with all that was drawn in its place."""
    source = tomllib.loads(DEMO.toml_text)
    source["rig"]["name"] = f"drawn {seed}"
    for part in _parts(draw):
        for key, value in part.items():
            section, name = key.split(".")
            source[section][name] = value
    return "\n".join(f"[{section}]\n" + "".join(
        f"{name} = {json.dumps(value)}\n" for name, value in keys.items() if value is not None)
        for section, keys in source.items())


def _between(draw, low, high):
    """Draws each ratio as likely."""
    return low * (high / low) ** draw.random()


def _parts(draw):
    fall_m = _between(draw, 1.5, 40.0)
    # A jet for the meter to see, and at least a quarter of the demo's power.
    least = max(3.5e-5, 0.25 * JET_M3_S * FALL_M / fall_m)
    most = min(2.0e-4, 5.0 * JET_M3_S * FALL_M / fall_m)
    jet_m3_s = _between(draw, least, max(1.5 * least, most))
    volume_m3 = jet_m3_s * HOUR_S * draw.uniform(5.0, 10.0)
    height_m = min(2.0, _between(draw, 0.6, 1.6) * max(1.0, volume_m3) ** (1 / 3))
    power = jet_m3_s * fall_m / (JET_M3_S * FALL_M)
    upper = _upper(draw, fall_m, height_m, volume_m3)
    lower = _lower(draw, volume_m3)
    lift_m = upper["upper.inlet_height"] - lower["lower.base_height"]
    return (upper, lower, _penstock(draw, fall_m, height_m, jet_m3_s, power),
            _machine(draw, fall_m, height_m, jet_m3_s, power),
            _pump(draw, lift_m, volume_m3), _instruments(draw))


def _shape(draw, name, volume_m3, height_m):
    """A tank of one of the three shapes that holds so much to its brim."""
    area_m2 = volume_m3 / height_m
    kind = draw.choice(("rectangular", "upright cylinder", "table"))
    none = dict.fromkeys((f"{name}.length", f"{name}.width"))
    tank = {f"{name}.shape": kind, f"{name}.height": height_m}
    if kind == "rectangular":
        width_m = draw.uniform(0.5, 1.0) * area_m2 ** 0.5
        return {**tank, f"{name}.width": width_m, f"{name}.length": area_m2 / width_m}
    if kind == "upright cylinder":
        return {**tank, **none, f"{name}.diameter": (4.0 * area_m2 / math.pi) ** 0.5}
    # A taper, wider above or below: area by the height in the mean as it should be.
    lean = draw.uniform(-0.6, 0.6)
    shares = [place / 8 for place in range(9)]
    levels = [height_m * share for share in shares]
    volumes = [volume_m3 * (share + lean * share * (share - 1.0)) for share in shares]
    return {**tank, **none, f"{name}.levels": levels, f"{name}.volumes": volumes}


def _upper(draw, fall_m, height_m, volume_m3):
    brim_m3 = 1.1 * volume_m3
    return {**_shape(draw, "upper", brim_m3, height_m),
            "upper.base_height": fall_m, "upper.inlet_height": fall_m + height_m + 0.05,
            "upper.start_volume": 0.3 * volume_m3, "upper.empty_volume": 0.06 * volume_m3,
            "upper.full_volume": 0.94 * volume_m3, "upper.over_full_volume": 0.97 * volume_m3,
            "upper.overflow_volume": volume_m3}


def _lower(draw, volume_m3):
    most_m3 = draw.uniform(1.25, 1.6) * volume_m3
    height_m = min(2.0, draw.uniform(0.6, 1.2) * max(1.0, most_m3) ** (1 / 3))
    return {**_shape(draw, "lower", most_m3, height_m),
            "lower.base_height": -height_m - draw.uniform(0.3, 1.5),
            "lower.start_volume": 0.9 * most_m3, "lower.low_volume": 0.08 * most_m3}


def _penstock(draw, fall_m, height_m, jet_m3_s, power):
    most_m3_s = jet_m3_s * ((fall_m + height_m) / fall_m) ** 0.5
    velocity_m_s = draw.uniform(0.08, 0.25)
    rest_bar = 0.0981 * (fall_m + height_m)
    # A valve loses 2 % of the head when it is open: Kv = Q sqrt(1 bar / loss).
    kv_m3_h = most_m3_s * HOUR_S / (0.02 * rest_bar) ** 0.5
    return {"penstock.length": fall_m * draw.uniform(1.3, 5.0) + 3.0,
            "penstock.diameter": (4.0 * most_m3_s / velocity_m_s / math.pi) ** 0.5,
            "penstock.pressure_rating": 1e5 * draw.choice(
                [one for one in MAIN_CLASSES_bar if one > 1.5 * rest_bar][:2]),
            "valve.flow_coefficient": f"{kv_m3_h} m3/h",
            "valve.travel": _between(draw, 4.0, 60.0),
            "valve.characteristic": draw.choice(("equal percentage", "linear")),
            "valve.on_power_loss": draw.choice(("stays", "stays", "closes"))}


def _machine(draw, fall_m, height_m, jet_m3_s, power):
    """Turbine, generator, lamps: the demo's volts, and its ohms and watts by the power."""
    speed_ratio = (fall_m / FALL_M) ** 0.5
    radius_m = 0.025 * draw.uniform(0.8, 2.0)
    turn = speed_ratio * 0.025 / radius_m          # of the demo's speed of the wheel
    area_m2 = jet_m3_s / (0.97 * (2.0 * G_M_S2 * fall_m) ** 0.5)
    swing = ((fall_m + height_m) / fall_m) ** 1.5  # of the power, from floor to brim
    steps = [share * power * draw.uniform(0.85, 1.0) for share in (0.28, 0.55, 0.9)]
    return {"turbine.nozzle_diameter": (4.0 * area_m2 / math.pi) ** 0.5,
            "turbine.wheel_radius": radius_m, "turbine.inertia": 1e-4 * power / turn ** 2,
            "turbine.friction_torque": 0.93e-3 * power / turn,
            "generator.emf_constant": 0.0601 / turn, "generator.resistance": 10.0 / power,
            "generator.rated_power": 1.5 * power * swing,
            "generator.clamp_resistance": 2.0 / power,
            "generator.clamp_power": 5.0 * power * swing,
            "lamps.resistance": 24.0 / power, "lamps.steps": steps,
            "night.setpoint": draw.choice(steps),
            "sensors.generator_range": min(MOST_A, max(0.09, 0.4 * power * swing)),
            "sensors.lamp_range": min(MOST_A, max(0.09, 0.4 * power * swing))}


def _pump(draw, lift_m, volume_m3):
    """Panel, pump, motor, rising main, supply: for 12 or 24 V."""
    volts = draw.choice((12.0, 24.0)) if lift_m < 15.0 else 24.0
    head_m = lift_m * draw.uniform(1.05, 1.3)
    shut_off_m = head_m * draw.uniform(1.4, 1.6)
    joule_m3 = 1e3 * G_M_S2 * head_m / draw.uniform(0.25, 0.4)
    # The monitors measure up to 8 A, and a motor that starts takes twice its current.
    flow_m3_s = min(max(5.0e-5, volume_m3 / HOUR_S / draw.uniform(3.0, 6.0)),
                    MOST_A / 2.1 * volts / joule_m3)
    pump_W = joule_m3 * flow_m3_s
    amps = pump_W / volts
    # At more than its rated voltage a pump is overloaded: the loader does not say so.
    cells = 48 if volts == 24.0 else 24
    best_V = 23.8 * cells / 48
    best_A = min(max(pump_W * draw.uniform(2.0, 5.0), 20.0) / best_V, MOST_A / 1.4)
    panel_W = best_A * best_V
    return {"pump.rated_voltage": volts, "pump.rated_power": pump_W, "pump.rated_head": head_m,
            "pump.shut_off_head": shut_off_m, "pump.rated_flow": flow_m3_s,
            "motor.resistance": 0.094 * volts / amps, "motor.no_load_current": 0.16 * amps,
            "motor.cooled_resistance": 45.0 / pump_W, "motor.still_resistance": 162.0 / pump_W,
            "motor.heat_capacity": 6.7 * pump_W,
            "rising_main.length": lift_m * draw.uniform(1.1, 3.0) + 2.0,
            "rising_main.diameter": (4.0 * flow_m3_s / draw.uniform(0.15, 0.3) / math.pi) ** 0.5,
            "panel.power": panel_W, "panel.cells": cells,
            "panel.open_circuit_voltage": 29.0 * cells / 48, "panel.best_voltage": best_V,
            "panel.best_current": best_A, "panel.short_circuit_current": 1.07 * best_A,
            "sensors.panel_range": min(MOST_A, 1.9 * best_A),
            "sensors.pump_range": min(MOST_A, max(2.0, 6.0 * amps)),
            "limits.start_voltage": 23.5 * cells / 48,
            "limits.useful_flow": max(1.7e-5, 0.45 * flow_m3_s),
            "supply.voltage": 12.8 if volts == 24.0 else 6.4,
            "supply.capacity": f"{draw.uniform(4.0, 20.0):.2f} Ah"}


def _instruments(draw):
    return {f"sensors.{name}": draw.choice(("fitted", "fitted", "fitted", "absent"))
            for name in SWITCHED}


def main_Pa(rig):
    """Returns the rating of the pipe [Pa] that whoever builds this takes for the rising main."""
    lift_m = rig["upper.inlet_height_m"] - rig["lower.base_height_m"]
    area_m2 = math.pi / 4.0 * rig["rising_main.diameter_m"] ** 2
    # Twice the rated flow, stopped at once; a pump at a fifth more than its rated voltage.
    stopped_m = WAVE_M_S * 2.0 * rig["pump.rated_flow_m3_s"] / area_m2 / G_M_S2
    needed_bar = 0.0981 * max(lift_m + stopped_m, 1.6 * rig["pump.shut_off_head_m"])
    return given.PASCAL_PER_BAR * next(one for one in MAIN_CLASSES_bar if one > needed_bar)
