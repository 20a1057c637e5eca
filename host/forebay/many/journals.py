"""A day's journal read back from a store: rows, events and totals as the shelf had them.

The export keeps what the board stored to its last step, so that what is read back is the same
integers; its times are the shelf's, and become anchors of the start they belong to.
"""

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from forebay.export.parquet import arrow
from forebay.export.tables import EVENTS, ROWS, TOTALS
from forebay.many.store import Store
from forebay.shelf import Anchor, Clock, Journal, Rows, decode
from forebay.shelf.decode import Findings
from forebay.si import si_name, step, unit_of
from keeper import channels as ch
from keeper.journal.rows import NOT_TRUSTED
from keeper.modes import STATES

DS_PER_S = 10
STATE = "state"
# Columns for a person, that numbers beside them say too.
WORDS = frozenset(("bound_s", "event", "argument_name", "argument2_name", "absent"))
ANCHOR_U_S = 0.05        # of a time that a store tells: its thousandths, and the clock's drift
STATE_OF = {row[0]: number for number, row in enumerate(STATES)}
_CHANNELS = [(si_name(row[ch.CH_NAME]), step(place) * unit_of(row[ch.CH_NAME]).factor)
             for place, row in enumerate(ch.CHANNELS)]


def day_journal(store: Store, rig_id: int, day: str) -> tuple[Journal, Clock]:
    """Return a local day's journal of a rig, and its clock.  Raises ExportError, StoreError."""
    rows, events, totals = (_read(store.file(kind, rig_id, day))
                            for kind in (ROWS, EVENTS, TOTALS))
    empty = _empty()
    journal = Journal(_rows(rows) if rows else Rows.empty(0), _events(events, empty),
                      _totals(totals, empty), empty.summaries, Findings())
    return journal, Clock(_anchors([one for one in (rows, events, totals) if one]))


@cache
def _empty():
    """Return a journal of nothing, for the types of its records."""
    return decode([])


def _read(path: Path) -> dict[str, np.ndarray]:
    """Return the columns of a file as arrays, none if it is not there."""
    if not path.exists():
        return {}
    # The folders' names are no columns of the file.  Threads cost more than they save in a day.
    file = arrow()[1].ParquetFile(path)
    names = [name for name in file.schema_arrow.names if name not in WORDS]
    table = file.read(columns=names, use_threads=False)
    return {name: _column(name, table.column(name)) for name in names}


def _column(name, column):
    """Return a column as an array: states as numbers, of a contact whether it is closed."""
    if name == STATE:
        return _states(column)
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
    """Return the first and the last time of each start of the board as anchors."""
    ends: dict[tuple[int, int], list[tuple[float, float]]] = {}
    for columns in tables:
        utc_s = columns["utc"].astype("datetime64[ms]").astype(np.int64) / 1000.0
        known = ~np.isnat(columns["utc"].astype("datetime64[ms]"))
        key = np.stack([columns["life"], columns["boot"]])[:, known]
        at = np.stack([_whole(columns["uptime_s"] * DS_PER_S)[known], utc_s[known]])
        for start in np.unique(key, axis=1).T:
            mine = at[:, (key == start[:, None]).all(axis=0)]
            order = np.argsort(mine[0])
            ends.setdefault((int(start[0]), int(start[1])), []).extend(
                [tuple(mine[:, order[0]]), tuple(mine[:, order[-1]])])
    return [Anchor(life, boot, int(uptime_ds), float(utc_s), ANCHOR_U_S)
            for (life, boot), found in sorted(ends.items())
            for uptime_ds, utc_s in sorted({min(found), max(found)})]
