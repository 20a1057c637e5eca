"""Backwards: which tank, nozzle, pump and panel keep a wish such as 3 h at 0.6 W, 9 nights of 10.

Every day begins with the upper tank empty, so that a promise does not live on yesterday's
water, and each figure is taken as bad as its spread says.
"""

import bisect
import re
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from forebay import units
from forebay.errors import InputError
from forebay.plan import lifting, light, overload
from forebay.plan.answers import Column, Figure, Part, Table
from forebay.plan.limits import WIDENED, Nights, changed
from forebay.rig import Rig, checks, governing, instruments, load_text, machines
from forebay.rig.beginning.carrying import Carried
from forebay.rig.loading import faults_of
from forebay.rig.schema import KEYS, NAME_OF

Values = Mapping[str, Any]
_WISH = re.compile(r"\s*(?P<time>[^,]+?)\s+at\s+(?P<power>[^,]+?)\s*,\s*(?P<kept>\d{1,3})\s+"
                   r"nights?\s+(?:of|in)\s+(?P<all>\d{1,3})\s*")
EXAMPLE = '"3 h at 0.6 W, 9 nights of 10"'
LONGEST_s = 86400.0
FACTORS = tuple(float(one) for one in np.geomspace(0.25, 16.0, 61))   # of today's panel and pump
NOZZLES = tuple(float(one) for one in np.linspace(1.0, 2.5, 61))
CEILING_FRAC = 0.9      # a modelled month is ten tenths of days, and knows no rarer one
SAME = 1e-9


class Wish(NamedTuple):
    """What is asked for: so long [s] at so much light [W] on such a share of nights [-]."""

    time_s: float
    power_W: float
    share: float


class Doubts(NamedTuple):
    """Covering spreads [-]: of how much light there is, how long it lasts, what is lifted."""

    light: float
    held: float
    lift: float


class Proposal(NamedTuple):
    """What keeps a wish; values: of the rig that is proposed [SI]; share: of nights kept [-]."""

    values: dict[str, Any]
    water_m3: float
    tank: float             # factors over today's rig
    nozzle: float
    pump: float
    panel: float
    share: float
    share_today: float


def wish(text: str) -> Wish:
    """Return what a text asks for.  Raises InputError."""
    match = _WISH.fullmatch(text)
    if not match:
        raise InputError(f"--for {text!r}: must be a time, a power and how many nights, such as"
                         f" {EXAMPLE}")
    try:
        time_s = units.parse(match["time"], "time")
        power_W = units.parse(match["power"], "power")
    except units.UnitError as error:
        raise InputError(f"--for {text!r}: {error.reason}; write it such as {EXAMPLE}") from None
    kept, every = int(match["kept"]), int(match["all"])
    if not 0.0 < time_s <= LONGEST_s or not power_W > 0.0:
        raise InputError(f"--for {text!r}: the time must be above 0 and at most 24 h, the power"
                         f" above 0; write it such as {EXAMPLE}")
    if not 0 < kept <= every:
        raise InputError(f"--for {text!r}: {kept} nights of {every}: must be 1 to {every} of"
                         f" {every}")
    return Wish(time_s, power_W, kept / every)


def _parallel(values: Values, panel: float, pump: float) -> dict[str, Any]:
    """Return the rig with so many times the panel and the pump, the rising main to match."""
    moves = [("panel.power_W", panel), ("panel.short_circuit_current_A", panel),
             ("panel.best_current_A", panel)]
    if pump != 1.0:
        moves += [("pump.rated_power_W", pump), ("pump.rated_flow_m3_s", pump),
                  ("motor.resistance_ohm", 1 / pump), ("motor.no_load_current_A", pump),
                  ("motor.cooled_resistance_K_W", 1 / pump),
                  ("motor.still_resistance_K_W", 1 / pump), ("motor.heat_capacity_J_K", pump),
                  ("rising_main.diameter_m", pump ** 0.4)]   # the same loss at that flow
    return changed(values, tuple(moves))


