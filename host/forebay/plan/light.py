"""What comes down at night: light over valve and level, hours at each brightness, the nozzle.

The machine is `keeper.physics.generation`.  With a fixed nozzle the light fixes the flow,
whatever the level; the level only says how far the valve must open for it.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from forebay.docs.sheets.worst import runaway
from forebay.plan.answers import Column, Figure, Part, Table
from forebay.rig import governing, surging
from keeper.physics import of_rig
from keeper.physics.solve import rising_root

HOUR_S, DAY_S = 3600.0, 86400.0
OPENINGS = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)
NOZZLES = (0.7, 0.8, 0.9, 1.0, 1.1, 1.25, 1.4)   # times today's
PA_PER_BAR = 1e5


class Held(NamedTuple):
    """A brightness that a full tank holds, and for how long."""

    power_W: float
    flow_m3_s: float
    specific_J_m3: float     # lamp energy by water
    held_s: float            # from full to where the head gives no more, or to empty
    opening_frac: float      # of the valve under a full tank
    ends_at_m3: float        # water in the upper tank when it can be held no longer


def setpoint_W(values: Mapping[str, Any]) -> float:
    """Return the light that is planned for [W]: the night's, or the dimmest step."""
    return values["night.setpoint_W"] or min(values["lamps.steps_W"])


def usable_m3(values: Mapping[str, Any]) -> float:
    """Return the water between the floats of the upper tank [m3]."""
    return values["upper.full_volume_m3"] - values["upper.empty_volume_m3"]


def takes_m3(values: Mapping[str, Any]) -> float:
    """Return what a day can lift at most [m3]: what goes above, and what there is below."""
    below_m3 = (values["lower.full_volume_m3"] - values["lower.low_volume_m3"]
                + DAY_S * values["lower.inflow_m3_s"])
    return min(usable_m3(values), below_m3)


def held(values: Mapping[str, Any], power_W: float) -> Held | None:
    """Return how a brightness is held; None = not even a full tank gives it."""
    made = governing.turbine_set(values)
    flow = made.flow_for_lamps_m3_s(power_W)
    shape = of_rig.tank(values, "upper.")
    least_m = least_head_m(made, flow)
    full_m3 = values["upper.full_volume_m3"]
    if governing.highest_head_m(values) < least_m:
        return None
    ends_m3 = max(values["upper.empty_volume_m3"],
                  shape.volume_m3(max(0.0, least_m - values["upper.base_height_m"])))
    return Held(power_W, flow, power_W / flow, (full_m3 - ends_m3) / flow,
                made.travel_for_frac(flow, governing.highest_head_m(values)), ends_m3)


def least_head_m(made, flow_m3_s):
    """Return the head that the open valve needs for a flow [m]."""
    made.travel(1.0)
    local_s2_m5 = made.valve_s2_m5 + made.nozzle_s2_m5 + made.jet_s2_m5
    return made.pipe.loss_m(flow_m3_s) + local_s2_m5 * flow_m3_s ** 2


def brightest_W(values: Mapping[str, Any], head_m: float) -> float:
    """Return the light [W] that the open valve gives under a head [m], no more than is rated."""
    return min(governing.turbine_set(values).steady(1.0, head_m)[3],
               values["generator.rated_power_W"])


def lasting_W(values: Mapping[str, Any], water_m3: float, night_s: float) -> float | None:
    """Return the light that lasts a night from so much water [W]; None = under the useful.

    Never more than the lowest head gives.
    """
    made = governing.turbine_set(values)
    most_W = brightest_W(values, governing.lowest_head_m(values))
    least_W = values["night.useful_W"]

    def left_m3(power_W):
        return made.flow_for_lamps_m3_s(power_W) * night_s - water_m3

    if left_m3(least_W) > 0.0 or most_W < least_W:
        return None
    return most_W if left_m3(most_W) <= 0.0 else rising_root(left_m3, least_W, most_W)


