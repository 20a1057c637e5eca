"""The shelf: what was pulled, verbatim, in one SQLite file.

Owns the tables and nothing else: segments byte for byte as the board has
them, anchors of time, versions of the rig's description.  Every call that
writes is one transaction, so that an interrupted pull leaves a usable shelf.
"""

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import platformdirs

from forebay.errors import InputError
from forebay.shelf.clock import Anchor, Clock, ends_of
from forebay.shelf.decode import Journal, decode

APPLICATION_ID = 0x66627368  # "fbsh"
SCHEMA_VERSION = 1
SCHEMA = """
CREATE TABLE rigs (
    rig_id INTEGER PRIMARY KEY,
    name TEXT NOT NULL DEFAULT '',
    first_seen_utc TEXT NOT NULL
);
CREATE TABLE segments (
    rig_id INTEGER NOT NULL REFERENCES rigs,
    life INTEGER NOT NULL,
    stream INTEGER NOT NULL,
    number INTEGER NOT NULL,
    data BLOB NOT NULL,
    size INTEGER NOT NULL,
    first_seen_utc TEXT NOT NULL,
    PRIMARY KEY (rig_id, life, stream, number)
);
CREATE TABLE anchors (
    rig_id INTEGER NOT NULL REFERENCES rigs,
    life INTEGER NOT NULL,
    boot INTEGER NOT NULL,
    uptime_ds INTEGER NOT NULL,
    utc_s REAL NOT NULL,
    uncertainty_s REAL NOT NULL,
    PRIMARY KEY (rig_id, life, boot, uptime_ds)
);
CREATE TABLE rig_versions (
    rig_id INTEGER NOT NULL REFERENCES rigs,
    digest TEXT NOT NULL,
    toml TEXT NOT NULL,
    first_seen_utc TEXT NOT NULL,
    PRIMARY KEY (rig_id, digest)
);
"""


class ShelfError(InputError):
    """The shelf cannot be opened, or does not hold what is asked for."""


def default_path() -> Path:
    """Return where the shelf lies if no path is given."""
    return Path(platformdirs.user_data_dir("forebay", appauthor=False)) / "shelf.sqlite"


