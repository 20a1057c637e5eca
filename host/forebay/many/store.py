"""A store of many rigs: folders of rows, events and totals by rig and month, and descriptions.

    STORE/rows/rig=ID/month=YYYY-MM/rows.parquet      and likewise events/, totals/
    STORE/rigs/ID/DAY.toml                            reads the days from DAY on, to the next
    STORE/rigs/ID/DAY.mixed                           when the others came that stood in DAY too

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

from forebay.described import Descriptions
from forebay.errors import InputError
from forebay.export.aside import Aside
from forebay.export.parquet import BY_MONTH, MONTH_LENGTH
from forebay.export.tables import EVENTS, NO_DAY, ROWS, TOTALS
from forebay.export.write import Exported, Wish, export
from forebay.rig import Rig, load_text
from forebay.shelf import Shelf
from forebay.shelf.local import day_bounds_s, day_of, maybe_iso

KINDS = (ROWS, EVENTS, TOTALS)
RIGS, TOML, MIXED = "rigs", ".toml", ".mixed"
# A rig's months are several pieces of work, and to read it takes as long as some days.
KEPT_DESCRIPTIONS = 16


class StoreError(InputError):
    """A store that cannot be read, or that lacks what is asked for."""


class Task(NamedTuple):
    """A piece of work: a rig and one of its local months, as YYYY-MM."""

    rig_id: int
    month: str


def put(shelf: Shelf, rigs: Descriptions, folder: Path, zone: tzinfo, force: bool = False,
        period: tuple[str | None, str | None] = (None, None),
        progress: Callable[[int, int], None] | None = None) -> list[Exported]:
    """Write all that a balance over many rigs needs of one rig; each kind whole or not at all.

    period: local days or times as text, from and before.  Raises InputError as `export` does.
    """
    done = []
    wish = Wish(folder, zone, begin=period[0], end=period[1], force=force, by=BY_MONTH)
    for kind in KINDS:
        done.append(export(shelf, rigs.rig_id, replace(
            wish, out=folder / kind, events=kind == EVENTS, totals=kind == TOTALS), progress))
    days = sorted(filter(None, done[0].days))
    if days:
        _describe(folder / RIGS / str(rigs.rig_id), rigs, days, zone)
    return done


def _describe(place, rigs, days, zone):
    """Keep the description that reads each of some days, at the first day that it reads.

    Of a day in which another was flashed, when the others came as well.
    """
    texts: dict[str, str] = {}
    last = None
    for day in days:
        then = rigs.of(day_bounds_s(day_of(day), zone))
        if then.rig.toml_text != last:
            texts[f"{day}{TOML}"] = last = then.rig.toml_text
        if then.others_s:
            texts[f"{day}{MIXED}"] = "".join(f"{maybe_iso(one)}\n" for one in then.others_s)
    with Aside(place, True) as aside:
        for name, text in texts.items():
            aside.new(place / name).write_text(text, encoding="utf-8")
        aside.put_in_place()
    for old in [*place.glob(f"*{TOML}"), *place.glob(f"*{MIXED}")]:
        # Of an earlier export of these days, which knew of no flash or of another.
        if days[0] <= old.stem <= days[-1] and old.name not in texts:
            old.unlink()


class Store:
    """The store in a folder.  Raises StoreError if it is none."""

    def __init__(self, folder: Path | str):
        self.folder = Path(folder)
        self._days: dict[int, list[str]] = {}
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

    def description(self, rig_id: int, day: str) -> Rig:
        """Return the description that reads a local day of a rig, or the begin of a month.

        In front of all it is the first one.
        Raises StoreError, and what loading raises.
        """
        begins = self._described(rig_id)
        begin = max((one for one in begins if one <= day), default=min(begins, default=day))
        place = self.folder / RIGS / str(rig_id) / f"{begin}{TOML}"
        try:
            return _loaded(place.read_text(encoding="utf-8"), str(place))
        except OSError as error:
            raise StoreError(f"{place}: cannot be read ({error.strerror}); export that rig again"
                             " with --whole") from error

    def others_utc(self, rig_id: int, day: str) -> list[str]:
        """Return when the descriptions came that stood in a local day beside its own.

        None did but where another was flashed in that day.  Raises StoreError.
        """
        place = self.folder / RIGS / str(rig_id) / f"{day}{MIXED}"
        try:
            return place.read_text(encoding="utf-8").split()
        except FileNotFoundError:
            return []
        except OSError as error:
            raise StoreError(f"{place}: cannot be read ({error.strerror}); export that rig again"
                             " with --whole") from error

    def check(self, rig_id: int, months: list[str]) -> None:
        """Look whether all descriptions that read some months in order can be read.

        Raises as `description` does.
        """
        self.description(rig_id, months[0])
        for day in self._described(rig_id):
            if months[0] < day[:MONTH_LENGTH] <= months[-1]:
                self.description(rig_id, day)

    def _described(self, rig_id):
        """Return the days from which on each description of a rig reads."""
        if rig_id not in self._days:
            self._days[rig_id] = [one.stem for one in
                                  (self.folder / RIGS / str(rig_id)).glob(f"*{TOML}")]
        return self._days[rig_id]

    def tasks(self) -> list[Task]:
        """Return all work in pieces."""
        return [Task(rig_id, month) for rig_id, months in self.rigs().items() for month in months]

    def file(self, kind: str, rig_id: int, month: str) -> Path:
        """Return where a kind of a rig's month lies."""
        return self.folder / kind / f"rig={rig_id}" / f"month={month}" / f"{kind}.parquet"


@lru_cache(maxsize=KEPT_DESCRIPTIONS)
def _loaded(text: str, name: str) -> Rig:
    return load_text(text, name, is_kept=True)
