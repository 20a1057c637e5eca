"""What limits the rig: what each change of it would gain, ranked, and where the joules go."""

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from forebay.plan import chain, lifting, light
from forebay.plan.answers import COVERING, Column, Figure, Part, Table
from forebay.plan.lifting import Sun
from forebay.plan.moving import Spread, first_within
from forebay.rig import governing
from keeper.physics.panel import REFERENCE_W_M2

HOUR_S = 3600.0
Values = Mapping[str, Any]


class Nights(NamedTuple):
    """Days of sun, the nights after them, and how often each comes."""

    sun: Sun
    night_s: np.ndarray
    weight: np.ndarray


# A change of the rig: its name, and the figures that it multiplies.
CHANGES = (
    ("tank half as large again", ("upper.length_m", 1.5), ("upper.diameter_m", 1.5 ** 0.5),
     ("upper.volumes_m3", 1.5)),
    ("rising main a size wider", ("rising_main.diameter_m", 1.25)),
    ("penstock a size wider", ("penstock.diameter_m", 1.25)),
    ("nozzle wider by a tenth", ("turbine.nozzle_diameter_m", 1.1)),
    ("nozzle narrower by a tenth", ("turbine.nozzle_diameter_m", 0.9)),
    ("panel half as large again", ("panel.power_W", 1.5), ("panel.short_circuit_current_A", 1.5),
     ("panel.best_current_A", 1.5)),
    ("pump half as large again", ("pump.rated_power_W", 1.5), ("pump.rated_flow_m3_s", 1.5),
     ("motor.resistance_ohm", 1 / 1.5), ("motor.no_load_current_A", 1.5)),
    ("half as much water past the turbine", ("turbine.hit_frac", None)),
    ("bearings of half the friction", ("turbine.friction_torque_N_m", 0.5)),
)
TANK = tuple(f"upper.{name}_volume_m3" for name in (
    "full", "over_full", "overflow"))
# What makes a tank wider, by its shape, and the power of it with which its volume goes.
WIDENED = {"upper.length_m": 1, "upper.diameter_m": 2, "upper.volumes_m3": 1}
UPHILL = ("panel.", "pump.", "motor.", "rising_main.", "upper.inlet_height", "lower.base")
FEW_FIGURES = 6      # whose doubt is looked at for each change
SURE_FRAC = 0.01     # of a night's light: a change that gains less is none


def changed(values: Values, moves: tuple[tuple[str, float | None], ...]) -> dict[str, Any]:
    """Return a rig with a change: each figure that it has times its factor.

    Of a larger tank its floats keep their levels' shares; both tanks grow.
    """
    found = dict(values)
    for name, factor in moves:
        if name not in values or values[name] is None:
            continue
        if factor is None:      # half of what is missing to one
            found[name] = 0.5 * (1.0 + values[name])
            continue
        found[name] = times(values[name], factor)
        if name in WIDENED:
            found = _larger(found, values, factor ** WIDENED[name])
    return found


def times(value: Any, factor: float) -> Any:
    """Return a figure times a factor; of a list each."""
    return [one * factor for one in value] if isinstance(value, list) else value * factor


def _larger(found, values, factor):
    """Let the volumes of both tanks, and the lower tank with them, grow by a factor."""
    for name in (*TANK, "upper.empty_volume_m3", "lower.low_volume_m3", "lower.full_volume_m3"):
        found[name] = values[name] * factor
    for name, share in (("lower.length_m", factor), ("lower.diameter_m", factor ** 0.5),
                        ("lower.volumes_m3", factor)):
        if values.get(name) is not None:
            found[name] = times(values[name], share)
    return found


def nightly_J(values: Values, lifted_m3: np.ndarray, night_s: np.ndarray,
              power_W: float) -> np.ndarray:
    """Return the lamps' energy of each night [J] at a brightness, from what the day lifted.

    No longer than the night, no more than the tank holds; a rig that cannot hold it gives
    what its open valve does at the lowest head.
    """
    most_W = min(power_W, governing.turbine_set(values).steady(
        1.0, governing.lowest_head_m(values))[3])
    if most_W <= 0.0:
        return np.zeros_like(lifted_m3)
    flow = governing.turbine_set(values).flow_for_lamps_m3_s(most_W)
    water_m3 = np.minimum(lifted_m3, light.takes_m3(values))
    return most_W * np.minimum(water_m3 / flow, night_s)


def lifted_m3(values: Values, nights: Nights) -> list[np.ndarray | None]:
    """Return what the days lift [m3], by the sun alone, of today's rig and of each change of it.

    The first is today's; None: the change is beyond the physics.
    """
    machines, places = [lifting.rough(values)], []
    for _, *moves in CHANGES:
        places.append(0)
        if any(key.startswith(UPHILL) for key, _ in moves):
            try:
                machines.append(lifting.rough(changed(values, tuple(moves))))
                places[-1] = len(machines) - 1
            except ValueError:   # no such panel or pump can be, as the row then says
                places[-1] = -1
    found = lifting.march(values, machines, nights.sun, True).lifted_m3
    return [found[0], *(None if place < 0 else found[place] for place in places)]


