"""The shelf's file: its tables, and opening it without harm to a file that is none.

One SQLite file with a rollback journal, not a write-ahead log: a copy of the
one file is a whole shelf, and it can be read where nothing can be written.
"""

import sqlite3
from pathlib import Path

from forebay.errors import InputError
from forebay.shelf import cells, index

APPLICATION_ID = 0x66627368  # "fbsh"
SCHEMA_VERSION = 6
# How long one pull waits for another's transaction: they last milliseconds.
BUSY_S = 30.0

# The columns `life` and `turn` are a journal's generation and a segment's revision.
# From which board a life is stands in `lives`.
SEGMENTS = """
CREATE TABLE segments (
    rig_id INTEGER NOT NULL REFERENCES rigs,
    life INTEGER NOT NULL,
    stream INTEGER NOT NULL,
    number INTEGER NOT NULL,
    turn INTEGER NOT NULL,
    data BLOB NOT NULL,
    size INTEGER NOT NULL,
    first_seen_utc TEXT NOT NULL,
    first_seq INTEGER,
    last_seq INTEGER,
    first_boot INTEGER,
    first_uptime_ds INTEGER,
    last_boot INTEGER,
    last_uptime_ds INTEGER,
    PRIMARY KEY (rig_id, life, stream, number, turn)
);
"""
# Found again from the segments whenever it is asked for: see `index`.
DERIVED = """
CREATE TABLE held (
    rig_id INTEGER NOT NULL REFERENCES rigs,
    life INTEGER NOT NULL,
    kind INTEGER NOT NULL,
    first INTEGER NOT NULL,
    last INTEGER NOT NULL,
    PRIMARY KEY (rig_id, life, kind, first)
);
CREATE TABLE boots (
    rig_id INTEGER NOT NULL REFERENCES rigs,
    life INTEGER NOT NULL,
    boot INTEGER NOT NULL,
    last_uptime_ds INTEGER NOT NULL,
    PRIMARY KEY (rig_id, life, boot)
);
"""
LISTINGS = """
CREATE TABLE listings (
    rig_id INTEGER NOT NULL REFERENCES rigs,
    life INTEGER NOT NULL,
    utc_s REAL NOT NULL,
    stream INTEGER NOT NULL,
    number INTEGER NOT NULL,
    size INTEGER NOT NULL,
    PRIMARY KEY (rig_id, life, stream, number)
);
"""
# From which board a journal came ("" = not known), and the room that it gives to it.
LIVES = """
CREATE TABLE lives (
    rig_id INTEGER NOT NULL REFERENCES rigs,
    life INTEGER NOT NULL,
    board TEXT NOT NULL,
    budget_B INTEGER,
    PRIMARY KEY (rig_id, life)
);
"""
# What no board writes: a person's notes, and which lives (-1 = all of a rig) are rehearsals.
TOLD = """
CREATE TABLE notes (
    note_id INTEGER PRIMARY KEY,
    rig_id INTEGER NOT NULL REFERENCES rigs,
    utc_s REAL NOT NULL,
    text TEXT NOT NULL,
    written_utc TEXT NOT NULL
);
CREATE TABLE rehearsals (
    rig_id INTEGER NOT NULL REFERENCES rigs,
    of_life INTEGER NOT NULL,
    told TEXT NOT NULL,
    PRIMARY KEY (rig_id, of_life)
);
"""
# What was found at a rig by a task, such as a proof test; see `records`.
RECORDS = """
CREATE TABLE records (
    record_id INTEGER PRIMARY KEY,
    rig_id INTEGER NOT NULL REFERENCES rigs,
    of_kind TEXT NOT NULL,
    utc_s REAL NOT NULL,
    document TEXT NOT NULL
);
"""
# Descriptions by which the rig's boards were flashed, in that order; one may come again.
VERSIONS = """
CREATE TABLE rig_versions (
    version_id INTEGER PRIMARY KEY,
    rig_id INTEGER NOT NULL REFERENCES rigs,
    digest TEXT NOT NULL,
    toml TEXT NOT NULL,
    first_seen_utc TEXT NOT NULL
);
"""
SCHEMA = f"""
CREATE TABLE rigs (
    rig_id INTEGER PRIMARY KEY,
    name TEXT NOT NULL DEFAULT '',
    first_seen_utc TEXT NOT NULL
);
{SEGMENTS}{DERIVED}{LISTINGS}{LIVES}{TOLD}{RECORDS}
CREATE TABLE anchors (
    rig_id INTEGER NOT NULL REFERENCES rigs,
    life INTEGER NOT NULL,
    boot INTEGER NOT NULL,
    uptime_ds INTEGER NOT NULL,
    utc_s REAL NOT NULL,
    uncertainty_s REAL NOT NULL,
    PRIMARY KEY (rig_id, life, boot, uptime_ds)
);
{VERSIONS}"""
FROM_5 = f"""
ALTER TABLE rig_versions RENAME TO rig_versions_5;
{VERSIONS}
INSERT INTO rig_versions (rig_id, digest, toml, first_seen_utc)
    SELECT rig_id, digest, toml, first_seen_utc FROM rig_versions_5 ORDER BY rowid;
DROP TABLE rig_versions_5;
"""
FROM_1 = f"""
ALTER TABLE segments RENAME TO segments_1;
{SEGMENTS}
INSERT INTO segments (rig_id, life, stream, number, turn, data, size, first_seen_utc)
    SELECT rig_id, life, stream, number, 0, data, size, first_seen_utc FROM segments_1;
DROP TABLE segments_1;
{DERIVED}{LISTINGS}{LIVES}{TOLD}{RECORDS}{FROM_5}
"""
FROM_2 = f"""
ALTER TABLE listings RENAME TO listings_2;
{LISTINGS}
INSERT INTO listings SELECT * FROM listings_2;
DROP TABLE listings_2;
{LIVES}{TOLD}{RECORDS}{FROM_5}
"""
FROM_3 = f"{TOLD}{RECORDS}{FROM_5}"
FROM_4 = f"{RECORDS}{FROM_5}"


