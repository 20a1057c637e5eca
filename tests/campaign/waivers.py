"""Hazards that certain faults may bring, each with its bounds; beyond them they fail.

A row says in which modes (of `hazards.MODES`), how large, for how long in a
day, and what hardware limits it that no firmware can replace.  The bounds are
the rig's and its parts' figures, or physics.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from forebay.twin import effects, faults
from keeper.physics import of_rig
from tests.campaign.given import given
from tests.campaign.hazards import DRAIN, LIGHT, MODES, PUMP, REST, UNITS
from tests.campaign.limits import COVERAGE, Limits

L_PER_M3 = 1e3
STANDARD_M_S2 = 9.80665     # standard gravity, ISO 80000-3
DAY_S = 86400.0
DAYLIGHT_S = 960 * 60.0    # the longest of the campaign's days (weather)
TWO_STEPS_S = 2.0          # of the coarsest twin that turns

STEP_S = 1.0
LEVEL_S = 30.0             # mean of 13 s, delay of 10 s, travel and reserve of the valve
LEAST_FRAC = 0.4           # of the full flow: the least that gives a useful light, see ideal
NO_SWITCH = "isolator at the panel; thermostat in the pump's supply, once it is hot"
HAND = "hand valve; without a person the tank runs to its end, and no further"
SLOW = "shuts by itself at its own pace; hand valve"
STAYS = "on power loss the valve stays, as the rig states: hand valve, clamp"
SPIN = "whatever hangs on the rectifier stands the runaway (rectifier 50 V, monitors 36 V); guard"
NO_VOLTS = "37-GEN shuts within its delay; a guard round the wheel (hazards.toml H7)"
BY_DRAIN = "the person who drains; a guard round the wheel (hazards.toml H7)"
LOW = "71L-LVL ends it; what is left below the float is lost to nobody"
THERMOSTAT = "thermostat in the pump's supply, 15 K over 26-MOT"
ENDS = "71L-UP: the light ends with the water of the tank"
FLAT = "pull-downs: a board without power drives no pump; the sun charges it again"
BY_HAND = "drained each autumn by hand: the alarm of the lost sensor says so"


class Waiver(NamedTuple):
    """What is allowed of one hazard."""

    modes: tuple
    most: float          # of its size, in its unit
    longest_s: float     # in all
    remains: str         # what limits it
    only_with: str = ""  # a mode that must be among those of the hazard


def figures(rig):
    """Returns the bounds that a rig [see `given`] and its parts give."""
    area = math.pi / 4.0 * rig["turbine.nozzle_diameter_m"] ** 2
    head_m = rig["upper.base_height_m"] + rig["upper.height_m"]
    jet_m_s = (2.0 * STANDARD_M_S2 * head_m) ** 0.5     # Torricelli, a full tank and no loss
    travels = 1 + rig["limits.trip_retries"]
    slow_s = effects.SLOW_TRAVELS * rig["valve.travel_s"]
    friction, inertia = rig["turbine.friction_torque_N_m"], rig["turbine.inertia_kg_m2"]
    shut_s = rig["limits.generator_delay_s"] + rig["valve.travel_s"] + TWO_STEPS_S
    flow_L_s = area * jet_m_s * L_PER_M3
    return {
        "flow_L_s": flow_L_s,
        "tank_L": rig["upper.overflow_volume_m3"] * L_PER_M3,
        "slow_s": travels * slow_s,
        "hot_K": (rig["stands.thermostat_degC"] - rig["motor.trip_temperature_degC"]
                  - rig["stands.passes_trip_K"]
                  # It opens at the end of a step in which a stalled motor was heated.
                  + STEP_S * rig["panel.short_circuit_current_A"] ** 2
                  * rig["motor.resistance_ohm"] / rig["motor.heat_capacity_J_K"]),
        # A float that stays wet: on to the level's own element, by its error, mean and delay.
        "low_L": _below_low_L(rig) + LEVEL_S * flow_L_s,
        "outlet_L": L_PER_M3 * rig["upper.empty_volume_m3"],
        "least_L_s": LEAST_FRAC * flow_L_s,
        "coast_s": shut_s + inertia * rig["stands.open_rad_s"] / friction,
        "unlit_s": travels * (Limits(rig).unlit_s + inertia * rig["stands.open_rad_s"] / friction),
        "drain_s": rig["upper.overflow_volume_m3"] * L_PER_M3 / (LEAST_FRAC * flow_L_s),
        "over_V": rig["stands.open_V"] - rig["stands.clamped_V"],
        "over_rad_s": rig["stands.open_rad_s"] - rig["stands.clamped_rad_s"]}


def _below_low_L(rig):
    """Returns the water between the low float and where the level's own element acts [L]."""
    shape = of_rig.tank(rig, "upper.")
    low_m = shape.level_m(rig["upper.empty_volume_m3"])
    error_m = rig["limits.level_tolerance_m"] + COVERAGE * rig["sensors.level_uncertainty_m"]
    return L_PER_M3 * (rig["upper.empty_volume_m3"] - shape.volume_m3(max(0.0, low_m - error_m)))


