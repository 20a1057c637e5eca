"""The figures that are followed from day to day, so made that the weather falls out of them.

Most are what was over what the described rig would have made of the same day (its sun, its
water, its light), so that 1 is as described; what does not change with the day is left as it
is.  Only errors that are new each day count in a day's uncertainty: a meter that reads too much
does so every day.
"""

import math
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np

from forebay.balance.measured import Measured
from forebay.expected.conditions import Conditions, conditions_of, panel_read, span_of
from forebay.expected.figures import Actual, actual_of
from forebay.expected.panelsun import Curve, cloudless
from forebay.expected.spread import alone
from forebay.plan import light
from forebay.plan.lifting import Machine
from forebay.rig import Rig, instruments
from forebay.shelf import Clock, Journal
from keeper import channels as ch

LESS, MORE = "less", "more"
LEAST_REST_H = 3.0       # of rest in a day: of less its leak is not told
LEAST_EXCESS_K = 3.0     # of the motor over the water: of less its cooling is not told
LEAST_LOAD_H = 12.0      # of a day, to tell the board's load
CLEAR_U = 0.05           # of one clear day's sky, relative: haze; a guess
H_PER_DAY = 24.0


class Followed(NamedTuple):
    """One figure.  is_ratio: its logarithm is followed, and it is shown in % of the description;
    else in `unit`; worse: the way that is worse; looks: what that looks like; other: what the
    other way looks like, "" = nothing to worry about; needs: names of instruments.
    """

    key: str
    label: str
    unit: str
    is_ratio: bool
    worse: str
    looks: str
    other: str
    needs: tuple[str, ...]


FOLLOWED = (
    Followed("lift", "lifted a watt hour", "%", True, LESS,
             "a clogging strainer or filter, a worn pump",
             "", ("flow_up", "pump_meter", "panel_meter")),
    Followed("nozzle", "light from a litre", "%", True, LESS,
             "a worn turbine, a nozzle out of line, a leak behind the meter",
             "a narrowing nozzle: scale, a leaf", ("flow_down", "lamp_meter")),
    Followed("full", "light from a full tank", "%", True, LESS,
             "a leak, a worn turbine, a float or a setpoint that was moved",
             "", ("full_float", "lamp_meter")),
    Followed("panel", "panel on clear days", "%", True, LESS,
             "dust, shade, a tired panel, a bad joint", "", ("panel_meter",)),
    Followed("leak", "lost at rest", "L/d", False, MORE, "a new leak",
             "", ("level", "flow_up", "flow_down")),
    Followed("cooling", "motor's warmth", "%", True, MORE,
             "poor cooling, worn bearings", "", ("motor_temperature", "panel_meter")),
    Followed("board", "the board's load", "W", False, MORE,
             "a radio left on, a failing part", "", ("supply_meter",)),
)
BY_KEY = {one.key: one for one in FOLLOWED}


@dataclass(frozen=True)
class Day:
    """A day's figures: (value, standard uncertainty of the day) by key, why one is not known.

    A ratio is its natural logarithm [-].  description_s: when the description came by which they
    were read [s since 1970 UTC], None = one that was named reads all.
    """

    day: date
    begin_s: float
    end_s: float
    values: dict[str, tuple[float, float]]
    why_not: dict[str, str]
    description_s: float | None = None


def day_figures(journal: Journal, clock: Clock, rig: Rig, rig_id: int, day: date,
                period: tuple[float, float], machine: Machine,
                description_s: float | None = None) -> Day:
    """Return the figures of a judged day of a decoded journal.

    machine: the rig's, tabled; description_s: as of `Day`.
    """
    conditions = conditions_of(journal, clock, rig, period)
    span = span_of(journal, clock, period)
    actual = actual_of(journal, clock, rig, rig_id, span, period)
    there = instruments.fitted(rig.sensors)
    lacking = {one.key: [name for name in one.needs if name not in there] for one in FOLLOWED}
    why_not = {key: f"the rig has no {instruments.BY_NAME[names[0]].meaning}"
               for key, names in lacking.items() if names}
    found = {}
    expected = alone(rig, conditions, machine) if conditions.sun is not None else {}
    for key, value in _taken(rig, conditions, span, actual, expected).items():
        if key in why_not:
            continue
        if value is None:
            why_not[key] = NOT_TODAY[key]
        else:
            found[key] = value
    return Day(day, *period, found, why_not, description_s)


