"""Where floats and sensors are mounted: each in litres and in millimetres above the floor."""

from collections.abc import Mapping
from typing import Any

from forebay.plan.answers import Column, Part, Table
from forebay.rig import instruments
from keeper.physics import of_rig

HARDWARE = "hardware"
# Tank, tag, what it is, key of its volume, instrument, whether it moves as the water rises.
FLOATS = (
    ("upper", "LSL-UP", "the light ends", "empty_volume", "empty_float", False),
    ("upper", "LSH-UP", "the pump stops", "full_volume", "full_float", True),
    ("upper", "LSHH-UP", "supply breaks", "over_full_volume", "over_full_float", True),
    ("lower", "LSL-LO", "the pump stops", "low_volume", "lower_empty_float",
     False),
    ("lower", "LSH-LO", "the light ends", "full_volume", "lower_full_float",
     True),
)


def _row(values, tank, tag, what, key, instrument, is_rising):
    shape = of_rig.tank(values, tank + ".")
    volume_m3 = values[f"{tank}.{key}_m3"]
    level_m = shape.level_m(volume_m3)
    swing_m = values[f"{tank}.float_hysteresis_m"]
    back_m = max(0.0, level_m - swing_m) if is_rising else min(shape.height_m, level_m + swing_m)
    read = ("fitted" if instruments.is_fitted(values, instrument)
            else HARDWARE if instrument == "over_full_float" else "absent")
    return (tag, what, volume_m3, level_m, shape.volume_m3(back_m), back_m, read)


def part(values: Mapping[str, Any]) -> Part:
    """Return where each float moves, and what else is mounted by height."""
    shape = of_rig.tank(values, "upper.")
    overflow_m = shape.level_m(values["upper.overflow_volume_m3"])
    gap_m = values["upper.inlet_height_m"] - values["upper.base_height_m"] - overflow_m
    rows = [_row(values, *one) for one in FLOATS]
    rows.append(("-", "upper overflow runs", values["upper.overflow_volume_m3"], overflow_m,
                 None, None, HARDWARE))
    says = [
        f"The rising main ends {1e3 * gap_m:.0f} mm above the overflow: an air gap, through which"
        " nothing siphons back. Measure it with the hose in place.",
        "Heights are from the tank's floor on the inside, to the water at which the float moves;"
        " a float on an arm moves a little above or below its hinge: fill, and mark where."]
    if instruments.is_fitted(values, "level"):
        says.append("The level sensor reads from the floor; its zero is set with the tank empty"
                    " to the floor, not to the float.")
    return Part("mounting", "Floats and sensors", (), [Table(
        "floats", "Where each float moves", (
            Column("tag", "tag", "text"), Column("what", "what it does", "text"),
            Column("volume_m3", "at", "volume"),
            Column("level_m", "above the floor", "length", True),
            Column("back_m3", "back at", "volume"), Column("back_m", "which is", "length", True),
            Column("read", "board", "text")), rows,
        "-UP: upper tank, -LO: lower tank; hardware: it acts in the pump's supply, or as a"
            " pipe, without the board")], says)
