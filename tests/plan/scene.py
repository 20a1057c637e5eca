"""Rigs and days that the tests of a plan share, each made once.

A variant is one of the packaged rigs with some keys in other words, as an owner would edit it.
"""

import functools
import json
import math
import tomllib

import numpy as np

from forebay import rig as rigs
from forebay.plan import lifting, planning
from forebay.plan.lifting import Sun
from tests.campaign import rigs as drawn

STEP_S = 300
DRAWN = 12


@functools.cache
def rig_of(name):
    """Returns the rig of a name: a packaged one's, or "drawn 3"."""
    if name in rigs.DEMOS:
        return rigs.load(demo=name)
    return rigs.load_text(drawn.drawn(int(name.split()[1]))["toml"], name)


NAMES = (*rigs.DEMOS, *(f"drawn {seed}" for seed in range(DRAWN)))


def values_of(name):
    return rig_of(name).plant()


@functools.cache
def quick(name):
    """Returns a rig's pump and panel by the few points."""
    return lifting.rough(values_of(name))


@functools.cache
def plan_of(name):
    return planning.plan(rig_of(name))


def text_of(demo, without=(), **changes):
    """Returns a packaged rig's TOML; changes: section__key = value, without: "section.key"."""
    found = {section: dict(keys)
             for section, keys in tomllib.loads(rig_of(demo).toml_text).items()}
    for place, value in changes.items():
        section, key = place.split("__")
        found.setdefault(section, {})[key] = value
    for place in without:
        section, key = place.split(".")
        found[section].pop(key)
    return "\n".join(f"[{section}]\n" + "".join(
        f"{key} = {json.dumps(value)}\n" for key, value in keys.items())
        for section, keys in found.items())


def variant(demo, without=(), **changes):
    """Returns a packaged rig with changes, as `text_of`."""
    return rigs.load_text(text_of(demo, without, **changes), "variant")


def half_sines(tops_W_m2, cell_degC=30.0):
    """Returns days of twelve hours of sun, each a half sine up to its top, cells held."""
    hours = (np.arange(86400 // STEP_S) + 0.5) * STEP_S / 3600
    shape = np.clip(np.sin(math.pi * (hours - 6) / 12), 0.0, None)
    poa = np.asarray(tops_W_m2, float)[:, None] * shape
    return Sun(poa, np.full_like(poa, cell_degC), float(STEP_S))