NOT_TODAY = {
    "full": "no night began with a full tank and ended for want of water",
    "lift": "too little was pumped", "nozzle": "too little light", "panel": "no clear day",
    "leak": "too little rest", "cooling": "the motor hardly warmed",
    "board": "the supply's current was not seen for long enough"}


def _taken(rig, conditions, span, actual, expected):
    return {"lift": _ratio(actual.values["lifted"], expected.get("lifted")),
            "nozzle": _ratio(actual.values["given"], expected.get("given")),
            "full": _full(rig, conditions, span, actual),
            "panel": _panel(rig, conditions, span),
            "leak": _leak(actual), "cooling": _cooling(rig, actual, expected),
            "board": _board(actual)}


def of_the_day(value: Measured) -> float:
    """Return the standard uncertainty of a value from what is new each day: noise."""
    return math.sqrt(sum(part * part for source, part in value.parts.items()
                         if isinstance(source, tuple)))


def _ratio(value: Measured | None, expected: float | None):
    if value is None or expected is None or not expected > 0.0 or value.value <= 0.0:
        return None
    return math.log(value.value / expected), of_the_day(value) / value.value


def _full(rig: Rig, conditions: Conditions, span, actual: Actual):
    """Return the light of a night that let a full tank down to its end, over the planned one."""
    lamps = actual.values["lamps_J"]
    if lamps is None or len(conditions.wishes) != 1 or not conditions.wishes[0].is_cut:
        return None
    wish = conditions.wishes[0]
    at_s = span.ends_s - conditions.begin_s
    lifted = span.rows.contacts >> (ch.C_71H_UP - ch.COLUMNS) & 1 == 0
    rows = np.flatnonzero((at_s <= wish.begin_s) & np.isfinite(at_s))
    held = light.held(rig.plant(), wish.power_W)
    if not len(rows) or not lifted[rows[-1]] or held is None:
        return None
    return math.log(lamps.value / (held.power_W * held.held_s)), of_the_day(lamps) / lamps.value


def _panel(rig: Rig, conditions: Conditions, span):
    if conditions.record is None:
        return None
    volts, amps = panel_read(span, conditions.begin_s, conditions.minutes)
    share = cloudless(Curve(rig.plant()), volts, amps, *conditions.record[2:])
    return None if share is None else (math.log(share), CLEAR_U)


def _leak(actual: Actual):
    found = actual.balance
    rest_h = found.covered_s / 3600.0 - found.pump_h - found.light_h
    change = found.water["rest_change"]
    if change is None or rest_h < LEAST_REST_H:
        return None
    days = rest_h / H_PER_DAY
    return -change.value / days, of_the_day(change) / days


def _cooling(rig: Rig, actual: Actual, expected):
    hottest, should = actual.values["hottest_degC"], expected.get("hottest_degC")
    water_degC = rig.site.water_temperature_degC
    if hottest is None or should is None or min(hottest.value, should) < (
            water_degC + LEAST_EXCESS_K):
        return None
    excess_K = hottest.value - water_degC
    noise_K = rig.sensors.temperature_noise_K
    return math.log(excess_K / (should - water_degC)), noise_K / excess_K


def _board(actual: Actual):
    found = actual.balance
    load = found.energies["board_load"]
    if load is None or found.covered_s < LEAST_LOAD_H * 3600.0:
        return None
    return load.value / found.covered_s, of_the_day(load) / found.covered_s
