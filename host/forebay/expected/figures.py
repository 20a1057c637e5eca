"""The figures that are expected and compared: one table, and what a journal says of each."""

from typing import NamedTuple

import numpy as np

from forebay.balance import balance_of
from forebay.balance.instruments import Meters
from forebay.balance.measured import Measured, maybe_ratio
from forebay.balance.model import Balance
from forebay.balance.ways import MEASURED
from forebay.expected.conditions import Span
from forebay.rig import Rig, instruments
from forebay.shelf import Clock, Journal
from keeper import channels as ch
from keeper import modes

LESS, MORE, EITHER = "less", "more", "either"
CLOCK_H = 0.02           # of the hours of light: the board's seconds, and the first glimmer
LEAST_DOWN_L = 3.0       # of less water the light's use cannot be told; a guess
LEAST_RUN_S = 1800.0     # of the pump: of less its motor's warmth is the air's; a guess
LEAST_PUMP_J = 2000.0    # of less energy nobody asks what it lifted; a guess
S_PER_H = 3600.0


class Figure(NamedTuple):
    """One row.  scale: what its SI value is multiplied by to be shown in `unit`; worse: the way
    that is worse; of: what it is measured with.
    """

    key: str
    label: str
    unit: str
    scale: float
    digits: int
    worse: str


FIGURES = (
    Figure("up_L", "pumped up", "L", 1.0, 1, LESS),
    Figure("pump_J", "energy into the pump", "Wh", 1 / 3600, 2, EITHER),
    Figure("lifted", "lifted a watt hour", "L/Wh", 3600.0, 2, LESS),
    Figure("hottest_degC", "motor at its hottest", "degC", 1.0, 1, MORE),
    Figure("light_h", "light", "h", 1.0, 2, LESS),
    Figure("lamps_J", "energy into the lamps", "Wh", 1 / 3600, 2, LESS),
    Figure("given", "light from a litre", "J/L", 1.0, 2, LESS),
    Figure("panel", "panel beside the sun", "%", 100.0, 0, LESS),
    Figure("end_L", "water above at the end", "L", 1.0, 0, EITHER),
)
BY_KEY = {one.key: one for one in FIGURES}


class Actual(NamedTuple):
    """What was: a figure's value by key, None where nothing measures it; why not, in words."""

    values: dict[str, Measured | None]
    why_not: dict[str, str]
    balance: Balance
    by_minute_up_L: np.ndarray
    runs: np.ndarray         # by the minute, whether the pump ran


def actual_of(journal: Journal, clock: Clock, rig: Rig, rig_id: int, span: Span,
              period: tuple[float, float]) -> Actual:
    """Return what a span of a journal says was, by the balance's own figures."""
    found = balance_of(journal, clock, rig, rig_id, period)
    values: dict[str, Measured | None] = {
        "up_L": _metered(found, found.water, "up"),
        "pump_J": _metered(found, found.energies, "pump"),
        "lamps_J": _metered(found, found.energies, "lamps"),
        "light_h": Measured(found.light_h).with_noise(CLOCK_H),
        "hottest_degC": _hottest(rig, span),
        "end_L": _end(rig, span)}
    down = _metered(found, found.water, "down")
    values["panel"] = None   # only where a file tells the sun: `asked` sees to it
    values["lifted"] = _ratio(values["up_L"], values["pump_J"], LEAST_PUMP_J)
    values["given"] = _ratio(values["lamps_J"], down, LEAST_DOWN_L)
    minutes = round((period[1] - period[0]) / 60.0)
    return Actual(values, {key: _why_not(key, rig, found) for key, value in values.items()
                           if value is None}, found, *_by_minute(span, period[0], minutes))


def _metered(found, figures, key):
    value = figures[key]
    return value if value is not None and found.told[key].kind == MEASURED else None


def _ratio(above, below, least):
    if above is None or below is None:
        return None
    return maybe_ratio(above, below, least)


def _hottest(rig, span):
    """Return the motor's highest temperature while the pump ran, None if it hardly did."""
    on = np.isin(span.rows.state, (modes.PUMPING, modes.TRIAL))
    degC = span.rows.si(ch.MOTOR_MDEGC)[on]
    if span.seconds[on].sum() < LEAST_RUN_S or not np.isfinite(degC).any():
        return None
    return Measured(float(np.nanmax(degC))).with_noise(rig.sensors.temperature_uncertainty_K)


def _end(rig, span):
    from forebay.balance.plant import Store

    level_m = span.rows.si(ch.LEVEL_MM)
    known = np.flatnonzero(np.isfinite(level_m))
    if not len(known):
        return None
    last = known[-1]
    meters = Meters(rig.sensors, frozenset(instruments.fitted(rig.sensors)))
    scans = int(span.rows.scans[last])
    level = meters.level(float(level_m[last]), rig.upper.height_m).with_noise(
        float(meters.level_noise_m(scans)))
    return Store(rig, None).litres(level)


TOO_LITTLE, NOT_READ = "too little of it to tell", "not read in that time"
NEEDS = {"up_L": ("flow_up",), "pump_J": ("pump_meter", "panel_meter"),
         "lifted": ("flow_up", "pump_meter"), "hottest_degC": ("motor_temperature",),
         "panel": ("panel_meter",), "lamps_J": ("lamp_meter",),
         "given": ("flow_down", "lamp_meter"),
         "end_L": ("level",)}


def _why_not(key, rig, found):
    """Return in words why a figure was not measured."""
    there = instruments.fitted(rig.sensors)
    lacking = [instruments.BY_NAME[name].meaning for name in NEEDS.get(key, ())
               if name in instruments.BY_NAME and name not in there]
    if lacking:
        return f"not measured: the rig has no {lacking[0]}"
    return TOO_LITTLE if key in ("lifted", "given", "hottest_degC") else NOT_READ


def _by_minute(span, begin_s, minutes):
    """Return (litres pumped up till then, whether the pump ran), by the minute."""
    at_s = begin_s + 60.0 * (1.0 + np.arange(minutes))
    known = np.isfinite(span.ends_s)
    order = np.argsort(span.ends_s[known], kind="stable")
    ends_s = span.ends_s[known][order]
    litres = np.nan_to_num(span.rows.si(ch.FLOW_UP)[known][order]) * 1000.0 * (
        span.seconds[known][order])
    if not len(ends_s):
        return np.zeros(minutes), np.zeros(minutes, bool)
    up = np.interp(at_s, ends_s, np.cumsum(litres), left=0.0)
    state = span.rows.state[known][order]
    place = np.clip(np.searchsorted(ends_s, at_s), 0, len(state) - 1)
    return up, np.isin(state[place], (modes.PUMPING, modes.TRIAL))
