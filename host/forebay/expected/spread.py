"""The quick expectation and its uncertainty: figures moved one at a time, the sun seen anew.

Each doubted figure of the rig is moved by its standard uncertainty (GUM 5.1.3, by
differences).  A figure of the panel moves what the sun is taken for as well, so that what
cancels does so; so do the meters' errors, and what is assumed of air and sky.
"""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from forebay.expected import course
from forebay.expected.conditions import FILE_CELL_K, Conditions
from forebay.expected.course import Alone, Came, Variant
from forebay.expected.figures import FIGURES
from forebay.expected.panelsun import CELL_K, Moved
from forebay.plan import lifting, light, spread
from forebay.plan.moving import first_within
from forebay.rig import Rig
from forebay.rig.doubt import doubt

HEAT = ("motor.cooled_resistance_K_W", "motor.still_resistance_K_W", "motor.heat_capacity_J_K",
        "site.water_temperature_degC")
TANK = ("upper.empty_volume_m3", "upper.full_volume_m3", "lower.full_volume_m3")
BELOW_FRAC = 0.10        # of what the lower tank holds at most: nothing reads it; a guess
MODEL_PUMP_FRAC = 0.04   # of what the pump draws, beside the plan's own of lift and light; a guess
AIR_K = 4.0              # of the day's air, beside what is taken for it; a guess
MODEL_HEAT_FRAC = 0.10   # of the motor's excess over the water; a guess
UNREAD_FRAC = 0.2        # of the water between the floats, where nothing reads it; a guess
SEEN_FRAC = 0.01         # of the water above, by float or level: beside their own uncertainty


class Figure(NamedTuple):
    """What is expected of one figure: value, standard uncertainty, its parts by source."""

    value: float
    u: float
    parts: dict[str, float]


class Quick(NamedTuple):
    """What the described rig makes of the conditions, by the plan's own machine."""

    figures: dict[str, Figure]
    came: Came               # of the rig as described
    alone: Alone             # when its keeper would have let it pump


def quick(rig: Rig, conditions: Conditions) -> Quick:
    """Return what is expected, with its uncertainty; the conditions have a sun."""
    values = rig.plant()
    names, variants = _variants(rig, values, conditions)
    upper_m3 = _begin_m3(values, conditions)
    came = course.marched(conditions, variants, upper_m3)
    return Quick({one.key: _figure(one.key, names, came, values) for one in FIGURES
                  if one.key != "panel"},
                 _first(came), course.alone(conditions, variants[0], upper_m3))


def alone(rig: Rig, conditions: Conditions, machine: lifting.Machine) -> dict[str, float]:
    """Return what is expected of each figure by key, without its uncertainty.

    machine: the rig's pump and panel, tabled (`forebay.plan.lifting.machine`); the conditions
    have a sun.
    """
    values = rig.plant()
    came = course.marched(conditions, [Variant(values, machine, conditions.sun_by(values))],
                          _begin_m3(values, conditions))
    return {one.key: float(came.of(one.key)[0]) for one in FIGURES if one.key != "panel"}


def _begin_m3(values, conditions):
    if conditions.upper_m3 is None:
        return values["upper.empty_volume_m3"]
    return min(max(conditions.upper_m3.value, 0.0), values["upper.full_volume_m3"])


def _variants(rig, values, conditions):
    """Return (what each variant is for, the variants); the first is the rig as described, the
    second the same by few points, from which the others depart.
    """
    sun = conditions.sun_by(values)
    exact, rough = lifting.machine(values), lifting.rough(values)
    names, found = ["", "rough"], [Variant(values, exact, sun), Variant(values, rough, sun)]

    def add(name, **other):
        names.append(name)
        found.append(found[1]._replace(**other))

    for name, changed, made, seen in _of_rig(rig, values, conditions, rough, sun):
        add(name, values=changed, machine=made, sun=seen)
    for name, moved in _of_sun(rig, conditions):
        add(name, sun=conditions.sun_by(values, moved))
    if conditions.upper_m3 is not None:
        add("water at the begin", more_m3=conditions.upper_m3.u)
    else:
        add("water at the begin", more_m3=UNREAD_FRAC * light.usable_m3(values))
    add("air", sun=sun._replace(air_degC=sun.air_degC + AIR_K))
    add("model of the lift", lift_times=1.0 - spread.MODEL_LIFT_FRAC)
    add("model of the light", light_times=1.0 + spread.MODEL_LIGHT_FRAC)
    add("water below", below_m3=BELOW_FRAC * values["lower.full_volume_m3"])
    add("water below, less", below_m3=-BELOW_FRAC * values["lower.full_volume_m3"])
    return names, found


def _of_rig(rig, values, conditions, rough, sun):
    """Yield (name, values, machine, sun) of each doubted figure, moved."""
    doubts: Mapping[str, float] = doubt(rig)
    lifts = spread.concerned(doubts, spread.LIFTING, spread.LIFTING_TOO)
    others = [*spread.concerned(doubts, spread.LIGHT), *HEAT, *TANK]
    for name in dict.fromkeys([*lifts, *others]):
        u = doubts.get(name, 0.0)
        if not u or isinstance(values[name], list):
            continue
        is_lifting = name in lifts

        def made(changed, name=name, is_lifting=is_lifting):
            seen = (conditions.sun_by(changed) if name.startswith("panel.")
                    and conditions.record is not None else sun)
            machine = lifting.rough(changed)._replace(lifts_m=rough.lifts_m) if (
                is_lifting) else rough
            return changed, machine, seen

        (changed, machine, seen), step = first_within(values, name, u, made)
        if abs(step) == 1.0:
            yield name, changed, machine, seen


def _of_sun(rig, conditions) -> list[tuple[str, Moved]]:
    """Return what is not known of the sun: (what, how it is moved)."""
    if conditions.record is None:
        return [("the file's sun", Moved(before=1.0)), ("cells", Moved(cell_K=FILE_CELL_K))]
    return [("panel volts", Moved(volts_frac=rig.sensors.voltage_frac)),
            ("panel amperes", Moved(amps_frac=rig.sensors.current_frac)),
            ("sky between", Moved(before=1.0)), ("cells", Moved(cell_K=CELL_K))]


def _first(came: Came) -> Came:
    one = {name: value[..., :1] for name, value in came._asdict().items()}
    return Came(**one)


def _figure(key, names, came: Came, values) -> Figure:
    """Return one figure with its uncertainty."""
    found = came.of(key)
    value, base = float(found[0]), float(found[1])
    parts = {name: float(other) - base for name, other in zip(names[2:], found[2:], strict=True)
             if np.isfinite(other)}
    if key == "hottest_degC":
        parts["model"] = MODEL_HEAT_FRAC * max(0.0, value - values["site.water_temperature_degC"])
    elif key == "pump_J":
        parts["model"] = MODEL_PUMP_FRAC * value
    elif key == "end_L":
        parts["seen"] = SEEN_FRAC * values["upper.full_volume_m3"] * 1000.0
    u = float(np.sqrt(sum(part * part for part in parts.values() if np.isfinite(part))))
    return Figure(value, u, parts)
