"""Short days of drawn rigs that have every instrument: fill, hold, discharge, rest.

The rig is what its description says; what is not as stated are its meters, whose errors
the twin draws from the seed by their stated uncertainties.  A day is 6 to 11 h long, so
that many can be played; half of the tanks leak.
"""

import math
import random

from forebay import rig as rigs
from keeper import settings as st
from tests.bench.coverage.drawn import PERIODS_PER_S, Day
from tests.campaign import rigs as campaign
from tests.campaign import weather

HOUR_S, MINUTE_S = 3600.0, 60.0
SUN_H = (3.0, 5.5)
HOLD_H = (0.3, 1.5)
LIGHT_H = (1.5, 3.5)
REST_H = (0.4, 1.0)
FULL_FRAC = (0.1, 0.7)           # of the tank, at the start
BOARD_W = (0.1, 0.5)
LEAKING_FRAC = 0.5               # of the days
LEAK_MM = (0.5, 30.0)            # what a leak takes from the tank in a day; each ratio as likely
L_PER_M3 = 1000.0


def rig_of(seed):
    """Returns the rig of a seed [forebay.rig.Rig] with every instrument."""
    draw = random.Random(f"whole rig {seed}")
    text = campaign.drawn(seed)["toml"].replace('"absent"', '"fitted"')
    load = f"board_load = {draw.uniform(*BOARD_W):.3f}"
    text = text.replace('board_load = "0.2 W"', load)
    return rigs.load_text(text, f"whole rig {seed}")


def job_of(seed):
    """Returns the day of a seed as plain data for `played`."""
    rig = rig_of(seed)
    draw = random.Random(f"whole {seed}")
    true = dict(rig.plant())
    true["upper.start_volume_m3"] = draw.uniform(*FULL_FRAC) * true["upper.full_volume_m3"]
    sun_h, hold_h, light_h, rest_h = (
        draw.uniform(*one) for one in (SUN_H, HOLD_H, LIGHT_H, REST_H))
    settings = rig.settings()
    settings[st.index("light_press_min")] = round(light_h * 60)
    settings[st.index("setpoint_mW")] = round(1000 * draw.choice(true["lamps.steps_W"]))
    press_s = weather.DUSK_MIN * MINUTE_S + (sun_h + hold_h) * HOUR_S
    length_s = press_s + (light_h + rest_h) * HOUR_S
    leak_m3_s = _leak_m3_s(draw, true, length_s)
    day = Day(seed, true, settings, _sun(draw, sun_h), [press_s], light_h * HOUR_S)
    return {**day.job(), "is_coarse": False, "is_whole": True, "leak_m3_s": leak_m3_s,
            "periods": round(length_s * PERIODS_PER_S), "length_s": length_s}


def _leak_m3_s(draw, true, length_s):
    if draw.random() >= LEAKING_FRAC:
        return 0.0
    low, high = LEAK_MM
    fallen_mm = low * (high / low) ** draw.random()
    area_m2 = true["upper.overflow_volume_m3"] / true["upper.height_m"]
    return fallen_mm / 1000.0 * area_m2 / length_s


def _sun(draw, sun_h):
    """Draws a short day of sun, clear or with clouds: lists by the minute."""
    peak_W_m2 = draw.uniform(550.0, 1050.0)
    minutes = sun_h * 60.0
    poa = [peak_W_m2 * max(0.0, math.sin(math.pi * (minute - weather.DUSK_MIN) / minutes))
           if weather.DUSK_MIN < minute < weather.DUSK_MIN + minutes else 0.0
           for minute in range(weather.MINUTES)]
    share, left, clouds = 1.0, 0, draw.random() < 0.5
    for minute, value in enumerate(poa):
        if clouds and left <= 0:
            left = draw.randint(1, 25)
            share = draw.choice((1.0, draw.uniform(0.1, 1.0)))
        left -= 1
        poa[minute] = value * share
    air_degC = draw.uniform(4.0, 30.0)
    air = [air_degC] * weather.MINUTES
    return poa, [air_degC + weather.CELL_K_M2_W * one for one in poa], air
