"""A store of many rigs: folders of rows, events and totals by rig and month, and descriptions.

    STORE/rows/rig=ID/month=YYYY-MM/rows.parquet      and likewise events/, totals/
    STORE/rigs/ID.toml

A month, because a thousand rigs have a million files of a day, and to open one takes as
long as to read a week.  `put` adds a rig of a shelf to it; `Store` reads it.  Knows no
balance.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import tzinfo
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from forebay.errors import InputError
from forebay.export.aside import Aside
from forebay.export.parquet import BY_MONTH
from forebay.export.tables import EVENTS, NO_DAY, ROWS, TOTALS
from forebay.export.write import Exported, Wish, export
from forebay.rig import Rig, load_text
from forebay.shelf import Shelf

KINDS = (ROWS, EVENTS, TOTALS)
RIGS = "rigs"
# A rig's months are several pieces of work, and to read it takes as long as some days.
KEPT_DESCRIPTIONS = 16


class StoreError(InputError):
    """A store that cannot be read, or that lacks what is asked for."""


class Task(NamedTuple):
    """A piece of work: a rig and one of its local months, as YYYY-MM."""

    rig_id: int
    month: str


def put(shelf: Shelf, rig: Rig, rig_id: int, folder: Path, zone: tzinfo, force: bool = False,
        period: tuple[str | None, str | None] = (None, None),
        progress: Callable[[int, int], None] | None = None) -> list[Exported]:
    """Write all that a balance over many rigs needs of one rig; each kind whole or not at all.

    period: local days or times as text, from and before.  Raises InputError as `export` does.
    """
    done = []
    wish = Wish(folder, zone, begin=period[0], end=period[1], force=force, by=BY_MONTH)
    for kind in KINDS:
        done.append(export(shelf, rig_id, replace(
            wish, out=folder / kind, events=kind == EVENTS, totals=kind == TOTALS), progress))
    place = folder / RIGS / f"{rig_id}.toml"
    with Aside(folder / RIGS, True) as aside:
        aside.new(place).write_text(rig.toml_text, encoding="utf-8")
        aside.put_in_place()
    return done


class Store:
    """The store in a folder.  Raises StoreError if it is none."""

    def __init__(self, folder: Path | str):
        self.folder = Path(folder)
        if not (self.folder / ROWS).is_dir():
            raise StoreError(f"{folder} is no store of rigs: it has no folder {ROWS}; make one"
                             " with forebay export --whole --out FOLDER")

    def rigs(self) -> dict[int, list[str]]:
        """Return the local months of each rig, in order."""
        found: dict[int, list[str]] = {}
        for place in (self.folder / ROWS).glob("rig=*/month=*"):
            month = place.name.removeprefix("month=")
            if month == NO_DAY:
                continue   # rows of an unknown time belong to no day
            found.setdefault(int(place.parent.name.removeprefix("rig=")), []).append(month)
        return {rig_id: sorted(found[rig_id]) for rig_id in sorted(found)}

    def description(self, rig_id: int) -> Rig:
        """Return the description of a rig.  Raises StoreError, and what loading raises."""
        place = self.folder / RIGS / f"{rig_id}.toml"
        try:
            return _loaded(place.read_text(encoding="utf-8"), str(place))
        except OSError as error:
            raise StoreError(f"{place}: cannot be read ({error.strerror}); export that rig again"
                             " with --whole") from error

    def tasks(self) -> list[Task]:
        """Return all work in pieces."""
        return [Task(rig_id, month) for rig_id, months in self.rigs().items() for month in months]

    def file(self, kind: str, rig_id: int, month: str) -> Path:
        """Return where a kind of a rig's month lies."""
        return self.folder / kind / f"rig={rig_id}" / f"month={month}" / f"{kind}.parquet"


@lru_cache(maxsize=KEPT_DESCRIPTIONS)
def _loaded(text: str, name: str) -> Rig:
    return load_text(text, name, is_kept=True)