def table(rig):
    """Returns (fault or pair of faults, hazard) -> what a rig is allowed; one row is enough."""
    figure = figures(rig)
    empties = Waiver((REST,), figure["tank_L"], DAY_S, HAND)
    cut = Waiver((REST,), figure["flow_L_s"] * faults.CUT_S, faults.CUT_S, STAYS)
    cooks = Waiver((REST,), figure["hot_K"], DAYLIGHT_S, NO_SWITCH)
    return {**_singles(figure, empties, cut, cooks), **_pairs(figure, empties, cut, cooks),
            **_unseen(rig, figure)}


def _singles(figure, empties, cut, cooks):
    return {
        ("pump-switch-welded", "dry"): Waiver((REST,), DAYLIGHT_S, DAYLIGHT_S, NO_SWITCH),
        ("pump-switch-welded", "hot"): cooks,
        ("valve-stuck", "open"): empties,
        ("valve-slow", "open"): Waiver(
            (REST,), figure["flow_L_s"] * figure["slow_s"], figure["slow_s"], SLOW),
        ("valve-creeps", "open"): empties,
        ("valve-drifts", "open"): empties,
        ("power-cut", "unpowered"): cut,
        # Without volts nothing sees how fast the wheel is; found by the first run of this table.
        # 37-GEN is armed in the light only: in a drain the wheel runs to the tank's end.
        ("generator-lead-open", "overspeed"): (
            Waiver((LIGHT, REST), figure["over_rad_s"], figure["unlit_s"], NO_VOLTS),
            Waiver((LIGHT, REST, DRAIN), figure["over_rad_s"], figure["drain_s"], BY_DRAIN,
                   only_with=DRAIN)),
        # The second layer is the level, a little below the float; found likewise.
        ("low-float-stuck", "open"): Waiver(
            (LIGHT, REST), figure["low_L"], figure["low_L"] / figure["least_L_s"], LOW),
        # What a valve that cannot be shut lets down may fill the tank below; found likewise.
        ("valve-stuck", "flood"): empties,
        ("valve-creeps", "flood"): empties,
        ("valve-drifts", "flood"): empties,
        ("seat-leaks", "flood"): empties,
        # By what it reads it is night, and light is wanted.
        ("panel-voltage-stuck", "open"): Waiver((LIGHT, REST), figure["tank_L"], DAY_S, ENDS),
        # Nobody sees the battery sink; then the valve stays where it is.
        ("supply-voltage-stuck", "flat"): Waiver(MODES, DAY_S, DAY_S, FLAT),
        ("supply-voltage-stuck", "unpowered"): Waiver((REST,), figure["tank_L"], DAY_S, STAYS),
    }


