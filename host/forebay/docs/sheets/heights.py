"""The page on heights: where floats, inlet, overflow and outlet are mounted, in mm."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from forebay.docs.sheets import text, worst
from forebay.hardware.build import Build
from forebay.rig.instruments import is_fitted
from keeper.physics import of_rig

_mm_PER_m = 1e3
_HEAD = """\
# Heights: {name}

{drawn}

Millimetres above the tank's floor inside, where its outlet is, and above the
turbine's nozzle. A float *acts* where the water stands when its contact changes;
mount it so that it does, try it with water and move it until it is so. It goes
back when the water has moved back by its hysteresis. Work at height: two people,
daylight, a lid on the water.

![Plumbing and instruments](plumbing.svg)
"""


class Mark(NamedTuple):
    """One height of a tank."""

    what: str
    level_m: float
    note: str


def marks(values: Mapping[str, Any], tank: str) -> list[Mark]:
    """Return the heights of a tank, "upper" or "lower", from its floor up."""
    shape = of_rig.tank(values, f"{tank}.")

    def level(key: str) -> float:
        return shape.level_m(values[f"{tank}.{key}_volume_m3"])

    def read(name: str) -> str:
        return "" if is_fitted(values, name) else "not fitted"

    rim = Mark("rim", values[f"{tank}.height_m"], "")
    if tank == "lower":
        found = [Mark("LSL-LO: lower tank empty", level("low"), read("lower_empty_float")),
                 Mark("LSH-LO: lower tank full", level("full"), read("lower_full_float")), rim]
    else:
        over = ("in the pump's lead" if is_fitted(values, "over_full_float")
                else "in the pump's lead; the board does not see it")
        inlet_m = values["upper.inlet_height_m"] - values["upper.base_height_m"]
        found = [Mark("LSL-UP: upper tank empty", level("empty"), read("empty_float")),
                 Mark("LSH-UP: upper tank full", level("full"), read("full_float")),
                 Mark("LSHH-UP: over-full", level("over_full"), over),
                 Mark("overflow's edge", level("overflow"), ""),
                 rim, Mark("end of the rising main, in air", inlet_m, "")]
    return sorted([Mark("floor, outlet", 0.0, ""), *found], key=lambda mark: mark.level_m)


def page(build: Build) -> str:
    """The page."""
    values = build.values
    parts = [_HEAD.format(name=build.name, drawn=text.MADE)]
    for tank in ("upper", "lower"):
        parts += [f"## {tank.capitalize()} tank\n", _tank(values, tank)]
    gap_mm = worst.air_gap_m(values) * _mm_PER_m
    parts.append(text.paragraph(
        f"Between the overflow's edge and the end of the rising main are {gap_mm:.0f} mm of air: "
        "nothing siphons back while the overflow is free. The overflow pipe has a bore of "
        f"{worst.overflow_bore_mm(values, build.parts):g} mm and no valve."))
    parts += [text.paragraph(one) for one in [drowned(values)] if one]
    return "\n".join(parts)


def drowned(values: Mapping[str, Any]) -> str:
    """Return the caution of a rising main that ends below the tank's rim; "" of one above it."""
    below_mm = round((values["upper.base_height_m"] + values["upper.height_m"]
                      - values["upper.inlet_height_m"]) * _mm_PER_m)
    if below_mm <= 0:
        return ""
    return (f"**Caution: the end of the rising main lies {below_mm} mm below the rim.** Its air "
            "gap is over the overflow, not over the rim. Should the overflow clog, or run slower "
            "than the pump, the water rises past the end and drowns it; then, the pump at rest, "
            "it siphons back down to that end. LSHH-UP stops the pump before that, if it works. "
            "Keep the overflow free, look at it with each proof test; or lead the end over the "
            "rim (a higher upper.inlet_height).")


def _tank(values: Mapping[str, Any], tank: str) -> str:
    base_m = values[f"{tank}.base_height_m"]
    rows = [(mark.what, f"{mark.level_m * _mm_PER_m:.0f}",
             f"{(base_m + mark.level_m) * _mm_PER_m:.0f}", mark.note)
            for mark in reversed(marks(values, tank))]
    back_mm = values[f"{tank}.float_hysteresis_m"] * _mm_PER_m
    return (text.table(("what", "above the floor [mm]", "above the nozzle [mm]", "note"), rows)
            + "\n" + text.paragraph(f"Hysteresis of its floats: {back_mm:.0f} mm."))
