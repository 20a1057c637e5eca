"""A month's journal read back from a store: rows, events and totals as the shelf had them.

The export keeps what the board stored to its last step, so that what is read back is the same
integers; its times are the shelf's, and become anchors of the start they belong to.
"""

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from forebay.export.parquet import BY_DAY, arrow
from forebay.export.tables import EVENTS, ROWS, TOTALS
from forebay.many.store import Store
from forebay.shelf import Anchor, Clock, Journal, Rows, decode
from forebay.shelf.decode import Findings
from forebay.si import si_name, step, unit_of
from keeper import channels as ch
from keeper.journal.rows import NOT_TRUSTED
from keeper.modes import STATES

DS_PER_S = 10
MS_PER_S = 1000.0
STATE = "state"
# Columns for a person, that numbers beside them say too.
WORDS = frozenset(("bound_s", "event", "argument_name", "argument2_name", "absent"))
# Of a time that a store tells: its thousandths, and how the clock drifts within a day.
ANCHOR_U_S = 0.05
STATE_OF = {row[0]: number for number, row in enumerate(STATES)}
_CHANNELS = [(si_name(row[ch.CH_NAME]), step(place) * unit_of(row[ch.CH_NAME]).factor)
             for place, row in enumerate(ch.CHANNELS)]


class Month:
    """A rig's local month: its days that hold rows, in order, and its clock.

    Raises ExportError, and what pyarrow raises of a file that it cannot read.
    """

    def __init__(self, store: Store, rig_id: int, month: str):
        """Read it of a store; month: as YYYY-MM."""
        rows, events, totals = (_read(store.file(kind, rig_id, month))
                                for kind in (ROWS, EVENTS, TOTALS))
        empty = _empty()
        self._none = empty.summaries
        self._rows = _rows(rows)
        self._events, self._totals = _events(events, empty), _totals(totals, empty)
        self._of = [_by_day(one) for one in (rows, events, totals)]
        self.days: list[str] = sorted(self._of[0])
        self.clock = Clock(_anchors([one for one in (rows, events, totals) if one]))

    def of(self, day: str) -> Journal:
        """Return the journal of one of its days."""
        rows, events, totals = (of.get(day, slice(0)) for of in self._of)
        return Journal(self._rows.take(rows), self._events[events], self._totals[totals],
                       self._none, Findings())