def _pairs(figure, empties, cut, cooks):
    return {
        ("pump-switch-welded + lower-tank-dry", "dry"): Waiver(
            (REST,), DAYLIGHT_S, DAYLIGHT_S, NO_SWITCH),
        ("pump-switch-welded + lower-tank-dry", "hot"): cooks,
        ("motor-sensor-loose + bearing-stiff", "hot"): Waiver(
            (PUMP, REST), figure["hot_K"], DAYLIGHT_S, THERMOSTAT),
        ("motor-sensor-stuck + jacket-blocked", "hot"): Waiver(
            (PUMP, REST), figure["hot_K"], DAYLIGHT_S, THERMOSTAT),
        ("clamp-lost + load-lost", "over-voltage"): Waiver(
            (LIGHT, REST), figure["over_V"], figure["coast_s"], SPIN),
        ("clamp-lost + load-lost", "overspeed"): Waiver(
            (LIGHT, REST), figure["over_rad_s"], figure["coast_s"], SPIN),
        ("clamp-lost + load-lost", "over-trip"): Waiver(
            (LIGHT, REST), figure["coast_s"], figure["coast_s"], SPIN),
        ("load-lost + valve-stuck", "open"): empties,
        ("load-lost + valve-stuck", "over-trip"): Waiver(
            (LIGHT, REST), DAY_S, DAY_S, "clamp, rated for runaway for ever"),
        ("valve-sensor-open + valve-stuck", "open"): empties,
        # The float and the level both say water: 80-VLV, when none comes; found likewise.
        ("low-float-stuck + level-stuck", "open"): Waiver(
            (LIGHT, REST), figure["outlet_L"], figure["outlet_L"] / figure["least_L_s"], LOW),
        ("water-sensor-lost + frost", "frozen"): Waiver((REST,), 1.0, DAY_S, BY_HAND),
        ("load-lost + power-cut", "unpowered"): cut,
        ("load-lost + power-cut", "over-trip"): Waiver(
            (REST, LIGHT), faults.CUT_S, faults.CUT_S, "clamp, rated for runaway for ever"),
    }


def _unseen(rig, figure):
    """Returns what a rig is allowed besides, or instead, that lacks an instrument."""
    found = {}
    if rig["sensors.panel_meter"] == rig["sensors.pump_meter"] == "absent":
        # Its pump, which no reading of the sun holds back, starts while the wheel still runs out.
        found["generator-lead-open", "overspeed"] = (
            Waiver((LIGHT, REST, PUMP), figure["over_rad_s"], figure["unlit_s"], NO_VOLTS),
            Waiver((LIGHT, REST, PUMP, DRAIN), figure["over_rad_s"], figure["drain_s"], BY_DRAIN,
                   only_with=DRAIN))
    if rig["sensors.level"] == "absent":
        # Behind the float there is no level: 80-VLV, when none comes.
        found["low-float-stuck", "open"] = Waiver(
            (LIGHT, REST), figure["outlet_L"], figure["outlet_L"] / figure["least_L_s"], LOW)
    if rig["sensors.valve_position"] == "absent":
        # 48-SHT sees the water and locks the light out; the pump may lift what runs down.
        for fault in ("valve-creeps", "valve-drifts", "valve-stuck"):
            found[fault, "together"] = Waiver((PUMP, REST), DAYLIGHT_S, DAYLIGHT_S, HAND)
            # The pump starts, or runs on, until the meter's element locks out.
            found[fault, "open"] = Waiver((PUMP, REST), figure["tank_L"], DAY_S, HAND)
    return found


WAIVERS = table(given()["rig"])     # the demo's


def rows_of(fault, hazard, waivers=WAIVERS):
    """Returns the waivers of a hazard with a fault: each is enough by itself."""
    found = waivers.get((fault, hazard), ())
    return (found,) if isinstance(found, Waiver) else tuple(found)


def judged(found, fault, rig=None, left=()):
    """Returns a sentence for each hazard [dict name -> Found] that a fault does not excuse.

    rig: without it the demo's; left: hazards that its own summary leaves to hardware by name.
    """
    waivers = table(rig) if rig and found else WAIVERS
    said = []
    for name, one in found.items():
        if name in left:
            continue
        against = [_beyond(one, row, UNITS[name]) for row in rows_of(fault, name, waivers)]
        if not against or all(against):
            said.append(f"hazard {name} {one}" + "".join(f": {why}" for why in against[:1]))
    return said


def _beyond(one, row, unit):
    """Returns which bound of a waiver a hazard passes, "" for none."""
    if not one.modes <= set(row.modes):
        return f"allowed in {'/'.join(row.modes)}"
    if row.only_with and row.only_with not in one.modes:
        return f"allowed only with {row.only_with}"
    if one.size > row.most:
        return f"allowed up to {row.most:.3g} {unit}"
    if one.lasted_s > row.longest_s:
        return f"allowed for {row.longest_s:.0f} s"
    return ""
