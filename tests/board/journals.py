"""Journals for the flash of a board, made by the project's own writer on this computer.

What a power cut leaves is the folder as it was after some append: each
journal here is such a moment of a longer life.
"""

import contextlib
import os
import pathlib
import tempfile
from collections.abc import Iterator
from unittest import mock

from forebay import rig as rigs
from keeper import settings as st
from keeper.boards.kinds import PICO
from keeper.journal.blocks import ROWS_MOST
from keeper.journal.journal import HELD_MOST
from keeper.journal.opening import open_journal
from keeper.journal.records import DETAIL
from keeper.journal.segments import Segments
from tests.journal import reader
from tests.journal.fakes import FakeKeeper

FOLDER = "/journal"
# While flash refuses blocks, rows wait until none more fits: all in one tail. The
# next tail repeats those that are in no block, and grows to two short of the next
# block before the old one goes.
LARGEST = HELD_MOST + ROWS_MOST - 2
SCANS_MOST = 5_000_000
# Rows of a second fill the budget soonest.
ROW_S = 1


class Life:
    """A journal that grows in a folder. Attributes: folder, keeper."""

    def __init__(self, folder: pathlib.Path, seed: int = 1, sync_s: int = ROW_S,
                 demo: str = rigs.DEMOS[0]):
        """Starts the writer in an empty folder, as a demonstration rig's."""
        self.folder = folder
        journal = open_journal(str(folder), rigs.load(demo=demo).rig_id, st.VERSION,
                               PICO.journal_bytes)
        self.keeper = FakeKeeper(journal, seed, running_s=ROW_S, standstill_s=ROW_S, sync_s=sync_s)

    def files(self) -> dict[str, bytes]:
        """Returns what is in the folder: name -> bytes."""
        return reader.folder_files(self.folder)

    def content(self) -> reader.Content:
        """Returns what an independent reader finds there."""
        return reader.read_files(self.files())

    def tail_rows(self) -> int:
        """Returns the rows in all tails, those that are there twice counted twice."""
        return sum(
            1
            for segment in self.content().segments
            for kind, _, _ in segment.records
            if kind == reader.ROW
        )

    def run_until(self, done) -> None:
        """Scans on until `done()` holds; it is asked after each piece of work."""
        keeper = self.keeper
        for _ in range(SCANS_MOST):
            keeper.scan()
            for _ in range(8):
                appended = keeper.journal.segments.errors, keeper.journal.jobs
                keeper.journal.slack(keeper, keeper.uptime_ds * 100)
                if appended != (keeper.journal.segments.errors, keeper.journal.jobs) and done():
                    return
        raise AssertionError("the journal never came there")


@contextlib.contextmanager
def _life(**how) -> Iterator[Life]:
    with tempfile.TemporaryDirectory() as folder:
        yield Life(pathlib.Path(folder), **how)


def placed(files: dict[str, bytes]) -> dict[str, bytes]:
    """Returns a journal's files by their paths on the board."""
    return {f"{FOLDER}/{name}": data for name, data in files.items()}


def of_tail(rows: int, seed: int = 1, demo: str = rigs.DEMOS[0]) -> dict[str, bytes]:
    """Returns a journal cut when its only tail held so many rows [0 to 64]; path -> bytes."""
    with _life(seed=seed, demo=demo) as life:
        if rows:
            life.run_until(lambda: life.tail_rows() == rows)
        found = life.content()
        assert len(found.tail) == rows
        assert not found.blocked
        return placed(life.files())


@contextlib.contextmanager
def _no_blocks() -> Iterator[None]:
    append = Segments.append

    def refused(self, stream, data, count):
        return stream != DETAIL and append(self, stream, data, count)

    new = Segments.append_new

    def refused_anew(self, stream, data, count):
        return stream != DETAIL and new(self, stream, data, count)

    with (
        mock.patch.object(Segments, "append", refused),
        mock.patch.object(Segments, "append_new", refused_anew),
    ):
        yield


def of_largest_tail(seed: int = 1, demo: str = rigs.DEMOS[0]) -> dict[str, bytes]:
    """Returns a journal cut in a hand-over: an old tail and a new one, LARGEST rows in both."""
    with _life(seed=seed, demo=demo) as life:
        with _no_blocks():
            life.run_until(lambda: life.tail_rows() == HELD_MOST)
        remove = os.remove

        def refused(path, *more, **named):
            if pathlib.Path(path).parent == life.folder:
                raise OSError(5, "flash fault")
            return remove(path, *more, **named)

        with mock.patch.object(os, "remove", refused):
            life.run_until(lambda: life.tail_rows() >= LARGEST)
        assert life.tail_rows() == LARGEST
        return placed(life.files())


def full(seed: int = 1) -> dict[str, bytes]:
    """Returns a journal that has given up its oldest segments for its budget."""
    with _life(seed=seed, sync_s=64 * ROW_S) as life:
        journal = life.keeper.journal
        life.run_until(lambda: journal.lost > 0)
        assert sum(journal.segments.blocks) >= journal.segments.budget_blocks - 8
        return placed(life.files())


def damaged(files: dict[str, bytes]) -> dict[str, bytes]:
    """Returns a journal of which each file but the shortest has lost bits in its middle."""
    changed = {}
    for path, data in files.items():
        hurt = bytearray(data)
        if len(data) > 64:
            hurt[len(data) // 2] ^= 0x55
            hurt[len(data) // 2 + 1] ^= 0xFF
        changed[path] = bytes(hurt)
    return changed


def of_flash(files: dict[str, bytes]) -> reader.Content:
    """Returns what an independent reader finds in the journal of a board's files."""
    return reader.read_files(
        {path.rsplit("/", 1)[1]: data for path, data in files.items()
         if path.startswith(FOLDER + "/")}
    )
