"""By which description a rig's records are read: one way for all commands.

- A description holds from the time at which the board was flashed by it until the next one: a
  change at the rig, or a calibration, makes no figure of an earlier day another one.
- A time in which another was flashed cannot be read by both: the one that stood for most of what
  is held of it reads it, and it is said.
- A rehearsal has no time of its own: what it played is read by the description it was played by.
- A description that a person names reads all.
"""

from datetime import UTC, tzinfo
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

import numpy as np

from forebay.rig import Rig, load, load_text
from forebay.shelf import Rehearsed, Shelf, ShelfError
from forebay.shelf.clock import DS_PER_S
from forebay.shelf.local import iso_local
from forebay.shelf.store import Version
from forebay.shelf.told import EVERY_LIFE

SHELF_NAME = "the shelf's rig.toml"  # for errors
STANDS_IN = "The shelf keeps no description of this rig: the demo's stands in (see --rig)."
# A flash, the pull before it and the first minutes behind it: so much of another description
# makes no time a mixed one.  A guess.
FLASH_S = 600.0
ALWAYS = (float("-inf"), float("inf"))


class Then(NamedTuple):
    """The description that reads a time.

    came_s: when it came to the shelf, by a flash [s since 1970 UTC], None = it was named, or
    none is kept; others_s: when the others came that stood in that time too; newest_s: when
    the newest came; is_guess: what was rehearsed does not tell by which it was played.
    """

    rig: Rig
    came_s: float | None = None
    others_s: tuple[float, ...] = ()
    newest_s: float | None = None
    is_guess: bool = False

    def said(self, zone: tzinfo = UTC) -> list[str]:
        """Return what a person must know of it in a sentence, nothing if there is no other."""
        if self.is_guess:
            return ["What is rehearsed here does not tell which description it was played by: read"
                    f" by the newest, of {told(self.newest_s, zone)} (--rig names another)."]
        if self.others_s:
            others = " and ".join(told(one, zone) for one in self.others_s)
            return [f"Read by the description of {told(self.came_s, zone)}, which stood for most"
                    f" of this time; in part of it that of {others} did."]
        if self.came_s != self.newest_s:
            return [f"Read by the description of {told(self.came_s, zone)}, with which it was"
                    f" recorded; the newest is of {told(self.newest_s, zone)} (--rig names"
                    " another)."]
        return []


def told(came_s: float | None, zone: tzinfo) -> str:
    """Return when a description came, as a person reads it."""
    return iso_local(came_s, zone, "%Y-%m-%d %H:%M")


