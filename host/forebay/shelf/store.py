"""The shelf: what was pulled, verbatim, in one SQLite file.

Owns what is kept and how it is found: segments byte for byte as the board has
them, anchors of time, versions of the rig's description, the board's list of
files.  What people and rehearsals say beside it is in `told`.  Every call that
writes is one transaction that waits for any other, so that an interrupted pull
leaves a usable shelf and two pulls do not meet.
"""

import os
import sqlite3
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import platformdirs

from forebay.shelf import index
from forebay.shelf.clock import DS_PER_S, Anchor, Clock
from forebay.shelf.decode import Journal, decode
from forebay.shelf.index import Gain
from forebay.shelf.opening import ShelfError, in_memory, open_shelf
from forebay.shelf.records import RecordingShelf
from forebay.shelf.segments import name_of
from forebay.shelf.told import TellingShelf
from keeper.journal.records import EVENT, ROW, TAIL

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def default_path() -> Path:
    """Return where the shelf lies if no path is given."""
    return Path(platformdirs.user_data_dir("forebay", appauthor=False)) / "shelf.sqlite"


class Version(NamedTuple):
    """A description of a rig: when it came [s since 1970 UTC], its text, digest of its content."""

    came_s: float
    toml: str
    digest: str


class Shelf(TellingShelf, RecordingShelf):
    """One shelf; use it in a `with` block.

    Raises ShelfError if the file cannot be opened, is no shelf, or was
    written by a newer forebay; with create=False also if it is not there.
    With create=True the file is made by the first call that writes.
    Attribute: board, the one whose records are shown, None = all boards'.
    """

    def __init__(self, path: Path | str | None = None, create: bool = True):
        self.path = Path(path) if path is not None else default_path()
        self.board: str | None = None
        self._waits = not self.path.exists()
        if self._waits and not create:
            raise ShelfError(
                f"no shelf at {self.path}: pull a board first, or name one with --shelf"
            )
        if self._waits:
            _check_place(self.path)
            self._db = in_memory()
        else:
            self._db = open_shelf(self.path, create)

    def __enter__(self) -> "Shelf":
        return self

    def __exit__(self, *_):
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    @contextmanager
    def _writing(self, rig_id: int):
        """Give the database for one transaction, with the rig noted."""
        if self._waits:
            self._db = open_shelf(self.path, create=True)
            self._waits = False
        try:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                self._db.execute("INSERT OR IGNORE INTO rigs VALUES (?, '', ?)", (rig_id, _now()))
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            raise ShelfError(f"cannot write to the shelf {self.path}: {error}") from error

    def read(self, question: str, *values) -> list[tuple]:
        """Return the rows that SQL selects; ShelfError if the file is damaged."""
        try:
            return self._db.execute(question, values).fetchall()
        except sqlite3.Error as error:
            raise ShelfError(f"cannot read the shelf {self.path}: {error}") from error

    # Writing

    def add_rig(self, rig_id: int, name: str = "", toml: str = "", digest: str = "") -> None:
        """Note a rig, its name, and its description where that is not the one it had last."""
        with self._writing(rig_id) as db:
            if name:
                db.execute("UPDATE rigs SET name = ? WHERE rig_id = ?", (name, rig_id))
            last = db.execute("SELECT digest FROM rig_versions WHERE rig_id = ?"
                              " ORDER BY version_id DESC LIMIT 1", (rig_id,)).fetchone()
            if digest and last != (digest,):
                db.execute("INSERT INTO rig_versions (rig_id, digest, toml, first_seen_utc)"
                           " VALUES (?, ?, ?, ?)", (rig_id, digest, toml, _now()))

    def put_segment(self, rig_id: int, generation: int, stream: int, number: int,
                    data: bytes | bytearray) -> Gain:
        """Keep what a segment has grown to; return what is new by it.

        Bytes that are held already change nothing.  The number of a tail comes
        round again: another content under it is kept beside the earlier one.
        Raises ShelfError for another content of any other stream.
        """
        data = bytes(data)
        with self._writing(rig_id) as db:
            revision, held = self._newest(rig_id, generation, stream, number)
            if held.startswith(data) and held:
                return Gain()
            if not data.startswith(held):
                if stream != TAIL:
                    raise ShelfError(f"segment {number} of stream {stream} came in two forms: are"
                                     f" there two boards with the identity {rig_id}?")
                revision += 1
            key = (rig_id, generation, stream, number, revision)
            db.execute(
                "INSERT INTO segments (rig_id, life, stream, number, turn, data, size,"
                " first_seen_utc) VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
                " ON CONFLICT DO UPDATE SET data = excluded.data, size = excluded.size",
                (*key, data, len(data), _now()))
            return index.note(db, key, data)

    def add_anchor(self, rig_id: int, anchor: Anchor) -> None:
        """Keep an anchor; of two of the same moment the more certain one."""
        with self._writing(rig_id) as db:
            db.execute(
                "INSERT INTO anchors VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE"
                " SET utc_s = excluded.utc_s, uncertainty_s = excluded.uncertainty_s"
                " WHERE excluded.uncertainty_s < uncertainty_s", (rig_id, *anchor))

    def note_life(self, rig_id: int, generation: int, board: str, budget_B: int | None) -> None:
        """Keep from which board a life is, and how much room [bytes] that gives its journal."""
        with self._writing(rig_id) as db:
            db.execute("INSERT INTO lives VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE"
                       " SET board = excluded.board, budget_B = excluded.budget_B",
                       (rig_id, generation, board, budget_B))

    def put_listing(self, rig_id: int, generation: int, utc_s: float,
                    files: list[tuple[int, int, int]]) -> None:
        """Keep which files [(stream, number, size in bytes)] a board has at a time [s].

        They replace the board's earlier list, whichever of its lives that was of.
        """
        of = self.boards(rig_id)
        mine = [life for life in of if of[life] == of.get(generation, "")]
        with self._writing(rig_id) as db:
            db.executemany("DELETE FROM listings WHERE (rig_id, life) = (?, ?)",
                           [(rig_id, life) for life in {*mine, generation}])
            db.executemany("INSERT INTO listings VALUES (?, ?, ?, ?, ?, ?)",
                           [(rig_id, generation, utc_s, *file) for file in files])

    # Reading

    def rigs(self) -> list[tuple[int, str]]:
        """Return (rig_id, name) of every rig."""
        return self.read("SELECT rig_id, name FROM rigs ORDER BY first_seen_utc")

    def only_rig(self) -> int:
        """Return the rig_id of the one rig; ShelfError if there is none, or more than one."""
        rigs = self.rigs()
        if not rigs:
            raise ShelfError(f"the shelf {self.path} is empty: pull a board first")
        if len(rigs) > 1:
            names = ", ".join(name or str(rig_id) for rig_id, name in rigs)
            raise ShelfError(f"the shelf holds {len(rigs)} rigs ({names}): say which with --rig")
        return rigs[0][0]

    def sizes(self, rig_id: int, generation: int) -> dict[tuple[int, int], int]:
        """Return the bytes held of each (stream, number) of one journal."""
        found = self.read("SELECT stream, number, size FROM segments"
                          " WHERE rig_id = ? AND life = ? ORDER BY turn", rig_id,
                          generation)
        return {(stream, number): size for stream, number, size in found}

    def segment(self, rig_id: int, generation: int, stream: int, number: int) -> bytes:
        """Return the bytes held of a segment, b"" if there are none."""
        return self._newest(rig_id, generation, stream, number)[1]

    def _newest(self, rig_id, generation, stream, number):
        found = self.read(
            "SELECT turn, data FROM segments WHERE (rig_id, life, stream, number) = (?, ?, ?, ?)"
            " ORDER BY turn DESC LIMIT 1", rig_id, generation, stream, number)
        return found[0] if found else (0, b"")

    def generations(self, rig_id: int) -> list[int]:
        """Return the numbers [-] of the journals that are held of a rig."""
        found = self.read(
            "SELECT DISTINCT life FROM segments WHERE rig_id = ? ORDER BY life", rig_id)
        of = self.boards(rig_id)
        return [life for life, in found if self.board in (None, of[life])]

    def boards(self, rig_id: int) -> dict[int, str]:
        """Return the board of each life that is known of a rig, "" where not known."""
        found = self.read(
            "SELECT life, '' FROM segments WHERE rig_id = ? UNION SELECT life, '' FROM anchors"
            " WHERE rig_id = ?", rig_id, rig_id)
        told = self.read("SELECT life, board FROM lives WHERE rig_id = ?", rig_id)
        return {**dict(found), **dict(told)}

    def budget_B(self, rig_id: int, generation: int) -> int | None:
        """Return the room [bytes] that a life's board gives its journal, None if not known."""
        found = self.read("SELECT budget_B FROM lives WHERE (rig_id, life) = (?, ?)", rig_id,
                          generation)
        return found[0][0] if found else None

    def journal(self, rig_id: int) -> Journal:
        """Return all that is held of a rig, decoded."""
        return Journal.joined([self._generation(rig_id, generation)
                               for generation in self.generations(rig_id)])

    def _generation(self, rig_id, generation):
        found = self.read("SELECT data FROM segments WHERE rig_id = ? AND life = ?"
                          " ORDER BY stream, first_seq, number", rig_id, generation)
        return decode((row[0] for row in found), generation)

    def held(self, rig_id: int, generation: int, kind: int) -> list[tuple[int, int]]:
        """Return the ranges (first, last) [-] of numbers held of one kind of record."""
        return self.read("SELECT first, last FROM held WHERE (rig_id, life, kind) = (?, ?, ?)"
                         " ORDER BY first", rig_id, generation, kind)

    def counts(self, rig_id: int) -> tuple[int, int]:
        """Return how many rows and events [-] are held of a rig; decodes nothing."""
        generations = self.generations(rig_id)
        rows, events = (sum(index.size_of(self.held(rig_id, generation, kind))
                             for generation in generations)
                        for kind in (ROW, EVENT))
        return rows, events

    def anchors(self, rig_id: int) -> list[Anchor]:
        """Return the anchors of a rig, in order."""
        found = self.read(
            "SELECT life, boot, uptime_ds, utc_s, uncertainty_s FROM anchors WHERE rig_id = ?"
            " ORDER BY life, boot, uptime_ds", rig_id)
        return [Anchor(*row) for row in found]

    def clock(self, rig_id: int) -> Clock:
        """Return what turns a rig's uptimes into UTC; decodes nothing."""
        found = self.read("SELECT life, boot, last_uptime_ds FROM boots WHERE rig_id = ?", rig_id)
        of = self.boards(rig_id)
        shown = {life: board for life, board in of.items() if self.board in (None, board)}
        ends = {(generation, boot): last_ds / DS_PER_S for generation, boot, last_ds in found
                if generation in shown}
        anchors = [one for one in self.anchors(rig_id) if one.generation in shown]
        return Clock(anchors, ends, shown)

    def listings(self, rig_id: int) -> list[tuple[float, int, list[tuple[int, int, int]]]]:
        """Return the last list of files of each board, the newest list last.

        Each is (when [s], generation [-], [(stream, number, size [bytes])]).
        """
        of = self.boards(rig_id)
        found: dict[tuple[float, int], list] = {}
        for utc_s, life, *file in self.read(
                "SELECT utc_s, life, stream, number, size FROM listings WHERE rig_id = ?"
                " ORDER BY utc_s, life, stream, number", rig_id):
            if self.board in (None, of.get(life, "")):
                found.setdefault((utc_s, life), []).append(tuple(file))
        return [(*key, files) for key, files in found.items()]

    def not_pulled(self, rig_id: int) -> list[str]:
        """Return the names of the files that the board listed last and of which a part is lacking.
        """
        lacking = []
        for _, generation, files in self.listings(rig_id):
            held = self.sizes(rig_id, generation)
            lacking += [name_of(stream, number) for stream, number, size in files
                        if held.get((stream, number), 0) < size]
        return lacking

    def rig_toml(self, rig_id: int) -> str | None:
        """Return the newest description kept of a rig, None if there is none."""
        found = self.read("SELECT toml FROM rig_versions WHERE rig_id = ?"
                          " ORDER BY version_id DESC LIMIT 1", rig_id)
        return found[0][0] if found else None

    def rig_versions(self, rig_id: int) -> list[Version]:
        """Return the descriptions kept of a rig, in the order in which they came.

        Raises ShelfError.
        """
        found = self.read("SELECT first_seen_utc, toml, digest FROM rig_versions WHERE rig_id = ?"
                          " ORDER BY version_id", rig_id)
        return [Version(self._utc_s(when), toml, digest) for when, toml, digest in found]

    def _utc_s(self, when):
        """Return a time as `_now` writes it [s since 1970 UTC]."""
        try:
            return (datetime.fromisoformat(when) - EPOCH).total_seconds()
        except (ValueError, TypeError) as error:  # no time, or one of no zone
            raise ShelfError(
                f"the shelf {self.path} is damaged: table rig_versions: first_seen_utc must be a"
                f" time such as {_now()}, not {when!r}: take a copy of it, or flash the board anew"
                " onto another shelf") from error

    def faults(self) -> list[str]:
        """Return what the database itself finds wrong with its file, one line each."""
        found = [row[0] for row in self.read("PRAGMA integrity_check")]
        found += [f"table {row[0]}, row {row[1]}: its rig is missing"
                  for row in self.read("PRAGMA foreign_key_check")]
        found += [f"segment {number} of stream {stream} has lost bytes" for stream, number in
                  self.read("SELECT stream, number FROM segments WHERE size != length(data)")]
        return [" ".join(line.split()) for line in found if line != "ok"]


def _check_place(path):
    """Refuse a path at which no file can be made, before anything is asked of a board."""
    there = next(parent for parent in path.absolute().parents if parent.exists())
    if not there.is_dir() or not os.access(there, os.W_OK):
        raise ShelfError(f"cannot use {path} as the shelf: {there} cannot be written to")


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
