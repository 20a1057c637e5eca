"""What one does not know of a rig: a standard uncertainty for each of its figures.

By the table of recipes: of a figure that is only assumed what may be wrong with a typical
part, of every other what its recipe leaves; where [model] of the rig states that, by it.
"""

from collections.abc import Mapping
from typing import Any

from forebay.rig import Rig, recipes
from forebay.rig.recipes.rows import AMOUNT, SHARE, Stated
from forebay.rig.schema import PLACE_OF
from keeper.physics import of_rig

STEP_FRAC = 1e-3  # of a tank's height, over which its plan area is taken


def doubt(rig: Rig) -> dict[str, float]:
    """Return the standard uncertainty of each figure by "section.key_unit" [its plain unit].

    Facts, which are so or not, have none.  Of a table of levels it is that of the last value;
    the others go with it in proportion.
    """
    values = rig.plant()
    found = {}
    for place in recipes.figures(values):
        if recipes.ROWS[place].measured is None:
            continue
        found[PLACE_OF[place]] = of_figure(values, place, place in rig.assumed)
    return found


def of_figure(values: Mapping[str, Any], place: str, is_assumed: bool) -> float:
    """Return the standard uncertainty of one figure [its plain unit], "section.key".

    An assumed figure is never surer than a measured one.
    """
    row = recipes.ROWS[place]
    value = values[PLACE_OF[place]]
    size = abs(value[-1] if isinstance(value, list) else value)
    measured = _amount(values, place.partition(".")[0], size, row.measured)
    if not is_assumed:
        return measured
    return max(measured, _amount(values, "", size, row.assumed))


def _amount(values, section, size, spread) -> float:
    if not isinstance(spread, Stated):
        return spread.amount * size if spread.is_share else spread.amount
    stated = spread.share * values[PLACE_OF[f"model.{spread.key}"]]
    if spread.way == SHARE:
        return stated * size
    return stated if spread.way == AMOUNT else stated * _surface_m2(values, section, size)


def _surface_m2(values, section, volume_m3) -> float:
    """Return the plan area of a tank [m2] where it holds so much."""
    shape = of_rig.tank(values, f"{section}.")
    level_m = shape.level_m(volume_m3)
    step_m = STEP_FRAC * shape.height_m
    low_m, high_m = max(0.0, level_m - step_m), min(shape.height_m, level_m + step_m)
    return (shape.volume_m3(high_m) - shape.volume_m3(low_m)) / (high_m - low_m)
