"""Rigs off by their doubts, days before, and days with one thing wrong; all from a seed."""

import random
from datetime import UTC, datetime
from typing import Any, NamedTuple

import numpy as np

from forebay.plan import skies
from forebay.rig import Rig
from forebay.sun import plane, several
from forebay.sun.track import SunTrack
from forebay.sun.window import DEFAULT_WIND_M_S
from keeper import settings as st
from keeper.physics import of_rig
from keeper.physics.solar_pump import SolarPump
from tests.bench import doubted

HEALTHY, STRAINER, NOZZLE, PANEL = "healthy", "strainer", "nozzle", "panel"
FAULTS = (STRAINER, NOZZLE, PANEL)
LOST_FRAC = 0.30         # of the flow by the strainer, of the panel's light
BORE_FRAC = 0.85         # of the nozzle's bore that scale leaves
TYPICAL_W_M2, TYPICAL_CELL_degC = 600.0, 35.0
DAY_MIN, BEFORE_MIN = 1440, 60
AIR_K = 4.0              # by which a day's air is other than the stated one
FILE_FRAC = 0.03         # of the sun's own instrument, for the days that have one
DAY_S, PERIODS_PER_S, AFTER_S = 86400, 10, 130


class Day(NamedTuple):
    """A day of a rig: what is wrong, whether its sun is told by a file too, when it began."""

    name: str
    fault: str
    job: dict[str, Any]
    begin_s: float
    track: SunTrack


def broken(values: dict[str, Any], fault: str) -> dict[str, Any]:
    """Returns a rig [SI] with one thing wrong."""
    if fault == NOZZLE:
        return {**values, "turbine.nozzle_diameter_m":
                BORE_FRAC * values["turbine.nozzle_diameter_m"]}
    if fault == PANEL:
        names = ("panel.short_circuit_current_A", "panel.best_current_A")
        return {**values, **{name: (1.0 - LOST_FRAC) * values[name] for name in names}}
    if fault == STRAINER:
        return {**values, "rising_main.minor_loss": _clogged(values)}
    return values


def _clogged(values):
    """Returns the loss that takes LOST_FRAC of a typical flow, by halves."""
    lift_m = values["upper.inlet_height_m"] - values["lower.base_height_m"] - 0.5

    def flow(loss):
        rig = {**values, "rising_main.minor_loss": loss}
        pump = SolarPump(*of_rig.solar_pump(rig, *of_rig.water(rig)))
        return pump.steady(TYPICAL_W_M2, TYPICAL_CELL_degC, lift_m)[0]

    aim, low, high = (1.0 - LOST_FRAC) * flow(values["rising_main.minor_loss"]), 0.0, 1e6
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if flow(middle) > aim else (low, middle)
    return low


def days_of(rig: Rig, seed: int, before: int) -> list[Day]:
    """Returns the days of a seed's rig: those before, a healthy one, and one of each fault."""
    draw = random.Random(f"expected {seed}")
    true = doubted.true_values(draw, rig, True)
    kinds = [HEALTHY] * (before + 1) + list(FAULTS)
    date = draw.choice(skies.MEAN_DAYS)
    return [_day(draw, rig, true, seed, place, fault, date) for place, fault in enumerate(kinds)]


def _day(draw, rig, true, seed, place, fault, date):
    clear = several.modelled(rig.site, [date], 1.0, tilt_deg=rig.panel.tilt_deg,
                             azimuth_deg=rig.panel.azimuth_deg, step_s=60)
    sky = draw.choice(("clear", "clear", "broken", "overcast"))
    poa = np.asarray(getattr(doubted.Skies, f"_{sky}")(None, draw, clear.poa_w_m2[0]))
    first = max(0, int(np.flatnonzero(poa > 0.0)[0]) - BEFORE_MIN)
    poa = np.concatenate((poa[first:], np.zeros(first + 1)))
    air = rig.site.air_temperature_degC or 15.0
    airs = np.full(len(poa), air + AIR_K * draw.gauss(0.0, 1.0))
    cell = np.asarray(plane.cell_degC(poa, airs, DEFAULT_WIND_M_S * draw.uniform(0.5, 2.5)))
    values, stated = broken(true, fault), rig.plant()
    start_m3 = draw.uniform(0.07, 0.3) * values["upper.full_volume_m3"]
    # What is above is not below: of both the water was filled in once.
    values = {**values, "upper.start_volume_m3": start_m3, "lower.start_volume_m3":
              stated["upper.start_volume_m3"] + stated["lower.start_volume_m3"] - start_m3}
    settings = rig.settings()
    settings[st.index("setpoint_mW")] = round(1000 * draw.choice(rig.plant()["lamps.steps_W"][:2]))
    offset_h = round(rig.site.longitude_deg / 15.0)
    midnight_s = datetime(date.year, date.month, date.day, tzinfo=UTC).timestamp()
    begin_s = midnight_s - 3600.0 * offset_h + 60.0 * first
    job = {"seed": seed, "name": f"{seed}-{place}-{fault}", "rig": values, "settings": settings,
           "sun": [[round(float(one), 3) for one in rows] for rows in (poa, cell, airs)],
           "presses": [], "light_s": 0.0, "is_coarse": True, "periods": DAY_S * PERIODS_PER_S,
           "periods_after": AFTER_S * PERIODS_PER_S}
    told = poa * (1.0 + FILE_FRAC * draw.gauss(0.0, 1.0))
    told_cell = plane.cell_degC(told, np.full(len(told), air), DEFAULT_WIND_M_S)
    start = datetime.fromtimestamp(begin_s, UTC)
    track = SunTrack("a file", clear.station, date, offset_h, start, start, start, told.tolist(),
                     np.asarray(told_cell).tolist(), [air] * len(told), DAY_MIN, [])
    return Day(job["name"], fault, job, begin_s, track)
