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
    """Returns {"rig", "settings", "measured" irradiance [W/m2 by the minute], "rating_Pa"}."""
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
    parts = tomllib.loads(PARTS.read_text(encoding="utf-8"))["part"]
    pipe = next(one for one in parts if one["name"] == "penstock and rising main")
    rating = next(one for one in pipe["rating"] if "penstock" in one["what"])
    return {"rig": rig.plant(), "settings": rig.settings(),
            "measured": [float(value) for value in track.poa_w_m2],
            "rating_Pa": rating["rated"] * PASCAL_PER_BAR}
