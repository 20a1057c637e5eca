"""Whether the cells of a shelf are what their columns say.

SQLite keeps whatever it is given in any column.  A file that another program
wrote to, or that was damaged, is told as that, before its values are reckoned
with.
"""

import sqlite3
from typing import NamedTuple

KINDS = {"INTEGER": ("integer",), "TEXT": ("text",), "BLOB": ("blob",),
         "REAL": ("real", "integer")}
U32_MOST = (1 << 32) - 1
# column -> greatest value: numbers of the journal are of 32 bits, the time of an
# anchor ends with 32 bits of seconds, a bound of it is no longer than that.
MOST = {
    "life": U32_MOST, "stream": U32_MOST, "number": U32_MOST, "turn": U32_MOST,
    "size": U32_MOST, "first_seq": U32_MOST, "last_seq": U32_MOST, "first_boot": U32_MOST,
    "first_uptime_ds": U32_MOST, "last_boot": U32_MOST, "last_uptime_ds": U32_MOST,
    "kind": U32_MOST, "first": U32_MOST, "last": U32_MOST, "boot": U32_MOST,
    "uptime_ds": U32_MOST, "utc_s": U32_MOST, "uncertainty_s": U32_MOST,
}


# column -> one that is empty where it is, and only there
TOGETHER = {"first_seq": "last_seq", "first_boot": "first_uptime_ds",
            "first_uptime_ds": "last_boot", "last_boot": "last_uptime_ds"}


class Column(NamedTuple):
    """A column: its name, the SQL that is true of a wrong cell, and what it must be."""

    name: str
    wrong: str
    wanted: str


def maybe_wrong(db: sqlite3.Connection) -> str | None:
    """Return what is wrong with the first wrong cell, in words; None if none is.

    A file that cannot be read is none of this: whoever reads it is told.
    """
    try:
        tables = [row[0] for row in
                  db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        for table in tables:
            found = _wrong_in(db, table)
            if found:
                return found
    except sqlite3.DatabaseError:
        return None
    return None


def _wrong_in(db, table):
    columns = [_column(*row[1:4]) for row in db.execute(f'PRAGMA table_info("{table}")')]
    columns = [column for column in columns if column is not None]
    cases = " ".join(f"WHEN {column.wrong} THEN {place}" for place, column in enumerate(columns))
    if not columns:
        return None
    row = db.execute(f'SELECT rowid, which FROM (SELECT rowid, CASE {cases} END AS which'
                     f' FROM "{table}") WHERE which IS NOT NULL LIMIT 1').fetchone()
    if row is None:
        return None
    column = columns[row[1]]
    return f"table {table}, row {row[0]}: {column.name} must be {column.wanted}"


def _column(name, declared, not_null):
    """Return the check of a column as the file declares it, None if it is not one of ours."""
    kinds = KINDS.get(declared.upper())
    if kinds is None:
        return None
    allowed = kinds if not_null else (*kinds, "null")
    wrong = f"typeof(\"{name}\") NOT IN ({', '.join(map(repr, allowed))})"
    wanted = declared.lower()
    if name in MOST:
        wrong += f' OR "{name}" < 0 OR "{name}" > {MOST[name]}'
        wanted += f" from 0 to {MOST[name]}"
    if name in TOGETHER:
        wrong += f' OR ("{name}" IS NULL) != ("{TOGETHER[name]}" IS NULL)'
        wanted += f" beside {TOGETHER[name]}"
    return Column(name, wrong, wanted)
