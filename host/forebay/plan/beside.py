"""Rigs beside each other: two that are compared, or one with a figure swept over a range."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from forebay import units
from forebay.errors import InputError
from forebay.plan import chain, lifting, light
from forebay.plan.answers import Column, Part, Table
from forebay.plan.limits import Nights, nightly_J
from forebay.plan.planning import nights_of
from forebay.rig import Rig, governing, schema

SWEPT = 7             # points of a sweep
_SWEEP = re.compile(r"\s*(?P<key>[a-z_]+\.[a-z_]+)\s*=\s*(?P<low>.+?)\s*\.\.\s*(?P<high>.+?)\s*")
# What the days of sun hang on, beside the whole of [site].
OF_SUN = ("panel.tilt_deg", "panel.azimuth_deg")
# What is looked at: key, name, dimension.
OUTCOMES = (
    ("night_J", "light of a mean night", "energy"),
    ("held_s", "light lasts, from a full tank", "time"),
    ("empty_W", "most light, tank nearly empty", "power"),
    ("stored_J", "energy stored", "energy"),
    ("lifted_m3", "lifted on a mean day", "volume"),
    ("full_frac", "days that lift all that goes", "ratio"),
)


def outcomes(values: Mapping[str, Any], nights: Nights, power_W: float) -> dict[str, Any]:
    """Return what a rig comes to on some days, by key of OUTCOMES [SI]; None = not at all.

    Raises ValueError if the rig is beyond the physics.
    """
    takes = light.takes_m3(values)
    if light.usable_m3(values) <= 0.0:
        raise ValueError("no water between the floats of the upper tank")
    lifted = lifting.march(values, [lifting.rough(values)], nights.sun, True).lifted_m3[0]
    found = light.held(values, power_W)

    def mean(what):
        return float(np.average(what, weights=nights.weight))

    return {
        "night_J": mean(nightly_J(values, lifted, nights.night_s, power_W)),
        "held_s": found.held_s if found else None,
        "empty_W": light.brightest_W(values, governing.lowest_head_m(values)),
        "stored_J": chain.store_J(values),
        "lifted_m3": mean(np.minimum(lifted, takes)),
        "full_frac": mean(lifted >= takes),
    }


def compared(one: Rig, other: Rig, source: str | None, clearness: float,
             station: str | None) -> tuple[Part, Sequence[str]]:
    """Return (two rigs beside each other, each at its own setpoint, what that rests on)."""
    both, told, lights = [], [], []
    for rig in (one, other):
        lights.append(f"{light.setpoint_W(rig.plant()):.3g} W")
        nights, _, notes = nights_of(rig, source, clearness, station)
        both.append(outcomes(rig.plant(), nights, light.setpoint_W(rig.plant())))
        told += notes
    rows = []
    for key, name, dimension in OUTCOMES:
        first, second = (found[key] for found in both)
        change = None if not first or second is None else second / first - 1.0
        rows.append((name, first, second, change, dimension))
    return Part("compared", "Beside each other", (), [
        Table("outcomes", f"{one.rig.name} (1) and {other.rig.name} (2)", (
            Column("outcome", "", "text"), Column("first", "1", "as said"),
            Column("second", "2", "as said"), Column("change_frac", "change", "ratio"),
            Column("dimension", "", "hidden")), rows,
            f"each at its own light of the night: {' and '.join(lights)}"),
        _differences(one, other)]), list(dict.fromkeys(told))


def _differences(one: Rig, other: Rig) -> Table:
    first, second = one.plant(), other.plant()
    rows = []
    for place, key in schema.KEYS.items():
        name = schema.PLACE_OF[place]
        if name != "rig.name" and first.get(name) != second.get(name):
            rows.append((place, *(_said(found.get(name), key) for found in (first, second))))
    return Table("differences", "Figures that differ", (
        Column("key", "key", "text"), Column("first", "1", "text"),
        Column("second", "2", "text")), rows)


def _said(value, key):
    if value is None:
        return "-"
    if isinstance(value, list):
        return ", ".join(_said(one, key) for one in value)
    return units.show(value, key.kind) if key.is_quantity else str(value)


def swept(rig: Rig, text: str, source: str | None, clearness: float,
          station: str | None) -> tuple[Part, Sequence[str]]:
    """Return (what a rig comes to as one figure goes over a range, what that rests on).

    text: such as "turbine.nozzle_diameter=1.5 mm..3 mm".  Raises InputError.
    """
    place, low, high = _range(text)
    key, values, name = schema.KEYS[place], rig.plant(), schema.PLACE_OF[place]
    if name not in values:
        raise InputError(f"--sweep {place}: this rig does not state it; state it, or take a key"
                         " that it states")
    nights, _, told = nights_of(rig, source, clearness, station)
    rows: list[Sequence[Any]] = []
    for value in map(float, np.linspace(low, high, SWEPT)):
        other = {**values, name: value}
        try:
            if name in OF_SUN or name.startswith("site."):
                nights, _, _ = nights_of(Rig(other, rig.toml_text, rig.source_name), source,
                                      clearness, station)
            found = outcomes(other, nights, light.setpoint_W(other))
        except ValueError:   # beyond the physics, as the row then says
            found = dict.fromkeys([key for key, _, _ in OUTCOMES])
        rows.append((value, *found.values()))
    lit = "" if name == "night.setpoint_W" else f", at light of {light.setpoint_W(values):.3g} W"
    return Part("swept", f"{place} from end to end", (), [Table(
        "sweep", f"What it comes to{lit}", (
            Column("value", key.name.replace("_", " "), key.kind if key.is_quantity else ""),
            *(Column(key, name, dimension) for key, name, dimension in OUTCOMES)), rows,
        "all else as it is, whether a description may say so or not; - = it cannot be")]), told


def _range(text):
    match = _SWEEP.fullmatch(text)
    example = '"turbine.nozzle_diameter=1.5 mm..3 mm"'
    if not match:
        raise InputError(f"--sweep {text!r}: must be section.key=from..to, such as {example}")
    key = schema.KEYS.get(match["key"])
    if key is None or key.counts or not (key.is_quantity or key.kind == "number"):
        raise InputError(f"--sweep {match['key']}: no key of a rig with a figure to sweep; see"
                         f" host/docs/rig.md, and write it such as {example}")
    try:
        low, high = ((units.parse(match[end], key.kind) if key.is_quantity else float(match[end]))
                     for end in ("low", "high"))
    except units.UnitError as error:
        raise InputError(f"--sweep {text!r}: {error.reason}; must be {key.allowed}") from None
    except ValueError:
        raise InputError(f"--sweep {text!r}: not a number; must be {key.allowed}") from None
    least, most = key.bounds
    if not (least <= low < high <= most):
        raise InputError(f"--sweep {text!r}: must rise, within {key.allowed}")
    return match["key"], low, high
