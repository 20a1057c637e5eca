"""Which settings are tried: keys of the description changed, and the settings that follow.

A replay reads what the rig as it stands has recorded: only what its owner chooses can be tried
on it, limits, delays, wishes, not another pipe or pump.
"""

import difflib
import tomllib
from typing import Any, NamedTuple

from forebay.errors import InputError
from forebay.rig import Rig
from forebay.rig.compiling import SOURCES
from forebay.rig.loading import RigError, values_of
from forebay.rig.recipes import is_figure
from forebay.rig.schema import KEYS, NAME_OF, PLACE_OF
from forebay.showing import shown
from forebay.si import UNITS
from forebay.words.rig import SETTINGS
from keeper import settings as st

SHOWN_FIGURES = 4
SHOWN_DIGITS = 5


class ReplayError(InputError):
    """A span that cannot be replayed, or settings that cannot be tried on it."""


class KeyChange(NamedTuple):
    """A key of the description that is tried: its values [unit], None where it is absent."""

    key: str
    unit: str
    was: Any
    tried: Any

    @property
    def words(self) -> str:
        """The change as people write it."""
        return f"{self.key}: {self._shown(self.was)} -> {self._shown(self.tried)}"

    def _shown(self, value):
        if value is None:
            return "absent"
        if isinstance(value, list):
            return ", ".join(self._shown(one) for one in value) or "none"
        kind = KEYS[self.key]
        return shown(value, kind.kind, digits=SHOWN_DIGITS) if kind.is_quantity else str(value)


class Change(NamedTuple):
    """A setting of the board that is tried: its name, as it was, as it is tried."""

    name: str
    was: int
    tried: int

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys or sections of the description that it comes from."""
        return tuple(NAME_OF.get(place, place) for place in SOURCES[self.name].keys)

    @property
    def words(self) -> str:
        """What the board has it for, as it was and as it is tried, in SI or as it is counted."""
        end = next((one for one in UNITS if self.name.endswith(one)), None)
        if end is None:
            return f"{SETTINGS[self.name]}: {self.was} -> {self.tried}"
        unit = UNITS[end]
        was, tried = (f"{one * unit.factor:.6g}" for one in (self.was, self.tried))
        return f"{SETTINGS[self.name]}: {was} -> {tried} {unit.text}".removesuffix(" -")


def keys_changed(rig: Rig, tried: Rig) -> list[KeyChange]:
    """Return the keys of the description that differ, in its order."""
    was, new = rig.plant(), tried.plant()
    return [KeyChange(key, one.unit, was.get(PLACE_OF[key]), new.get(PLACE_OF[key]))
            for key, one in KEYS.items() if was.get(PLACE_OF[key]) != new.get(PLACE_OF[key])]


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
