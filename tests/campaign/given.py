"""Rigs and the measured day as plain data, for whoever plays the campaign.

A rig is the flat dict "section.key_unit" of its description; what its parts are
laid out for is there too, as "stands.name_unit".

From forebay itself, or, under an interpreter that cannot import it, from the
file that `faster` had written and that the environment names.
"""

import json
import os
from functools import lru_cache
from pathlib import Path

from tests.once import once

FILE = "FOREBAY_CAMPAIGN_GIVEN"
PARTS = Path(__file__).parents[2] / "hardware" / "parts.toml"
PASCAL_PER_BAR = 1e5
# Left to a person whom the days play: who lets go of a stop that the board does not read
# resets the board (`people`), so these are judged all the same.
PLAYED, UNREAD_STOP = ("dark", "idle"), (("local_stop",),)


@lru_cache(None)
def given():
    """Returns {"rig", "settings", "measured" irradiance [W/m2 by the minute]}, the demo's."""
    path = os.environ.get(FILE)
    if path:
        return json.loads(Path(path).read_text(encoding="utf-8"))
    return once("what the campaign is given", from_forebay)


@lru_cache(None)
def drawn(seed):
    """Returns {"rig", "settings"} of the random rig of a seed."""
    if os.environ.get(FILE):
        return given()["drawn"][str(seed)]
    from tests.campaign import rigs

    return rigs.drawn(seed)


def write(path, seeds=(), names=()):
    """Writes what `from_forebay` gives into a file, for an interpreter that cannot ask it."""
    found = once(f"the same for seeds {seeds} and {names}", lambda: from_forebay(seeds, names))
    Path(path).write_text(json.dumps(found), encoding="utf-8")


def from_forebay(seeds=(), names=()):
    """Returns the same from forebay's own rig, sun and list of parts.

    seeds: of random rigs; names: of rigs with less.
    """
    from forebay.rehearse.options import DEMO_SUN
    from forebay.rig import load
    from forebay.sun import load as load_sun
    from tests.campaign import subsets

    rig = load()
    track = load_sun(str(DEMO_SUN), rig.site, tilt_deg=rig.panel.tilt_deg,
                     azimuth_deg=rig.panel.azimuth_deg,
                     air_temperature_degC=rig.site.air_temperature_degC)
    return {**described(rig), "measured": [float(value) for value in track.poa_w_m2],
            "drawn": {str(seed): drawn(seed) for seed in seeds},
            "lesser": {name: subsets.lesser(name) for name in names}}


def described(rig):
    """Returns {"rig", "settings"} of a forebay.rig.Rig."""
    plant = rig.plant()
    return {"rig": {**plant, **_stands(plant, _parts())}, "settings": rig.settings(),
            "left": _left(plant)}


def _left(plant):
    """Returns the hazards that a rig's summary leaves to hardware, or to a person not played."""
    from forebay.rig.instruments import mask
    from forebay.rig.remaining import lefts

    return sorted({row.hazard for row in lefts(mask(plant))
                   if not (row.hazard in PLAYED and row.covers == UNREAD_STOP)})


@lru_cache(None)
def _parts():
    """Returns hardware/parts.toml."""
    import tomllib

    return tomllib.loads(PARTS.read_text(encoding="utf-8"))


def _stands(plant, parts):
    """Returns what the parts of a rig [dict "section.key_unit"] are laid out for.

    By hardware/parts.toml and its sheet of worst cases.
    """
    from forebay.docs.sheets import worst

    figures = worst.figures(plant, parts)
    rated = {(part["name"], one["what"]): one["rated"]
             for part in parts["part"] for one in part.get("rating", ())}
    return {
        "stands.main_Pa": PASCAL_PER_BAR * rated[
            "penstock and rising main", "pressure, rising main shut off"],
        "stands.clamped_V": figures["generator_clamped_V"],
        "stands.clamped_rad_s": worst.runaway(plant, clamped=True).speed,
        "stands.open_V": figures["generator_unclamped_V"],
        "stands.open_rad_s": worst.runaway(plant).speed,
        "stands.supply_V": figures["supply_most_V"],
        "stands.passes_trip_K": parts["assumed"]["passes_trip_K"],
        "stands.thermostat_degC": rated["thermostat of the motor", "highest opening temperature"]}