class ShelfError(InputError):
    """The shelf cannot be opened, or does not hold what is asked for."""


def open_shelf(path: Path, create: bool) -> sqlite3.Connection:
    """Return the open shelf, brought up to the present form of its tables.

    create: make one where there is no file or an empty one; otherwise nothing
    is ever written to a file that is no shelf.  Raises ShelfError.
    """
    try:
        if create:
            path.parent.mkdir(parents=True, exist_ok=True)
        mode = "rwc" if create else "rw"
        db = sqlite3.connect(f"{path.absolute().as_uri()}?mode={mode}", uri=True,
                             timeout=BUSY_S, isolation_level=None)
    except (OSError, sqlite3.Error) as error:
        raise ShelfError(f"cannot use {path} as the shelf: {error}") from error
    try:
        _prepare(db, path, create)
        wrong = cells.maybe_wrong(db)
        if wrong:
            raise ShelfError(f"the shelf {path} is damaged: {wrong}: take a copy of it, or pull"
                             " the board anew onto another shelf")
        return db
    except sqlite3.Error as error:
        db.close()
        raise ShelfError(f"cannot use {path} as the shelf: {error}") from error
    except ShelfError:
        db.close()
        raise


def in_memory() -> sqlite3.Connection:
    """Return an empty shelf that no file holds."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    db.executescript(SCHEMA)
    return db


def _prepare(db, path, create):
    version = _version(db, path)
    if version == 0 and not create:
        raise ShelfError(f"{path} is an empty file, not a shelf: pull a board first")
    if version == SCHEMA_VERSION:
        return
    # Another process may be doing the same: look again when it is done.
    db.execute("BEGIN IMMEDIATE")
    try:
        version = _version(db, path)
        if version < SCHEMA_VERSION:
            for statement in (SCHEMA, FROM_1, FROM_2, FROM_3, FROM_4, FROM_5)[version].split(";"):
                db.execute(statement)
            index.fill(db)
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            db.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
        db.execute("COMMIT")
    except BaseException:
        db.execute("ROLLBACK")
        raise


def _version(db, path):
    """Return the version of the schema, 0 for an empty file; ShelfError for another's file."""
    version = db.execute("PRAGMA user_version").fetchone()[0]
    if version == 0 and not db.execute("SELECT 1 FROM sqlite_master").fetchone():
        return 0
    if db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise ShelfError(f"{path} is a database, but not a shelf: name another file")
    if version > SCHEMA_VERSION:
        raise ShelfError(f"{path} was written by a newer forebay: update this one")
    return version