def _by_day(columns) -> dict[str, Any]:
    """Return which lines are of each day, as a slice where they follow each other."""
    if not columns:
        return {}
    codes, names = columns[BY_DAY]
    order = np.argsort(codes, kind="stable")
    edges = np.searchsorted(codes[order], np.arange(len(names) + 1))
    found = {}
    for name, low, high in zip(names, edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        mine = order[low:high]
        first, last = int(mine[0]), int(mine[-1])
        found[name] = slice(first, last + 1) if last - first == high - low - 1 else mine
    return found


@cache
def _empty():
    """Return a journal of nothing, for the types of its records."""
    return decode([])


def _read(path: Path) -> dict[str, Any]:
    """Return the columns of a file as `_column` has them, none if it is not there."""
    if not path.exists():
        return {}
    # The folders' names are no columns of the file.  Threads cost more than they save in a day.
    file = arrow()[1].ParquetFile(path)
    names = [name for name in file.schema_arrow.names if name not in WORDS]
    table = file.read(columns=names, use_threads=False)
    return {name: _column(name, table.column(name)) for name in names}


def _column(name, column):
    """Return a column as an array: states as numbers, of a contact whether it is closed.

    Of days their places [-] in a list of them, and that list.
    """
    if name == STATE:
        return _states(column)
    if name == BY_DAY:
        coded = column.combine_chunks().dictionary_encode()
        return coded.indices.to_numpy(), coded.dictionary.to_pylist()
    if name in ch.CONTACTS:
        column = column.fill_null(False)
    return column.to_numpy(zero_copy_only=False)


def _whole(values, least=0):
    """Return numbers as whole ones; what is not known is `least`."""
    found = np.asarray(values, float)
    return np.where(np.isfinite(found), np.rint(found), least).astype(np.int64)


def _stored(columns, count):
    """Return the channels as the board stored them: (channels, lines)."""
    found = np.empty((ch.COLUMNS, count), "<i2")
    for place, (name, factor) in enumerate(_CHANNELS):
        values = np.asarray(columns[name], float)
        found[place] = np.where(np.isfinite(values), np.rint(values / factor), NOT_TRUSTED)
    return found


def _contacts(columns, count):
    found = np.zeros(count, np.int64)
    for place, name in enumerate(ch.CONTACTS):
        found |= columns[name].astype(np.int64) << place
    return found


def _states(column):
    """Return the states of a column of their names as numbers."""
    coded = column.combine_chunks().dictionary_encode()
    numbers = np.array([STATE_OF.get(one, 0) for one in coded.dictionary.to_pylist()], np.uint8)
    return numbers[coded.indices.to_numpy()] if len(coded) else np.empty(0, np.uint8)


def _rows(columns) -> Rows:
    if not columns:
        return Rows.empty(0)
    count = len(columns["boot"])
    rows = Rows.empty(count)
    rows.generation[:], rows.seq[:] = columns["life"], columns["seq"]
    rows.boot[:] = columns["boot"]
    rows.uptime_ds[:] = _whole(columns["uptime_s"] * DS_PER_S)
    rows.scans[:] = _whole(columns["interval_s"] * DS_PER_S)
    rows.state[:], rows.contacts[:] = columns[STATE], _contacts(columns, count)
    rows.stored[:] = _stored(columns, count)
    return rows


def _begun(columns, empty) -> Any:
    """Return lines of a record's type with when they are of, and their totals."""
    found: Any = np.zeros(len(columns["boot"]), empty.dtype)
    found["generation"], found["boot"] = columns["life"], columns["boot"]
    found["uptime_ds"] = _whole(columns["uptime_s"] * DS_PER_S)
    for place, name in enumerate(ch.TOTALS):
        total = _whole(columns[f"total_{name}"])
        found["totals"][:, place, 0], found["totals"][:, place, 1] = total % ch.LIMB, (
            total // ch.LIMB)
    return found


def _events(columns, empty: Journal) -> np.ndarray:
    if not columns:
        return empty.events
    found = _begun(columns, empty.events)
    for name in ("seq", "code", "argument", "argument2"):
        found[name] = columns[name]
    found["state"], found["contacts"] = columns[STATE], _contacts(columns, len(found))
    found["stored"] = _stored(columns, len(found)).T
    return found


def _totals(columns, empty: Journal) -> np.ndarray:
    return _begun(columns, empty.totals) if columns else empty.totals


def _anchors(tables: list[dict[str, Any]]) -> list[Anchor]:
    """Return the first and the last time of each start of the board and day as anchors."""
    ends: dict[tuple[int, int, str], list[tuple[int, float]]] = {}
    for columns in tables:
        codes, names = columns[BY_DAY]
        key = np.stack([columns["life"], columns["boot"], codes])
        first = np.append(True, (np.diff(key) != 0).any(axis=0))
        # In a run of one start and day the times rise: its ends are the first and the last.
        places = np.flatnonzero(first | np.append(first[1:], True))
        utc_s = columns["utc"][places].astype("datetime64[ms]").astype(np.int64) / MS_PER_S
        uptime_ds = _whole(columns["uptime_s"][places] * DS_PER_S)
        for life, boot, code, at_ds, at_s in zip(*key[:, places].tolist(), uptime_ds.tolist(),
                                                 utc_s.tolist(), strict=True):
            ends.setdefault((life, boot, names[code]), []).append((at_ds, at_s))
    return [Anchor(life, boot, at_ds, at_s, ANCHOR_U_S)
            for (life, boot, _), found in sorted(ends.items())
            for at_ds, at_s in sorted({min(found), max(found)})]
