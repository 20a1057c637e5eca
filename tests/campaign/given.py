"""The demo's rig and measured day as plain data, for whoever plays the campaign.

From forebay itself, or, under an interpreter that cannot import it, from the
file that `faster` had written and that the environment names.
"""

import json
import os
from functools import lru_cache
from pathlib import Path

FILE = "FOREBAY_CAMPAIGN_GIVEN"
PARTS = Path(__file__).parents[2] / "hardware" / "parts.toml"
PASCAL_PER_BAR = 1e5


@lru_cache(None)
def given():
    """Returns {"rig", "settings", "measured" irradiance [W/m2 by the minute], "stands"}.

    stands: what the parts are laid out for, hardware/parts.toml and its sheet of worst cases.
    """
    path = os.environ.get(FILE)
    if path:
        return json.loads(Path(path).read_text(encoding="utf-8"))
    return from_forebay()


def from_forebay():
    """Returns the same from forebay's own rig, sun and list of parts."""
    import tomllib

    from forebay.rehearse.options import DEMO_SUN
    from forebay.rig import load
    from forebay.sun import load as load_sun

    rig = load()
    track = load_sun(str(DEMO_SUN), rig.site, tilt_deg=rig.panel.tilt_deg,
                     azimuth_deg=rig.panel.azimuth_deg,
                     air_temperature_degC=rig.site.air_temperature_degC)
    plant = rig.plant()
    return {"rig": plant, "settings": rig.settings(),
            "measured": [float(value) for value in track.poa_w_m2],
            "stands": _stands(plant, tomllib.loads(PARTS.read_text(encoding="utf-8")))}


def _stands(plant, parts):
    """Returns what the parts of a rig [dict "section.key_unit"] are laid out for."""
    from forebay.docs.sheets import worst

    figures = worst.figures(plant, parts)
    rated = {(part["name"], one["what"]): one["rated"]
             for part in parts["part"] for one in part.get("rating", ())}
    pipes = "penstock and rising main"
    return {
        "penstock_Pa": PASCAL_PER_BAR * rated[
            pipes, "pressure, penstock with a valve that shuts at once"],
        "main_Pa": PASCAL_PER_BAR * rated[pipes, "pressure, rising main shut off"],
        "clamped_V": figures["generator_clamped_V"],
        "clamped_rad_s": worst.runaway(plant, clamped=True).speed,
        "open_V": figures["generator_unclamped_V"],
        "open_rad_s": worst.runaway(plant).speed,
        "supply_V": figures["supply_most_V"],
        "passes_trip_K": parts["assumed"]["passes_trip_K"],
        "thermostat_degC": rated["thermostat of the motor", "highest opening temperature"],
        "motor_degC": figures["motor_limit_degC"]}
