"""The store itself: its energy, its weight, what it asks of what carries it.

It lays figures beside what the owner states as allowed, and never says that a support holds.
"""

import math
from collections.abc import Mapping
from typing import Any

from forebay.plan import chain, light, support
from forebay.plan.answers import COVERING, Figure, Part
from keeper.physics import of_rig

# A rechargeable cell of size AA: 2000 mAh at 1.2 V; nameplate of the trade, no source.
CELL_J = 2.0 * 1.2 * 3600.0
COLD_AIR_degC = 0.0     # cold air is heavier: the wind of winter
# Below it a gust may lift the windward feet before anybody is there to hold it; codes ask for
# more, and say how much. Common practice, no source.
SOON_RATIO = 1.5
PA_PER_KN_M2 = 1e3
# The sides of a tank, and the power of each with which its volume goes.
SIDES = (("length_m", 1), ("width_m", 1), ("diameter_m", 2), ("height_m", 1))


def _mass_kg(values, volume_m3):
    density, _, _ = of_rig.water(values)
    empty_kg = values.get("support.tank_mass_kg") or 0.0
    return support.tank_mass_kg(empty_kg, volume_m3, density)


def _wide_kg(values, doubts):
    """Return by how much the full mass may be off [kg], covering: the tank's sides, its weight."""
    density, _, _ = of_rig.water(values)
    water_kg = density * of_rig.tank(values, "upper.").capacity_m3
    parts = [doubts.get("support.tank_mass_kg", 0.0)]
    for side, power in SIDES:
        name = f"upper.{side}"
        if isinstance(values.get(name), float) and name in doubts:
            parts.append(power * doubts[name] / values[name] * water_kg)
    return COVERING * math.hypot(*parts)


def part(values: Mapping[str, Any], doubts: Mapping[str, float]) -> Part:
    """Return what is to be said of the store; doubts: standard uncertainty by figure."""
    shape = of_rig.tank(values, "upper.")
    stored_J = chain.store_J(values)
    full_kg, wide_kg = _mass_kg(values, shape.capacity_m3), _wide_kg(values, doubts)
    is_weighed = values.get("support.tank_mass_kg") is not None
    figures = [
        Figure("usable_m3", "water between the floats", light.usable_m3(values), "volume"),
        Figure("stored_J", "energy in it, above the nozzle", stored_J, "energy"),
        Figure("cells", "as many rechargeable cells of size AA", stored_J / CELL_J, "",
               note="2.4 Wh each"),
        Figure("full_kg", "mass, full to the brim", full_kg, "mass", wide_kg, "" if is_weighed else
               "of the water alone: support.tank_mass is not stated"),
        *_carried(values, full_kg, is_weighed), *_wind(values)]
    warns, says = _judged(values, full_kg, wide_kg)
    says.append("Water is a lasting load in one place, no snow that melts: only a licensed"
                " engineer and the local code can say whether roof, deck or stand carries it."
                " Nobody belongs under it.")
    return Part("store", "Store", figures, (), says, warns)


def _footprint_m2(values):
    """Return (length, width) of the footprint [m], None where it is not stated."""
    sides = (values.get("support.footprint_length_m"), values.get("support.footprint_width_m"))
    return sides if all(sides) else None


def _pressure_Pa(values, full_kg):
    sides = _footprint_m2(values)
    area = values.get("support.contact_area_m2") or (sides and sides[0] * sides[1])
    return support.bearing_pressure_Pa(full_kg, area, of_rig.water(values)[2]) if area else None


def _bearer_N(values, full_kg):
    bearers = values.get("support.bearers")
    return support.load_a_bearer_N(full_kg, bearers, of_rig.water(values)[2]) if bearers else None


def _carried(values, full_kg, is_weighed):
    found = []
    for key, name, value, dimension, allowed in (
            ("pressure_Pa", "load on what carries it, full", _pressure_Pa(values, full_kg),
             "load by area", values.get("support.allowed_load_Pa")),
            ("bearer_N", "load of the bearer that carries most", _bearer_N(values, full_kg),
             "force", values.get("support.allowed_bearer_N"))):
        if value is None:
            continue
        found.append(Figure(key, name, value, dimension, note=(
            "at least: the tank's own mass is not in it, not judged" if not is_weighed
            else "no allowance is stated: not judged" if not allowed
            else f"{value / allowed:.0%} of what you state as allowed")))
    return found


def _wind(values):
    """The wind on the empty tank: what it weighs then is all that holds it."""
    gust, sides = values.get("support.gust_m_s"), _footprint_m2(values)
    mass = values.get("support.tank_mass_kg")
    if gust is None or sides is None or mass is None:
        return []
    is_round = values["upper.shape"] == "upright cylinder"
    width_m = _width_m(values)
    height_m = values["upper.height_m"]
    air = support.air_density_kg_m3(values["site.height_m"], COLD_AIR_degC)
    # A drum has hoops, and what leans on it takes wind as well: never the smooth coefficient.
    force_N = support.wind_force_N(gust, width_m, height_m, "ribbed" if is_round else "box", air)
    arm_m = (values.get("support.stand_height_m") or 0.0) + height_m / 2
    ratio = support.overturning_ratio(mass, min(sides), force_N, arm_m, of_rig.water(values)[2])
    return [
        Figure("wind_N", "wind on the empty tank", force_N, "force",
               note="without what stands beside it and shelters or hurries the wind"),
        Figure("overturning", "its weight holds it against so many times that", ratio, "",
               note="about the footprint's edge, not tied down; without the stand's own wind and"
               " mass, and it may slide before")]


def _width_m(values):
    """Return the widest side of the upper tank [m]; of a table, that of a square as large."""
    if values["upper.shape"] == "upright cylinder":
        return values["upper.diameter_m"]
    if values["upper.shape"] == "rectangular":
        return max(values["upper.length_m"], values["upper.width_m"])
    shape = of_rig.tank(values, "upper.")
    return math.sqrt(shape.capacity_m3 / shape.height_m)


def _judged(values, full_kg, wide_kg):
    """Return (warnings, sentences): what is over what is stated, and what cannot be judged.

    What may be over it by its spread is told as what is.
    """
    warns, says = [], []
    most_kg = full_kg + wide_kg
    is_weighed = values.get("support.tank_mass_kg") is not None
    pressure, allowed = _pressure_Pa(values, most_kg), values.get("support.allowed_load_Pa")
    if pressure is None or allowed is None or not is_weighed:
        says.append("Whether the support carries it is not judged: state tank_mass, footprint and"
                    " allowed_load in [support].")
    elif pressure > allowed:
        warns.append(f"The full tank loads up to {pressure / PA_PER_KN_M2:.3g} kN/m2 by its"
                     f" spread, more than the {allowed / PA_PER_KN_M2:.3g} kN/m2 that are stated"
                     " as allowed.")
    bearer, most = _bearer_N(values, most_kg), values.get("support.allowed_bearer_N")
    if is_weighed and bearer is not None and most is not None and bearer > most:
        warns.append(f"A bearer carries up to {bearer:.0f} N by its spread, more than the"
                     f" {most:.0f} N that are stated as allowed.")
    ratio = {figure.key: figure.value for figure in _wind(values)}.get("overturning")
    if ratio is None:
        says.append("Wind on the empty tank is not worked out: state tank_mass, footprint and gust"
                    " in [support].")
    elif ratio < SOON_RATIO:
        warns.append(f"The gust stated has {1 / ratio:.0%} of the moment that turns the empty tank"
                     " over: tie it down, and ask how.")
    return warns, says
