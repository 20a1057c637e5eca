"""Days of a rig as it might really stand: its description off by what [model] admits.

Each follows from its seed alone.  What a figure of the balance rests on is drawn with
the stated standard uncertainty; what no figure should rest on is drawn as well, so that
one that rests on it in secret shows.
"""

import math
import random
from typing import Any, NamedTuple

from keeper import settings as st
from keeper.physics import of_rig
from tests.campaign import weather

DAY_S, PERIODS_PER_S = 86400, 10
AFTER_S = 130            # until the last rows of the day are on flash too
# What no figure rests on: key, standard uncertainty of it as a ratio; guesses.
BESIDE = (
    ("valve.flow_coefficient_m3_h", 0.10),
    ("penstock.roughness_m", 0.3), ("penstock.minor_loss", 0.2),
    ("rising_main.roughness_m", 0.3), ("rising_main.minor_loss", 0.2),
    ("lamps.resistance_ohm", 0.05), ("lamps.threshold_voltage_V", 0.01),
    ("pump.shut_off_head_m", 0.04), ("motor.resistance_ohm", 0.05),
    ("turbine.inertia_kg_m2", 0.1),
)
# What is told of a day: light before the sun and again in the evening, light in the
# evening alone, or a full tank that is let down to its end; hours of light a press.
STORIES = MORNING, EVENING, FULL_NIGHT = ("morning", "evening", "full night")
HOURS = {MORNING: (1.5, 3.5), EVENING: (1.5, 8.0), FULL_NIGHT: (7.0, 8.0)}
SOILED_FRAC = 0.02       # of the panel's currents; a guess


class Day(NamedTuple):
    """One day: the true rig, the board's settings, sun, presses [s], light a press [s]."""

    seed: int
    rig: dict[str, Any]
    settings: list[int]
    sun: tuple[list[float], list[float], list[float]]
    presses: list[float]
    light_s: float

    def job(self):
        """Returns it as plain data."""
        return {"seed": self.seed, "rig": self.rig, "settings": self.settings,
                "sun": [list(values) for values in self.sun], "presses": self.presses,
                "light_s": self.light_s}


def off(draw):
    """Returns an error of deviation 1 [-]: triangular, within 2.45.

    What a builder makes and measures lies within limits, and rather in their middle:
    GUM 4.3.9.
    """
    return (draw.random() + draw.random() - 1.0) * math.sqrt(6.0)


def day_of(rig, seed):
    """Returns the day of a seed of a described rig [forebay.rig.Rig]."""
    draw = random.Random(f"coverage {seed}")
    told = rig.plant()
    true = dict(told)
    draw_known(draw, told, true)
    for key, u in BESIDE:
        if key in true:
            true[key] *= max(0.2, 1.0 + u * off(draw))
    dirt = 1.0 + SOILED_FRAC * off(draw)
    for key in ("panel.short_circuit_current_A", "panel.best_current_A"):
        true[key] *= dirt
    true["turbine.nozzle_coefficient"] = min(1.0, told["turbine.nozzle_coefficient"]
                                             + 0.01 * off(draw))
    settings = rig.settings()
    story = draw.choice(STORIES)
    hours = draw.uniform(*HOURS[story])
    settings[st.index("light_press_min")] = round(hours * 60)
    watts = draw.choice(told["lamps.steps_W"])
    settings[st.index("setpoint_mW")] = round(1000 * watts)
    kind = "clear" if story == FULL_NIGHT else draw.choice(
        ("clear", "clear", "broken", "measured", "overcast"))
    sun = weather.day(draw, kind, air_degC=draw.uniform(4.0, 25.0))
    presses = _story(draw, true, sun[0], hours, story)
    return Day(seed, true, settings, sun, presses, 3600.0 * hours)


def _story(draw, true, poa, hours, story):
    """Sets the water of the morning; returns when the button is pressed [s]."""
    lit = [minute for minute, power in enumerate(poa) if power > 0.0]
    dusk_s = 60.0 * lit[-1] if lit else 0.5 * DAY_S
    full_m3 = true["upper.full_volume_m3"]
    evening_s = min(dusk_s + 60.0 * draw.uniform(5, 60), DAY_S - 3600.0 * hours - 600.0)
    if story == MORNING:
        # The rest of the night before is let down first.
        true["upper.start_volume_m3"] = draw.uniform(0.06, 0.25) * full_m3
        return [60.0 * draw.uniform(1, 10), evening_s]
    least = 0.5 if story == FULL_NIGHT else 0.02
    true["upper.start_volume_m3"] = draw.uniform(least, 0.9) * full_m3
    return [evening_s]


def draw_known(draw, told, true):
    """Draws what [model] speaks of."""
    def scaled(key, *names):
        share = 1.0 + told[f"model.{key}_frac"] * off(draw)
        for name in names:
            true[name] *= share

    scaled("nozzle", "turbine.nozzle_diameter_m")
    scaled("hit", "turbine.hit_frac")
    true["turbine.hit_frac"] = min(1.0, true["turbine.hit_frac"])
    scaled("radius", "turbine.wheel_radius_m")
    scaled("friction", "turbine.friction_torque_N_m")
    scaled("emf", "generator.emf_constant_V_s_rad")
    scaled("winding", "generator.resistance_ohm")
    scaled("rectifier", "generator.rectifier_drop_V")
    scaled("clamp", "generator.clamp_voltage_V")
    scaled("board_load", "supply.board_load_W")
    lift_m = told["model.head_m"] * off(draw)
    true["upper.base_height_m"] += lift_m
    true["upper.inlet_height_m"] += lift_m
    _draw_tank(draw, told, true)


def _draw_tank(draw, told, true):
    """Draws plan area and floats of the upper tank; a float keeps the height it was put at."""
    area = 1.0 + told["model.tank_frac"] * off(draw)
    if told["upper.shape"] == "rectangular":
        true["upper.length_m"] *= area
    elif told["upper.shape"] == "upright cylinder":
        true["upper.diameter_m"] *= math.sqrt(area)
    else:
        true["upper.volumes_m3"] = [area * one for one in told["upper.volumes_m3"]]
    described, stands = of_rig.tank(told, "upper."), of_rig.tank(true, "upper.")
    for name in ("empty", "full", "over_full"):
        key = f"upper.{name}_volume_m3"
        level_m = described.level_m(told[key]) + told["model.float_place_m"] * off(draw)
        true[key] = stands.volume_m3(min(max(level_m, 0.0), stands.height_m))
    true["upper.overflow_volume_m3"] = stands.volume_m3(
        described.level_m(told["upper.overflow_volume_m3"]))
    hysteresis = 1.0 + told["model.float_hysteresis_frac"] * off(draw)
    true["upper.float_hysteresis_m"] *= max(0.1, hysteresis)