class Descriptions:
    """The descriptions of one rig of a shelf.

    rig_id: which; newest: for what is of no time, as its name and the zone; notes: on what was
    assumed.
    """

    def __init__(self, rig_id: int, newest: Rig, notes: tuple[str, ...] = (),
                 shelf: Shelf | None = None, versions: list[Version] | None = None):
        """Take the one that reads all, or those of a shelf, in the order in which they came."""
        self.rig_id, self.newest, self.notes = rig_id, newest, list(notes)
        self._shelf, self._versions = shelf, versions or []
        self._rigs = {one.digest: newest for one in self._versions[-1:]}

    @property
    def known(self) -> Rig | None:
        """The newest, None where the demo's stands in: its site is no one's."""
        return None if self.notes else self.newest

    def of(self, period: tuple[float, float] | None) -> Then:
        """Return the one that reads a period (begin, end) [s since 1970 UTC], None = all."""
        if not self._versions:
            return Then(self.newest)
        newest = len(self._versions) - 1
        stood_s = self._stood_s(period) if newest else np.zeros(1)
        # Of two that stood as long, and where nothing is held, the newer one.
        place = newest - int(np.argmax(stood_s[::-1]))
        others = [one for one in np.flatnonzero(stood_s > FLASH_S).tolist() if one != place]
        return Then(self._rig(place), self._versions[place].came_s,
                    tuple(self._versions[one].came_s for one in others),
                    self._versions[newest].came_s, bool(newest) and self._is_guessed(period))

    def rig_of(self, period: tuple[float, float] | None) -> Rig:
        """Return the description alone that reads a period."""
        return self.of(period).rig

    def all(self) -> list[Rig]:
        """Return all of them, in the order in which they came."""
        return [self._rig(place) for place in range(len(self._versions))] or [self.newest]

    def said_of_parts(self, period: tuple[float, float] | None, zone: tzinfo) -> list[str]:
        """Return by which descriptions the parts of a period are read, each by that of then."""
        stood_s = self._stood_s(period) if len(self._versions) > 1 else np.zeros(1)
        there = [told(self._versions[one].came_s, zone)
                 for one in np.flatnonzero(stood_s > FLASH_S).tolist()]
        if len(there) < 2:
            return self.of(period).said(zone)
        return [f"Each is read by the description of then: of {', '.join(there[:-1])} and"
                f" {there[-1]} (--rig names one for all)."]

    def _stood_s(self, period):
        """Return how long each stood in what is held of a period [s]."""
        begin_s, end_s = period or ALWAYS
        stood_s = np.zeros(len(self._versions))
        places, begins_s, ends_s, _ = self._pieces
        np.add.at(stood_s, places, np.maximum(
            np.minimum(ends_s, end_s) - np.maximum(begins_s, begin_s), 0.0))
        return stood_s

    def _is_guessed(self, period):
        begin_s, end_s = period or ALWAYS
        _, begins_s, ends_s, are_guessed = self._pieces
        return bool((are_guessed & (ends_s > begin_s) & (begins_s < end_s)).any())

    @cached_property
    def _pieces(self):
        """What is held, by description: (place, begin, end [s since 1970 UTC], is guessed)."""
        assert self._shelf is not None
        clock = self._shelf.clock(self.rig_id)
        lasts = clock.lasts()
        life, boot = np.array(list(lasts)).reshape(-1, 2).T.astype(int)
        begins_s = clock.utc(life, boot, np.zeros(len(life)))
        ends_s = clock.utc(life, boot, np.array(list(lasts.values())) * DS_PER_S)
        marks = self._shelf.rehearsed_lives(self.rig_id)
        found = []
        for number, *known in zip(life.tolist(), begins_s.tolist(), ends_s.tolist(), strict=True):
            if not np.isfinite(known).all():
                continue
            mark = marks.get(number, marks.get(EVERY_LIFE))
            found += self._flashed(*known) if mark is None else [self._played(mark, *known)]
        table = np.array(found, float).reshape(-1, 4).T
        return table[0].astype(int), table[1], table[2], table[3] > 0

    def _flashed(self, begin_s, end_s):
        """Return the pieces of a start of a real board, cut at the flashes."""
        edges = [ALWAYS[0], *[one.came_s for one in self._versions[1:]], ALWAYS[1]]
        return [(place, max(begin_s, low), min(end_s, high), False)
                for place, (low, high) in enumerate(zip(edges, edges[1:], strict=False))
                if max(begin_s, low) < min(end_s, high)]

    def _played(self, mark: Rehearsed, begin_s, end_s):
        """Return the piece of a start that was rehearsed."""
        digests = [one.digest for one in self._versions]
        newest = len(digests) - 1
        if mark.digest not in digests:
            return newest, begin_s, end_s, True
        return newest - digests[::-1].index(mark.digest), begin_s, end_s, False

    def _rig(self, place):
        """Return a description; one that was flashed again is the same."""
        _, text, digest = self._versions[place]
        if digest not in self._rigs:
            self._rigs[digest] = load_text(text, SHELF_NAME, is_kept=True)
        return self._rigs[digest]


def described(shelf: Shelf, path: Path | str | None = None) -> Descriptions:
    """Return the descriptions of a rig of a shelf.

    path: a description, which then reads all; None = those that the shelf keeps of its only
    rig, or else the demo's.  Raises ShelfError if the shelf lacks that rig,
    and what `forebay.rig.load` raises.
    """
    if path is not None:
        rig = load(path)
        return Descriptions(_on_shelf(shelf, rig), rig)
    rig_id = shelf.only_rig()
    versions = shelf.rig_versions(rig_id)
    if not versions:
        return Descriptions(rig_id, load(), (STANDS_IN,))
    return Descriptions(rig_id, load_text(versions[-1].toml, SHELF_NAME, is_kept=True), (), shelf,
                        versions)


def _on_shelf(shelf, rig):
    if rig.rig_id in [held for held, _ in shelf.rigs()]:
        return rig.rig_id
    held = ", ".join(name or str(number) for number, name in shelf.rigs()) or "nothing"
    raise ShelfError(f"the shelf {shelf.path} does not hold {rig.rig.name!r}; it holds {held}")
