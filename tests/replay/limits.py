"""Every limit and delay of the protection table that a key of rig.toml sets, and how far it goes.

Of the tables themselves, nothing by hand: pickup and delay of each element, the setting that it
is, the keys that this comes from; of each key the least and the greatest value that the
description's own checks let pass.
"""

from collections.abc import Iterator
from typing import NamedTuple

from forebay.errors import InputError
from forebay.replay.trying import with_set
from forebay.rig import Rig
from forebay.rig.compiling import SOURCES
from forebay.rig.recipes import is_figure
from forebay.rig.schema import KEYS, NAME_OF, PLACE_OF
from forebay.twin.faults import F_FIRST, FAULTS
from keeper import settings as st
from keeper.protection import elements as el
from keeper.protection.judging import judges

HALVINGS = 5


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


def limits(rig: Rig, ids: tuple[str, ...] = ()) -> Iterator[Limit]:
    """Yields each limit, or those of some elements, at both ends of what its key may be."""
    settings = rig.settings()
    fitted = settings[st.index("fitted")]
    ends: dict[str, list[tuple[str, list[int]]]] = {}
    for index in range(el.ROWS):
        if not judges(index, fitted) or (ids and el.ELEMENTS[index][el.E_ID] not in ids):
            continue
        for place in (el.J_PICKUP, el.J_DELAY_MS):
            at = el.judged(index, place) - el.SETTING
            for key in _keys_of(at):
                if key not in ends:
                    ends[key] = list(_ends(rig, key))
                for pair, tried in ends[key]:
                    if tried[at] != settings[at]:
                        yield Limit(index + 1, st.SETTINGS[at][0], pair, settings[at], tried[at])


def _keys_of(at):
    """Returns the keys that a setting comes from and that are no figures of the rig."""
    if at < 0:
        return []
    keys = [NAME_OF.get(place, place) for place in SOURCES[st.SETTINGS[at][0]].keys]
    return [key for key in keys if key in KEYS and not is_figure(key)
            and KEYS[key].is_quantity and not KEYS[key].counts]


def _ends(rig, key):
    """Yields (KEY=VALUE, the settings then) at the least and the greatest value that may be."""
    now = rig.plant().get(PLACE_OF[key])
    if now is None:
        return
    for bad in KEYS[key].bounds:
        good = now
        for middle in (bad, *[None] * HALVINGS):
            value = (good + bad) / 2 if middle is None else middle
            if _settings(rig, key, value) is None:
                bad = value
                continue
            good = value
            if middle is not None:
                break
        pair = f"{key}={good:.6g}"
        yield pair, with_set(rig, (pair,)).settings()


def _settings(rig, key, value):
    """Returns the board's settings with a key set, None where that may not be."""
    try:
        return with_set(rig, (f"{key}={value:.6g}",)).settings()
    except InputError:
        return None