def _measured(values: Values) -> dict[str, Any]:
    """Return the rig with monitors that read its currents, as far as there are such."""
    needed_A = {"sensors.panel_range": checks.BRIGHTEST_FRAC
                * values["panel.short_circuit_current_A"],
                "sensors.pump_range": checks.STARTING_FRAC
                * values["pump.rated_power_W"] / values["pump.rated_voltage_V"]}
    return {**values, **{f"{key}_A": min(KEYS[key].bounds[1], max(values[f"{key}_A"], amps))
                         for key, amps in needed_A.items()}}


def _kept(values: Values, nights: Nights, water_m3: float, lift_frac: float) -> float:
    """Return on what share of days the water of a night is lifted, at the worst of the spread."""
    made = lifting.rough(values)
    lifted = lifting.march(values, [made], nights.sun, True).lifted_m3[0]
    return float(np.average(lifted / (1.0 + lift_frac) >= water_m3, weights=nights.weight))


def proposed(values: Values, wanted: Wish, nights: Nights, doubts: Doubts) -> Proposal | None:
    """Return the least rig that keeps a wish; None = none within what is looked at."""
    return _searched(values, wanted, nights, doubts)[0]


def _searched(values, wanted, nights, doubts) -> tuple[Proposal | None, list[str]]:
    """Return (what is proposed, what a description of a rig that would do is refused for)."""
    rig, nozzle = _bright_enough(values, wanted.power_W, doubts.light)
    if rig is None:
        return None, []
    water_m3 = _water_m3(rig, wanted, doubts)
    tank = max(1.0, water_m3 / light.takes_m3(rig))
    if tank > 1.0:
        rig = changed(rig, tuple((name, tank ** (1 / power)) for name, power in WIDENED.items()))
    faults: list[str] = []
    # The panel alone where that does, else both together.
    for with_pump in (False, True):
        pump, panel, share = _least(rig, nights, water_m3, doubts.lift, wanted.share, with_pump)
        if share is None:
            continue
        larger = _measured(_parallel(rig, panel, pump))
        found = faults_of(larger)
        if not found:
            return Proposal(larger, water_m3, tank, nozzle, pump, panel, share,
                            _today(values, wanted, nights, doubts)), []
        faults = faults or found
    return None, faults


def _water_m3(rig, wanted, doubts):
    """Return the water of a wish at the worst of its spread [m3]."""
    flow = governing.turbine_set(rig).flow_for_lamps_m3_s(wanted.power_W)
    return wanted.time_s * flow * (1.0 + doubts.held)


def _today(values, wanted, nights, doubts):
    """Return on what share of nights today's rig keeps a wish, by the same rules."""
    if machines.least_light_W(values) / (1.0 + doubts.light) < wanted.power_W:
        return 0.0
    water_m3 = _water_m3(values, wanted, doubts)
    return 0.0 if water_m3 > light.takes_m3(values) else _kept(
        values, nights, water_m3, doubts.lift)


def _least(rig, nights, water_m3, lift_frac, wanted_share, with_pump):
    """Return the least (pump, panel) over today's that keep such a share, and what they keep.

    More of either never lifts less, so that it is found by halves.
    """
    most = max(overload.MOST, overload.times(rig))   # no worse than today's, where that is over
    able = [factor for factor in FACTORS if _is_able(rig, factor, with_pump, most)]
    shares: dict[float, float] = {}

    def keeps(factor):
        larger = _parallel(rig, factor, factor if with_pump else 1.0)
        shares[factor] = _kept(larger, nights, water_m3, lift_frac)
        return shares[factor] >= wanted_share

    place = bisect.bisect_left(able, True, key=keeps)
    if place == len(able):
        return 1.0, 1.0, None
    return able[place] if with_pump else 1.0, able[place], shares[able[place]]


def _is_able(rig, factor, with_pump, most):
    """Return whether such a panel and pump are within the physics, and the pump is not burnt."""
    try:
        return overload.times(_parallel(rig, factor, factor if with_pump else 1.0)) <= most + SAME
    except ValueError:
        return False