class Shelf:
    """One shelf; use it in a `with` block.

    Raises ShelfError if the file cannot be opened, is no shelf, or was
    written by a newer forebay; with create=False also if it is not there.
    """

    def __init__(self, path: Path | str | None = None, create: bool = True):
        self.path = Path(path) if path is not None else default_path()
        if not create and not self.path.exists():
            raise ShelfError(
                f"no shelf at {self.path}: pull a board first, or name one with --shelf"
            )
        try:
            if create:
                self.path.parent.mkdir(parents=True, exist_ok=True)
            self._db = sqlite3.connect(self.path)
            self._prepare()
        except (OSError, sqlite3.Error) as error:
            raise ShelfError(f"cannot use {self.path} as the shelf: {error}") from error

    def __enter__(self) -> "Shelf":
        return self

    def __exit__(self, *_):
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    def _prepare(self):
        version = self._db.execute("PRAGMA user_version").fetchone()[0]
        if version == 0 and not self._db.execute("SELECT 1 FROM sqlite_master").fetchone():
            with self._db:
                self._db.executescript(
                    f"BEGIN;{SCHEMA}"
                    f"PRAGMA application_id = {APPLICATION_ID};"
                    f"PRAGMA user_version = {SCHEMA_VERSION};COMMIT;"
                )
        elif self._db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
            raise ShelfError(f"{self.path} is a database, but not a shelf: name another file")
        elif version > SCHEMA_VERSION:
            raise ShelfError(f"{self.path} was written by a newer forebay: update this one")

    # Writing

    def add_rig(self, rig_id: int, name: str = "", toml: str = "", digest: str = "") -> None:
        """Note a rig, its name, and a version of its description if it is new."""
        now = _now()
        with self._db:
            self._db.execute(
                "INSERT INTO rigs VALUES (?, ?, ?) ON CONFLICT (rig_id) DO UPDATE"
                " SET name = excluded.name WHERE excluded.name != ''",
                (rig_id, name, now),
            )
            if digest:
                self._db.execute(
                    "INSERT OR IGNORE INTO rig_versions VALUES (?, ?, ?, ?)",
                    (rig_id, digest, toml, now),
                )

    def put_segment(self, rig_id: int, life: int, stream: int, number: int, data: bytes) -> None:
        """Keep a segment in place of what was held of it."""
        with self._db:
            self._db.execute(
                "INSERT INTO segments VALUES (?, ?, ?, ?, ?, ?, ?)"
                " ON CONFLICT DO UPDATE SET data = excluded.data, size = excluded.size",
                (rig_id, life, stream, number, bytes(data), len(data), _now()),
            )

    def add_anchor(self, rig_id: int, anchor: Anchor) -> None:
        """Keep an anchor; one of the same moment replaces the one that was there."""
        with self._db:
            self._db.execute(
                "INSERT OR REPLACE INTO anchors VALUES (?, ?, ?, ?, ?, ?)", (rig_id, *anchor)
            )

    # Reading

    def rigs(self) -> list[tuple[int, str]]:
        """Return (rig_id, name) of every rig."""
        return self._db.execute("SELECT rig_id, name FROM rigs ORDER BY first_seen_utc").fetchall()

    def only_rig(self) -> int:
        """Return the rig_id of the one rig; ShelfError if there is none, or more than one."""
        rigs = self.rigs()
        if not rigs:
            raise ShelfError(f"the shelf {self.path} is empty: pull a board first")
        if len(rigs) > 1:
            names = ", ".join(name or str(rig_id) for rig_id, name in rigs)
            raise ShelfError(f"the shelf holds {len(rigs)} rigs ({names}): say which with --rig")
        return rigs[0][0]

    def life_of(self, rig_id: int, boot: int, uptime_ds: int) -> int:
        """Return the number [-] of the journal that a board is writing now.

        Boot number [-] and uptime [0.1 s] only ever grow in the life of a
        journal.  One that fell back was made anew: a formatted filesystem.
        """
        last = self._db.execute(
            "SELECT life, boot, uptime_ds FROM anchors WHERE rig_id = ?"
            " ORDER BY life DESC, boot DESC, uptime_ds DESC LIMIT 1",
            (rig_id,),
        ).fetchone()
        if last is None:
            return 0
        return last[0] + ((boot, uptime_ds) < last[1:])

    def sizes(self, rig_id: int, life: int) -> dict[tuple[int, int], int]:
        """Return the bytes held of each (stream, number) of one journal."""
        found = self._db.execute(
            "SELECT stream, number, size FROM segments WHERE rig_id = ? AND life = ?",
            (rig_id, life),
        )
        return {(stream, number): size for stream, number, size in found}

    def segment(self, rig_id: int, life: int, stream: int, number: int) -> bytes:
        """Return the bytes held of a segment, b"" if there are none."""
        found = self._db.execute(
            "SELECT data FROM segments WHERE (rig_id, life, stream, number) = (?, ?, ?, ?)",
            (rig_id, life, stream, number),
        ).fetchone()
        return found[0] if found else b""

    def lives(self, rig_id: int) -> list[int]:
        """Return the numbers [-] of the journals that are held of a rig."""
        found = self._db.execute(
            "SELECT DISTINCT life FROM segments WHERE rig_id = ? ORDER BY life", (rig_id,)
        )
        return [row[0] for row in found]

    def journal(self, rig_id: int) -> Journal:
        """Return all that is held of a rig, decoded."""
        return Journal.joined([self._life(rig_id, life) for life in self.lives(rig_id)])

    def _life(self, rig_id, life):
        found = self._db.execute(
            "SELECT data FROM segments WHERE rig_id = ? AND life = ? ORDER BY stream, number",
            (rig_id, life),
        )
        return decode((row[0] for row in found), life)

    def counts(self, rig_id: int) -> tuple[int, int]:
        """Return how many rows and events [-] are held of a rig."""
        journal = self.journal(rig_id)
        return len(journal.rows), len(journal.events)

    def clock(self, rig_id: int, journal: Journal | None = None) -> Clock:
        """Return what turns a rig's uptimes into UTC.

        journal: the rig's whole journal, for the ends of boots that no anchor
        fixes; None = it is decoded for that.
        """
        journal = self.journal(rig_id) if journal is None else journal
        rows = journal.rows
        tables = [(rows.life, rows.boot, rows.uptime_ds)] + [
            (table["life"], table["boot"], table["uptime_ds"])
            for table in (journal.events, journal.totals, journal.summaries)]
        found = self._db.execute(
            "SELECT life, boot, uptime_ds, utc_s, uncertainty_s FROM anchors WHERE rig_id = ?",
            (rig_id,),
        )
        return Clock([Anchor(*row) for row in found], ends_of(*tables))

    def rig_toml(self, rig_id: int) -> str | None:
        """Return the newest description kept of a rig, None if there is none."""
        found = self._db.execute(
            "SELECT toml FROM rig_versions WHERE rig_id = ? ORDER BY rowid DESC LIMIT 1",
            (rig_id,),
        ).fetchone()
        return found[0] if found else None


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
