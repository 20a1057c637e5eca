"""Every limit and delay of the protection table that a key of rig.toml sets, and how far it goes.

Of the tables themselves, nothing by hand: pickup and delay of each element, the setting that it
is, the keys that this comes from; of each key the least and the greatest value that the
description's own checks let pass.
"""

from collections.abc import Iterator
from typing import NamedTuple

from forebay.errors import InputError
from forebay.replay.trying import changes, with_set
from forebay.rig import Rig
from forebay.rig.compiling import SOURCES
from forebay.rig.recipes import is_figure
from forebay.rig.schema import KEYS, NAME_OF, PLACE_OF
from forebay.twin.faults import F_FIRST, FAULTS
from keeper import settings as st
from keeper.protection import elements as el
from keeper.protection.judging import judges

HALVINGS = 12


class Limit(NamedTuple):
    """An element's pickup or delay under a key set: KEY=VALUE, as the board then has it."""

    number: int
    name: str
    pair: str
    was: int
    tried: int

    @property
    def words(self) -> str:
        """The element, its setting, and how it is tried."""
        return (f"{el.ELEMENTS[self.number - 1][el.E_ID]} {self.pair} ({self.name}"
                f" {self.was} -> {self.tried})")


def fault_of(number: int) -> str | None:
    """Returns the fault of the catalogue that an element is the first to show, None if none."""
    own = el.ELEMENTS[number - 1][el.E_ID]
    return next((str(row[0]) for row in FAULTS if row[F_FIRST] == own), None)


def limits(rig: Rig) -> Iterator[Limit]:
    """Yields each limit at both ends of what its key may be."""
    settings = rig.settings()
    fitted = settings[st.index("fitted")]
    for index in range(el.ROWS):
        if not judges(index, fitted):
            continue
        for place in (el.J_PICKUP, el.J_DELAY_MS):
            at = el.judged(index, place) - el.SETTING
            if at < 0:
                continue
            name = st.SETTINGS[at][0]
            for key in _keys_of(name):
                for pair, tried in _ends(rig, key, at):
                    if tried != settings[at]:
                        yield Limit(index + 1, name, pair, settings[at], tried)


def _keys_of(name):
    """Returns the keys that a setting comes from and that are no figures of the rig."""
    keys = [NAME_OF.get(place, place) for place in SOURCES[name].keys]
    return [key for key in keys if key in KEYS and not is_figure(key)
            and KEYS[key].is_quantity and not KEYS[key].counts]


def _ends(rig, key, at):
    """Yields (KEY=VALUE, the setting then) at the least and the greatest value that may be."""
    now = rig.plant().get(PLACE_OF[key])
    if now is None:
        return
    for end in KEYS[key].bounds:
        good, bad = now, end
        if _setting(rig, key, end, at) is not None:
            good = end
        else:
            for _ in range(HALVINGS):
                middle = (good + bad) / 2
                if _setting(rig, key, middle, at) is None:
                    bad = middle
                else:
                    good = middle
        yield f"{key}={good:.6g}", _setting(rig, key, float(f"{good:.6g}"), at)


def _setting(rig, key, value, at):
    """Returns the board's setting with a key set, None where that may not be."""
    try:
        tried = with_set(rig, (f"{key}={value:.6g}",))
        changes(rig, tried)
    except InputError:
        return None
    return tried.settings()[at]
