"""By how much a plan may be wrong: what each figure of the rig is not known by, and the model.

Each figure is moved by its standard uncertainty, one at a time, and what comes out is looked
at (GUM 5.1.3, by differences); the parts are taken as independent.  The model's own part is
what is simplified in it: nobody's rig is as its nameplates say.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from forebay.plan import lifting, light
from forebay.plan.lifting import Chance, Sun
from forebay.plan.moving import Spread, first_within
from forebay.rig import governing, instruments
from keeper.physics import of_rig

# Standard uncertainties of the model [-]: friction law, pump curve, warmth of the cells, lags;
# guesses, held against a plant of another structure (tests/bench/plan_spread).
MODEL_LIFT_FRAC = 0.04
MODEL_LIGHT_FRAC = 0.03
CLEAR_SKY_FRAC = 0.04    # of a modelled sun: haze and ground differ from place to place; a guess
LIFTING = ("panel", "pump", "motor", "rising_main")
LIFTING_TOO = ("upper.inlet_height_m", "lower.base_height_m")
LIGHT = ("turbine", "generator", "lamps", "penstock", "valve", "upper")
# What acts on the sun or the heat alone.
PASSED_BY = ("panel.tilt_deg", "panel.azimuth_deg", "panel.cells", "panel.power_W",
             "motor.cooled_resistance_K_W", "motor.still_resistance_K_W",
             "motor.heat_capacity_J_K",
             "motor.sensor_lag_s", "turbine.output_uncertainty", "turbine.inertia_kg_m2")
# How clouds fall into the keeper's waits is chance: the first start comes at once, or later by
# some share of the longest of these waits.
LATE_FRACS = (0.0, 0.2, 0.4, 0.6, 0.8)
MOST_FRAC = 3.0   # what is known worse than to a factor of four is not known at all

Values = Mapping[str, Any]
Kind = np.ndarray | Callable[[np.ndarray], float]


def concerned(doubts: Mapping[str, float], sections: Sequence[str],
              besides: Sequence[str] = ()) -> list[str]:
    """Return the doubted figures of some sections, less those that act on neither side."""
    return [name for name, u in doubts.items() if u > 0.0 and name not in PASSED_BY
            and (name.split(".")[0] in sections or name in besides)]


def of_lifting(values: Values, doubts: Mapping[str, float], sun: Sun,
               kinds: Sequence[tuple[str, Kind]], is_modelled: bool) -> Spread:
    """Return the spread of what comes of days, by output.

    kinds: (output, which of the days' litres, or what is made of all of them [m3]);
    is_modelled: the sun is the clear-sky model's.
    """
    names = concerned(doubts, LIFTING, LIFTING_TOO)
    found = [first_within(values, name, doubts[name], lifting.rough) for name in names]
    base = lifting.rough(values)
    machines = [base, *(one._replace(lifts_m=base.lifts_m) for one, _ in found)]
    done = lifting.march(values, machines, sun, True).lifted_m3
    brighter = lifting.march(values, [base], sun._replace(
        poa_W_m2=sun.poa_W_m2 * (1.0 + CLEAR_SKY_FRAC)), True).lifted_m3[0]
    made = {key: kind if callable(kind) else _sum_of(kind) for key, kind in kinds}
    outputs = {key: [of(one) for one in done] for key, of in made.items()}
    by_figure = {name: {key: float(_relative(one[place + 1], one[0])) / found[place][1]
                        for key, one in outputs.items()} for place, name in enumerate(names)}
    own = {}
    for key, of in made.items():
        model = (_relative(of(done[0] * (1.0 + MODEL_LIFT_FRAC)), outputs[key][0])
                 if outputs[key][0] else MODEL_LIFT_FRAC)
        haze = _relative(of(brighter), outputs[key][0]) if is_modelled else 0.0
        own[key] = math.hypot(model, haze)
    return _summed(by_figure, own)


def _sum_of(which):
    return lambda litres: float(litres[which].sum())


def chance(values: Values, covering_frac: np.ndarray) -> Chance:
    """Return the ways in which days may go; the first is the plan's own.

    covering_frac: of each day, the covering spread of what is lifted [-], infinite where nothing
    is.  A machine that lifts less also fails at more of its starts: the spread goes through the
    march, not over it.
    """
    frac = np.minimum(covering_frac, MOST_FRAC)
    late_s = np.repeat(LATE_FRACS, 3) * values["limits.holdoff_longest_s"]
    ways = [np.ones_like(frac), np.maximum(0.0, 1.0 - frac), 1.0 + frac]
    return Chance(np.tile(ways, (len(LATE_FRACS), 1)), late_s)


def of_tank(values: Values, doubts: Mapping[str, float]) -> float:
    """Return the standard uncertainty of the water between the floats, as a share of it [-].

    A level sensor that reads too low ends the light before the float does.
    """
    parts = [doubts[f"upper.{name}_volume_m3"] for name in ("full", "empty")]
    if instruments.is_fitted(values, "level"):
        shape, empty_m3 = of_rig.tank(values, "upper."), values["upper.empty_volume_m3"]
        off_m = values["sensors.level_uncertainty_m"]
        parts.append(shape.volume_m3(shape.level_m(empty_m3) + off_m) - empty_m3)
    return math.hypot(*parts) / light.usable_m3(values)


def of_light(values: Values, doubts: Mapping[str, float], power_W: float,
             night_J: Callable[[Values], float] | None = None) -> Spread:
    """Return the spread of the light: how long a power [W] is held, and the most there is.

    night_J: lamp energy of a mean night, of values, where that is looked at, too.
    """
    def outputs(changed):
        found = light.held(changed, power_W)
        made = governing.turbine_set(changed)
        flow = made.flow_for_lamps_m3_s(power_W)
        said = {"held": found.held_s if found else light.usable_m3(changed) / flow,
                "light": made.steady(1.0, governing.lowest_head_m(changed))[3]}
        return said if night_J is None else {**said, "night": night_J(changed)}

    base = outputs(values)
    by_figure = {}
    for name in concerned(doubts, LIGHT):
        # Near the most that the lowest head gives, less costs more than more gains.
        both = [{key: _relative(found[key], base[key]) / step for key in base} for found, step in (
            first_within(values, name, way * doubts[name], outputs) for way in (1.0, -1.0))]
        by_figure[name] = {key: max((one[key] for one in both), key=abs) for key in base}
    return _summed(by_figure, dict.fromkeys(base, MODEL_LIGHT_FRAC))


def together(one: Spread, other: Spread, key: str) -> Spread:
    """Return the spread of an output that two have a part in, and each figure's part."""
    # A figure of both, such as a height, keeps the greater of its two parts.
    figures = {name: max((side.by_figure[name][key] for side in (one, other)
                          if name in side.by_figure), key=abs)
               for name in {**one.by_figure, **other.by_figure}}
    return Spread({key: math.hypot(one.frac[key], other.frac[key])},
                  {name: {key: change} for name, change in figures.items()})


def _relative(value, base):
    return value / base - 1.0 if base else np.inf if value else 0.0


def _summed(by_figure, own):
    return Spread({key: math.sqrt(part ** 2 + sum(one[key] ** 2 for one in by_figure.values()))
                   for key, part in own.items()}, by_figure)


def matters(spread: Spread, key: str, most: int) -> list[tuple[str, float]]:
    """Return the figures that matter most for an output: (figure, change by one u), largest first.
    """
    found = [(name, parts[key]) for name, parts in spread.by_figure.items()
             if np.isfinite(parts[key])]
    return sorted(found, key=lambda one: -abs(one[1]))[:most]
