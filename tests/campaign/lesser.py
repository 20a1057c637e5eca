"""Rigs with less, by name, and what is asked of them: "" is the full demo's.

Owns the scaling of scenes to another rig's tanks, the permissives that a rig cannot see, and
which hazards its own summary leaves to hardware by name.
"""

import os
from functools import lru_cache

from forebay.rehearse import lesser as catalogue
from keeper import channels as ch
from keeper import settings as st
from keeper.operation import orders
from tests.campaign import expected
from tests.campaign.given import FILE, given

ORCHARD = "orchard"
# Permissives by the readings with any of which the board knows them; else it cannot.
KNOWN_BY = {
    "over-full": (ch.C_71HH_UP,), "lower dry": (ch.C_71L_LO,), "motor hot": (ch.MOTOR_MDEGC,),
    "valve open": (ch.VALVE_PERMILLE,), "freezing": (ch.WATER_MDEGC,),
    "supply low": (ch.SUPPLY_MV,), "stopped": (ch.C_STOP,),
    "upper dry": (ch.C_71L_UP, ch.LEVEL_MM), "lower full": (ch.C_71H_LO,),
}
NEAR_M3 = 0.02


@lru_cache(None)
def told(name):
    """Returns {"rig", "settings", "left": hazard -> what remains} of a rig by its name."""
    if not name:
        return given()
    if os.environ.get(FILE):
        return given()["lesser"][name]
    from tests.campaign import subsets

    return subsets.lesser(name)


def fitted(settings):
    """Returns the bits of what a rig has."""
    return settings[st.index("fitted")]


def blind(settings):
    """Returns the permissives that a rig cannot know."""
    bits = fitted(settings)
    return tuple(name for name, places in KNOWN_BY.items()
                 if not any(bits >> place & 1 for place in places))


def names_of(settings):
    """Returns the faults that a rig can have."""
    return tuple(name for name in expected.NAMES if catalogue.has(name, fitted(settings)))


def scaled(scene, rig, base):
    """Returns the scene of a case for another rig than the full demo's, `base`."""
    upper = rig["upper.full_volume_m3"] / base["upper.full_volume_m3"]
    lower = rig["lower.full_volume_m3"] / base["lower.full_volume_m3"]
    changes = dict(scene.changes)
    for key, share in (("upper.start_volume_m3", upper), ("lower.start_volume_m3", lower)):
        if key in changes:
            changes[key] *= share
    below_m3 = base["upper.full_volume_m3"] - scene.changes.get("upper.start_volume_m3", 0.0)
    if 0.0 < below_m3 < NEAR_M3:   # near the float it is the litres that count
        changes["upper.start_volume_m3"] = rig["upper.full_volume_m3"] - below_m3
    brightest = len(rig["lamps.steps_W"])
    setpoint_mW = round(1e3 * rig["night.setpoint_W"])
    after = tuple((code, min(a, brightest) if code == orders.BRIGHTNESS else
                   setpoint_mW if code == orders.LIGHT else a, b) for code, a, b in scene.after)
    return scene._replace(changes=changes, after=after)