def part(values: Mapping[str, Any], spread_of: Mapping[str, float]) -> Part:
    """Return what is to be said of the light.  spread_of: relative spread by figure's key."""
    lowest_m, highest_m = governing.lowest_head_m(values), governing.highest_head_m(values)
    rows, warns = [], []
    for power_W in values["lamps.steps_W"]:
        found = held(values, power_W)
        if found is None or found.ends_at_m3 >= values["upper.full_volume_m3"]:
            rows.append((power_W, None, None, None, None))
            warns.append(f"Light of {power_W:.3g} W is out of reach: a full tank gives"
                         f" {brightest_W(values, highest_m):.3g} W with the valve fully open.")
            continue
        rows.append((power_W, found.flow_m3_s, found.specific_J_m3,
                     (found.held_s, found.held_s * spread_of.get("held", 0.0)),
                     found.opening_frac))
    figures = [
        Figure("full_W", "most light under a full tank", brightest_W(values, highest_m), "power",
               brightest_W(values, highest_m) * spread_of.get("light", 0.0)),
        Figure("empty_W", "most light towards an empty tank", brightest_W(values, lowest_m),
               "power", brightest_W(values, lowest_m) * spread_of.get("light", 0.0)),
        *_runaway(values), *_surge(values)]
    says = ["With a fixed nozzle half the flow carries an eighth of the power: each litre then"
            " gives a quarter. Dimming makes the light last longer, but by less than one thinks."]
    return Part("light", "Light", figures, [
        Table("steps", "Brightness steps, from a full tank", (
            Column("power_W", "light", "power"), Column("flow_m3_s", "flow", "flow"),
            Column("specific_J_m3", "a litre gives", "energy by volume"),
            Column("held_s", "is held for", "time"),
            Column("opening_frac", "valve, full tank", "ratio")), rows),
        _openings(values, lowest_m, highest_m), _nozzles(values)], says, warns)


def _openings(values, lowest_m, highest_m):
    made = governing.turbine_set(values)
    rows = []
    for opening in OPENINGS:
        full, empty = made.steady(opening, highest_m), made.steady(opening, lowest_m)
        rows.append((opening, full[0], full[3], full[3] / full[0] if full[0] else None,
                     empty[3]))
    return Table("openings", "Light over the valve's opening", (
        Column("opening_frac", "opening", "ratio"), Column("flow_m3_s", "flow, full", "flow"),
        Column("full_W", "light, full", "power"),
        Column("specific_J_m3", "a litre gives", "energy by volume"),
        Column("empty_W", "light, empty", "power")), rows)


def _nozzles(values):
    rows = []
    brightest = max(values["lamps.steps_W"])
    for times in NOZZLES:
        bore_m = times * values["turbine.nozzle_diameter_m"]
        if bore_m >= values["penstock.diameter_m"]:
            continue
        other = {**values, "turbine.nozzle_diameter_m": bore_m}
        found = held(other, brightest)
        dim = held(other, min(values["lamps.steps_W"]))
        rows.append((bore_m, brightest_W(other, governing.lowest_head_m(other)),
                     dim.held_s if dim else None, found.held_s if found else None))
    return Table("nozzles", "Other nozzles, all else as it is", (
        Column("nozzle_m", "bore", "length"), Column("empty_W", "most light, empty", "power"),
        Column("dimmest_s", "dimmest step lasts", "time"),
        Column("brightest_s", "brightest step lasts", "time")), rows)


def _runaway(values):
    free, clamped = runaway(values), runaway(values, clamped=True)
    clamp_W = clamped.generator_V * clamped.clamp_A
    return [
        Figure("runaway_V", "voltage with the lamps off, no clamp", free.generator_V, "voltage"),
        Figure("clamped_V", "and with the clamp", clamped.generator_V, "voltage"),
        Figure("clamp_W", "what the clamp then turns to heat, for ever", clamp_W, "power",
               note=f"it stands {values['generator.clamp_power_W']:.3g} W")]


def _surge(values):
    safe = surging.safe_rate_per_s(values)
    rated_Pa = values["penstock.pressure_rating_Pa"]
    rate = min(1 / values["valve.travel_s"], values["limits.valve_rate_per_s"])
    return [
        Figure("closing_least_s", "least time to shut the valve", None if safe is None
               else 1 / safe, "time", note="" if safe else "any: the pipe stands it at once"),
        Figure("surge_Pa", "highest pressure while it shuts as set",
               surging.pressure_Pa(values, rate), "pressure",
               note=f"the penstock is rated {rated_Pa / PA_PER_BAR:.3g} bar"),
        Figure("still_Pa", "pressure of the standing, full tank",
               surging.weight_N_m3(values) * surging.standing_m(values), "pressure")]
