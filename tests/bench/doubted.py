"""Rigs as they are in truth: each figure off by what is not known of it, in another structure.

The board and the plan know the stated rig alone.  Days of mixed skies for it; all from a seed.
"""

import math
from typing import Any

import numpy as np

from forebay.plan import moving, skies
from forebay.rig import Rig
from forebay.rig.doubt import doubt
from forebay.rig.schema import KEYS, NAME_OF
from forebay.sun import plane, several
from forebay.sun.window import DEFAULT_WIND_M_S
from forebay.twin.plant import Plant

MOST_U = 2.5             # standard uncertainties that a figure is off by at most
TRIES = 400              # of a rig: some draws are no rig, such as a tank less than its floats
DARK = ([0.0, 0.0], [10.0, 10.0], [10.0, 10.0])
MINUTE_S, DAY_S, HOUR_S = 60, 86400.0, 3600.0
BEFORE_MIN = 10          # a day begins so long before its light
# The sun is given: what turns the panel, and what no day of the twin depends on.
PASSED_BY = ("panel.tilt_deg", "panel.azimuth_deg", "site.latitude_deg", "site.longitude_deg",
             "site.height_m", "site.coldest_cell_degC", "site.hottest_air_degC")
RISING = tuple(f"upper.{name}_volume_m3" for name in ("empty", "full", "over_full", "overflow"))
KINDS = ("figures", "friction", "pump curve", "torque", "cells", "wheel")
FULL_W_M2 = 1000.0


def true_values(draw: Any, rig: Rig, with_figures: bool) -> dict[str, Any]:
    """Returns the values of a rig [SI] as they may be in truth.  draw: a random.Random."""
    stated = rig.plant()
    doubts = {name: u for name, u in doubt(rig).items() if u and name not in PASSED_BY}
    for _ in range(TRIES):
        found = dict(stated)
        for name, u in doubts.items() if with_figures else ():
            by = max(-MOST_U, min(MOST_U, draw.gauss(0.0, 1.0)))
            found = _within(moving.moved(found, name, by * u), name)
        found["upper.start_volume_m3"] = found["upper.empty_volume_m3"]
        found["lower.start_volume_m3"] = found["lower.full_volume_m3"]
        if _is_a_rig(found):
            return found
    raise AssertionError(f"{rig.rig.name}: no rig within {TRIES} draws of its doubts")


def _within(values, name):
    """Keeps a figure within what its key allows."""
    if isinstance(values[name], list):
        return values
    low, high = KEYS[NAME_OF[name]].bounds
    return {**values, name: min(high, max(low, values[name]))}


def _is_a_rig(values):
    volumes = [values[name] for name in RISING]
    if sorted(volumes) != volumes or len(set(volumes)) < len(volumes):
        return False
    try:
        Plant(values, DARK)
    except ValueError:
        return False
    return values["lower.low_volume_m3"] < values["lower.full_volume_m3"]


def structure(draw: Any, kinds: Any) -> dict[str, Any]:
    """Returns what is other in a rig; kinds: of KINDS, the rest as the project has it.

    Every draw is made, whatever is asked for, so that one kind alone is the same as among all.
    """
    drawn = {
        "friction": draw.choice(("blasius", draw.uniform(130.0, 150.0))),
        "linear": draw.uniform(0.2, 0.8),        # part of the curve's fall at the rated point
        "torque": draw.uniform(0.7, 1.3),        # 1: straight over the flow
        "cells": (draw.uniform(2.0, 8.0), draw.uniform(2.0, 8.0)),   # K in full sun, minutes
        "wheel": draw.uniform(-0.5, 0.5)}        # of its hits, by the ratio of bucket and jet
    keys = {"friction": "friction", "pump curve": "linear", "torque": "torque", "cells": "cells",
            "wheel": "wheel"}
    return {keys[kind]: drawn[keys[kind]] for kind in KINDS if kind in kinds and kind in keys}


class Skies:
    """Days of a rig under mixed skies: sun in the panel's plane by the minute, [day, minute]."""

    def __init__(self, draw: Any, rig: Rig, days: int):
        """Draws a third each of clear, broken and overcast days, one a month in turn."""
        dates = [skies.MEAN_DAYS[number % 12] for number in range(days)]
        clear = several.modelled(rig.site, dates, 1.0, tilt_deg=rig.panel.tilt_deg,
                                 azimuth_deg=rig.panel.azimuth_deg, step_s=MINUTE_S)
        names = [one.key for one in skies.SKIES]
        self.kinds = [names[number % len(names)] for number in range(days)]
        draw.shuffle(self.kinds)
        self.poa_W_m2 = np.array([getattr(self, "_" + kind)(draw, row) for kind, row
                                  in zip(self.kinds, clear.poa_w_m2, strict=True)])
        self.air_degC = clear.air_degC
        self.cell_degC = np.asarray(plane.cell_degC(self.poa_W_m2, self.air_degC,
                                                    DEFAULT_WIND_M_S))

    def _clear(self, draw, row):
        return row

    def _broken(self, draw, row):
        """Gaps and clouds in turns, each as long as it happens to be."""
        mean_min, share, out = draw.uniform(2.0, 15.0), 1.0, []
        while len(out) < len(row):
            length = 1 + int(draw.expovariate(1.0 / mean_min))
            out += [share] * length
            share = draw.uniform(0.1, 0.6) if share == 1.0 else 1.0
        return row * np.array(out[:len(row)])

    def _overcast(self, draw, row):
        """Evenly dull, wandering over the hours."""
        share, phase = draw.uniform(0.1, 0.4), draw.uniform(0.0, 6.3)
        hours = np.arange(len(row)) / 60.0
        return row * share * (1.0 + 0.25 * np.sin(hours * draw.uniform(0.5, 3.0) + phase))

    def given(self, number: int, values: dict[str, Any], warmer: Any = None) -> dict[str, Any]:
        """Returns a day for the twin, cut to its light; warmer: (K in full sun, lag [min])."""
        poa, air = self.poa_W_m2[number], self.air_degC[number]
        cell = self.cell_degC[number]
        if warmer:
            cell = air + _lagged(cell - air + warmer[0] * poa / FULL_W_M2, warmer[1])
        lit = np.flatnonzero(poa > 0.0)
        first, last = max(0, int(lit[0]) - BEFORE_MIN), int(lit[-1]) + 1
        night_s = DAY_S - MINUTE_S * (last - first)
        # In the morning the battery lacks what the board took by night, as all year.
        taken_frac = night_s / HOUR_S * values["supply.board_load_W"] / (
            values["supply.voltage_V"] * values["supply.capacity_Ah"])
        return {"sun": [[round(float(one), 3) for one in (*rows[first:last], *ends)] for rows, ends
                        in ((poa, (0.0, 0.0)), (cell, (air[-1],) * 2), (air, (air[-1],) * 2))],
                "dusk_s": MINUTE_S * (last - first),
                "rig": {"supply.start_charge_frac": max(0.3, 1.0 - taken_frac)}}


def _lagged(rows, lag_min):
    """Returns a row that follows another with one time constant."""
    left, out, now = math.exp(-1.0 / lag_min), [], float(rows[0])
    for one in rows:
        now = float(one) + (now - float(one)) * left
        out.append(now)
    return np.array(out)