def _bright_enough(values, power_W, light_frac):
    """Return (the rig with the least nozzle that gives the light when empty, times today's)."""
    if power_W > values["generator.rated_power_W"]:
        return None, 1.0
    for times in NOZZLES:
        bore_m = times * values["turbine.nozzle_diameter_m"]
        if bore_m >= values["penstock.diameter_m"]:
            break
        rig = {**values, "turbine.nozzle_diameter_m": bore_m}
        if machines.least_light_W(rig) / (1.0 + light_frac) >= power_W:
            return rig, times
    return None, 1.0


def described(rig: Rig, found: Proposal) -> str:
    """Return the proposed rig as a description in TOML: today's, its changed figures assumed.

    Raises RigError where rounding to what a file holds breaks a rule.
    """
    kept = Carried(rig)
    today = rig.plant()
    for name, value in found.values.items():
        if value != today[name]:
            kept.put(NAME_OF[name], value, is_assumed=True)
    load_text(kept.text, f"what is proposed for {rig.rig.name}")
    return kept.text


def part(values: Values, wanted: Wish, nights: Nights, doubts: Doubts,
         is_modelled: bool) -> tuple[Part, Proposal | None]:
    """Return (what is to be said of a wish, what is proposed for it, None = nothing)."""
    asked = (f"{wanted.time_s / 3600:.3g} h at {wanted.power_W:.3g} W on"
             f" {wanted.share:.0%} of nights")
    found, faults = _searched(values, wanted, nights, doubts)
    if found is None:
        return Part("for", "Sized backwards",
                    warns=[_why_not(values, wanted, asked, doubts.light, faults)]), None
    rig = found.values
    rows = [
        ("water between the floats", found.water_m3, light.usable_m3(values), "volume"),
        ("nozzle", rig["turbine.nozzle_diameter_m"], values["turbine.nozzle_diameter_m"],
         "length"),
        ("panel", rig["panel.power_W"], values["panel.power_W"], "power"),
        ("pump", rig["pump.rated_power_W"], values["pump.rated_power_W"], "power"),
        ("its rated flow", rig["pump.rated_flow_m3_s"], values["pump.rated_flow_m3_s"], "flow"),
        ("rising main", rig["rising_main.diameter_m"], values["rising_main.diameter_m"],
         "length"),
        *_monitors(rig, values)]
    says = [f"For {asked}, each day from an empty tank, every figure as bad as its spread."]
    if is_modelled and wanted.share > CEILING_FRAC:
        says.append("A modelled year has no weeks worse than its dullest tenth: more than"
                    f" {CEILING_FRAC:.0%} of nights only a file of sun can promise (--sun).")
    return Part("for", "Sized backwards", [
        Figure("share_frac", "nights that it keeps", found.share, "ratio"),
        Figure("share_today_frac", "and today's rig", found.share_today, "ratio")],
        [Table("proposal", "What it takes", (
            Column("part", "part", "text"), Column("value", "at least", "as said"),
            Column("today", "today", "as said"),
            Column("dimension", "", "hidden")), rows)], says), found


def _monitors(rig, values):
    """The monitors' ranges, as far as the rig has them."""
    return [(f"{one}'s monitor reads to", rig[f"sensors.{one}_range_A"],
             values[f"sensors.{one}_range_A"], "current") for one in ("panel", "pump")
            if instruments.is_fitted(values, f"{one}_meter")]


def _why_not(values, wanted, asked, light_frac, faults):
    rated_W = values["generator.rated_power_W"]
    if wanted.power_W > rated_W:
        return f"{asked}: the generator is rated {rated_W:.3g} W; take a larger one."
    if _bright_enough(values, wanted.power_W, light_frac)[0] is None:
        return (f"{asked}: the head gives too little light towards an empty tank with any nozzle"
                f" of up to {NOZZLES[-1]:.3g} times today's; raise the tank, widen the penstock.")
    if faults:
        return f"{asked}: what it takes is no rig for this board: {faults[0]}."
    return (f"{asked}: not with a panel that would not burn the pump, nor with"
            f" {FACTORS[-1]:.3g} times both; ask for fewer nights or less light.")
