"""Which settings are tried: keys of the description changed, and the settings that follow.

A replay reads what the rig as it stands has recorded: only what its owner chooses can be tried
on it, limits, delays, wishes, not another pipe or pump.
"""

import difflib
import tomllib
from typing import Any, NamedTuple

from forebay.errors import InputError
from forebay.rig import Rig
from forebay.rig.loading import RigError, values_of
from forebay.rig.recipes import is_figure
from forebay.rig.schema import KEYS, PLACE_OF
from keeper import settings as st

SHOWN_FIGURES = 4


class ReplayError(InputError):
    """A span that cannot be replayed, or settings that cannot be tried on it."""


class Change(NamedTuple):
    """A setting of the board that is tried: its name, as it was, as it is tried."""

    name: str
    was: int
    tried: int


def with_set(rig: Rig, pairs: tuple[str, ...]) -> Rig:
    """Return a rig with some keys set: each pair is KEY=VALUE as rig.toml has them.

    Raises ReplayError, RigError.
    """
    if not pairs:
        return rig
    source = tomllib.loads(rig.toml_text)
    before = set(values_of(source)[1])     # a kept description may not please today's checks
    for pair in pairs:
        key, sign, text = pair.partition("=")
        key = key.strip()
        if not sign or key not in KEYS:
            near = difflib.get_close_matches(key, list(KEYS), 1)
            hint = f"; did you mean {near[0]}?" if near and sign else ""
            raise ReplayError(f"--set {pair}: must be KEY=VALUE with a key of rig.toml, such as"
                              f' motor.trip_temperature="50 degC"{hint}')
        section, name = key.split(".", 1)
        source.setdefault(section, {})[name] = _value(text.strip())
    values, faults = values_of(source)
    new = [fault for fault in faults if fault not in before]
    if new:
        raise RigError([f"--set: {fault}" for fault in new])
    return Rig(values, rig.toml_text, rig.source_name)


def _value(text: str) -> Any:
    """Return a value as TOML reads it; what is no TOML is text, so that no quotes are needed."""
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (tomllib.TOMLDecodeError, KeyError, RecursionError):
        return text


def changes(rig: Rig, tried: Rig) -> list[Change]:
    """Return the settings that are tried.  Raises ReplayError for what is not a setting's."""
    figures = [key for key in KEYS if is_figure(key)
               and rig.plant().get(PLACE_OF[key]) != tried.plant().get(PLACE_OF[key])]
    if figures:
        more = ", ..." if len(figures) > SHOWN_FIGURES else ""
        raise ReplayError(f"{', '.join(figures[:SHOWN_FIGURES])}{more}: a figure of the rig"
                          " itself, and the record is of the rig as it was; a replay tries limits,"
                          " delays and wishes; for another rig use rehearse without --replay")
    found = [Change(row[0], was, new) for row, was, new in zip(
        st.SETTINGS, rig.settings(), tried.settings(), strict=True) if was != new]
    if any(one.name == "fitted" for one in found):
        raise ReplayError("the settings tried fit other instruments than the record has: keep"
                          " [sensors] as it was")
    return [one for one in found if one.name != "rig_id"]
