"""Rigs with less: the modest demo, and random subsets of the instruments of other rigs.

A subset is drawn within what the loader allows, from its number alone: of the full demo's
rig if that is even, else of a random rig.
"""

import json
import random
import tomllib

from forebay import rig as rigs
from forebay.rig.instruments import ABSENT, FITTED, INSTRUMENTS, SUN
from tests.campaign import given
from tests.campaign.rigs import _text, main_Pa

ORCHARD = "orchard"
TRIES = 400              # many sets are too small
FEWEST, MOST = 0.2, 0.8  # how many of the instruments are there, about


def lesser(name):
    """Returns {"rig", "settings", "left"} of a rig by its name: "orchard", "subset 7"."""
    if name == ORCHARD:
        rig = rigs.load(demo=ORCHARD)
        return given.described(rig)
    number = int(name.split()[1])
    draw = random.Random(name)
    for _ in range(TRIES):
        text = _lessened(draw, number)
        try:
            rig = rigs.load_text(text, name)
        except rigs.RigError:
            continue
        told = given.described(rig)
        # The catalogue's times to act are those of the full demo's machines.
        told["is_timed"] = number % 2 == 0
        if number % 2:
            told["rig"]["stands.main_Pa"] = main_Pa(told["rig"])
        return told
    raise AssertionError(f"no sound rig in {TRIES} tries of {name}")


def _lessened(draw, number):
    """Returns a description as TOML, with some of the instruments left out."""
    source = tomllib.loads(_text(draw, number) if number % 2 else rigs.load().toml_text)
    share = draw.uniform(FEWEST, MOST)
    sensors = source["sensors"]
    for one in INSTRUMENTS:
        sensors[one.name] = FITTED if draw.random() < share else ABSENT
    if all(sensors[name] == ABSENT for name in SUN):
        source["night"]["begins"] = "order"
    # Without one there is nothing to tell it from.
    for name, keys in (("motor", "motor_serial"), ("water", "water_serial")):
        if sensors[f"{name}_temperature"] == ABSENT:
            for half in ("high", "low"):
                source["board"][f"{keys}_{half}"] = None
    return "\n".join(f"[{section}]\n" + "".join(
        f"{key} = {json.dumps(value)}\n" for key, value in keys.items() if value is not None)
        for section, keys in source.items())