def nights_J(values: Values, nights: Nights, power_W: float,
             lifted: Sequence[np.ndarray | None]) -> list[float | None]:
    """Return the lamps' energy of a mean night [J], likewise; lifted: as of `lifted_m3`."""
    rigs = [dict(values), *(changed(values, tuple(moves)) for _, *moves in CHANGES)]
    return [None if litres is None else float(np.average(
        nightly_J(rig, litres, nights.night_s, power_W), weights=nights.weight))
            for rig, litres in zip(rigs, lifted, strict=True)]


def part(values: Values, nights: Nights, doubts: Mapping[str, float],
         spread: Spread) -> Part:
    """Return what limits the rig.

    doubts: standard uncertainty by figure; spread: of a mean night, and what each figure adds.
    """
    power_W = light.setpoint_W(values)
    lifted = lifted_m3(values, nights)
    base_J, *found = nights_J(values, nights, power_W, lifted)
    wide_J = _gains_u_J(values, nights, power_W, doubts, spread, lifted)
    rows: list[tuple[str, Any, Any]] = []
    for (name, *_), night_J, u_J in zip(CHANGES, found, wide_J, strict=True):
        if night_J is None or base_J is None:
            rows.append((name, None, None))
            continue
        gain = night_J - base_J
        rows.append((name, (gain, COVERING * u_J), gain / base_J if base_J else None))
    rows.sort(key=lambda row: -row[1][0] if row[1] else math.inf)
    figures = [Figure("mean_night_J", f"light of a mean night at {power_W:.3g} W", base_J,
                      "energy", COVERING * (base_J or 0.0) * spread.frac["night"])]
    return Part("limits", "What limits it", figures, [
        Table("changes", "What one change would gain a mean night", (
            Column("change", "change", "text"), Column("gain_J", "light", "energy"),
            Column("gain_frac", "of it", "ratio")), rows,
              f"- = no such panel or pump can be; +- by the {FEW_FIGURES} figures that matter"
              " most"),
        losses(values, power_W)], [_verdict(values, nights, rows, base_J or 0.0)])


def _gains_u_J(values, nights, power_W, doubts, spread, lifted):
    """Return the standard uncertainty of each gain [J]: each change again in rigs that are off.

    By the figures that matter most for the night, one at a time, independent of each other.
    """
    def made(figure):
        def of(rig):
            again = lifted_m3(rig, nights) if figure.startswith(UPHILL) else lifted
            return nights_J(rig, nights, power_W, again)
        return of

    base_J, *found = nights_J(values, nights, power_W, lifted)
    parts: list[list[float]] = [[0.0] for _ in found]
    if base_J is None:
        return [0.0 for _ in found]
    most = sorted(spread.by_figure, key=lambda name: -abs(spread.by_figure[name]["night"]))
    for figure in most[:FEW_FIGURES]:
        (other_J, *others), step = first_within(values, figure, doubts[figure], made(figure))
        for part, before, after in zip(parts, found, others, strict=True):
            if before is not None and after is not None:
                part.append(((after - other_J) - (before - base_J)) / step)
    return [math.hypot(*one) for one in parts]


def _verdict(values, nights, rows, base_J):
    lifted = lifting.march(values, [lifting.rough(values)], nights.sun, True).lifted_m3[0]
    takes_m3 = light.takes_m3(values)
    share = np.average(lifted >= takes_m3, weights=nights.weight)
    best, gain = rows[0][0], rows[0][1][0]
    tank = "upper" if takes_m3 >= light.usable_m3(values) else "lower"
    state = "full" if tank == "upper" else "at its low float"
    told = (f"On {share:.0%} of days the {tank} tank is {state} before the sun is gone: "
            + (f"the {tank} tank limits the light." if share > 0.5
               else "mostly the sun and the pump limit the light."))
    if gain <= SURE_FRAC * base_J:
        return told + " None of these changes would gain anything worth it."
    return told + f" Most is gained by: {best}."


def losses(values: Values, power_W: float) -> Table:
    """Return where the joules of the round trip go, in full sun and at a brightness."""
    up = chain.uphill(values, REFERENCE_W_M2, chain.sunlit_cell_degC(values),
                      chain.mean_lift_m(values))
    down = chain.downhill(values, power_W, governing.mean_head_m(values))
    rows = []
    for way, steps in (("up", up), ("down", down)):
        whole_W = steps[0].W_in
        rows += [(way, name, lost_W, lost_W / whole_W if whole_W else None)
                 for step in steps for name, lost_W in step.losses]
        rows.append((way, "arrives", steps[-1].W_out,
                     steps[-1].W_out / whole_W if whole_W else None))
    return Table("losses", "Where the power goes, in full sun and at night", (
        Column("way", "", "text"), Column("step", "lost in", "text"),
        Column("lost_W", "power", "power"), Column("lost_frac", "of what goes in", "ratio")), rows)
