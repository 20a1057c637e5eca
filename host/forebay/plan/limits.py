"""What limits the rig: what each change of it would gain, ranked, and where the joules go."""

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from forebay.plan import chain, lifting, light
from forebay.plan.answers import Column, Figure, Part, Table
from forebay.plan.lifting import Sun
from forebay.rig import governing, machines
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
    ("wheel that half as much splashes past", ("turbine.hit_frac", None)),
    ("bearings of half the friction", ("turbine.friction_torque_N_m", 0.5)),
)
TANK = tuple(f"upper.{name}_volume_m3" for name in (
    "full", "over_full", "overflow"))
# What makes a tank wider, by its shape, and the power of it with which its volume goes.
WIDENED = {"upper.length_m": 1, "upper.diameter_m": 2, "upper.volumes_m3": 1}
UPHILL = ("panel.", "pump.", "motor.", "rising_main.")
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
    water_m3 = np.minimum(lifted_m3, light.usable_m3(values))
    return most_W * np.minimum(water_m3 / flow, night_s)


def gains_J(values: Values, nights: Nights, power_W: float) -> list[tuple[str, float | None]]:
    """Return the lamps' energy of a mean night [J] of today's rig, and of each change of it.

    The first is today's; None: the change is beyond the physics.  What is lifted is what the
    sun alone would lift, up to what the tank holds.
    """
    rigs: list[tuple[str, Any, Any]] = [("", dict(values), lifting.rough(values))]
    for name, *moves in CHANGES:
        rig = changed(values, tuple(moves))
        try:
            is_uphill = any(key.startswith(UPHILL) for key, _ in moves)
            rigs.append((name, rig, lifting.rough(rig) if is_uphill else rigs[0][2]))
        except ValueError:
            rigs.append((name, None, rigs[0][2]))
    machines = list({id(one[2]): one[2] for one in rigs}.values())
    place = {id(one): number for number, one in enumerate(machines)}
    lifted = lifting.march(values, machines, nights.sun, True).lifted_m3
    return [(name, None if rig is None else float(np.average(
        nightly_J(rig, lifted[place[id(made)]], nights.night_s, power_W), weights=nights.weight)))
            for name, rig, made in rigs]


def part(values: Values, nights: Nights, spread_frac: float) -> Part:
    """Return what limits the rig.  spread_frac: covering, of a night's light [-]."""
    power_W = values["night.setpoint_W"] or min(values["lamps.steps_W"])
    (_, base_J), *found = gains_J(values, nights, power_W)
    rows = []
    for name, night_J in found:
        if night_J is None:
            rows.append((name, None, None))
            continue
        gain = night_J - base_J
        # What both have in common is wrong alike: of the gain itself as of the whole.
        rows.append((name, (gain, abs(gain) * spread_frac), gain / base_J if base_J else None))
    rows.sort(key=lambda row: -row[1][0] if row[1] else math.inf)
    figures = [Figure("mean_night_J", f"light of a mean night at {power_W:.3g} W", base_J,
                      "energy", base_J * spread_frac)]
    return Part("limits", "What limits it", figures, [
        Table("changes", "What one change would gain a mean night", (
            Column("change", "change", "text"), Column("gain_J", "light", "energy"),
            Column("gain_frac", "of it", "ratio")), rows,
              "- = no such panel or pump can be"),
        losses(values, power_W)], [_verdict(values, nights, rows, base_J)])


def _verdict(values, nights, rows, base_J):
    lifted = lifting.march(values, [lifting.rough(values)], nights.sun, True).lifted_m3[0]
    share = np.average(lifted >= light.usable_m3(values), weights=nights.weight)
    best, gain = rows[0][0], rows[0][1][0]
    told = (f"On {share:.0%} of days the tank is full before the sun is gone: "
            + ("the tank limits the light." if share > 0.5 else "the sun and the pump do."))
    if gain <= SURE_FRAC * base_J:
        return told + " None of these changes would gain anything worth it."
    return told + f" Most is gained by: {best}."


def losses(values: Values, power_W: float) -> Table:
    """Return where the joules of the round trip go, in full sun and at a brightness."""
    low_m, high_m = lifting.lifts_m(values)
    up = chain.uphill(values, REFERENCE_W_M2, machines.hottest_cell_degC(values) - 15.0,
                      0.5 * (low_m + high_m))
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
