"""Writes the golden journal and the golden shelf with the tree as it is.

    python -m tests.golden.write

Only for another format: what is there was written by an older tree, and that
is what it is for. README.md says by which.
"""

import datetime
import hashlib
import json
import os
import pathlib
import select
import tempfile
import threading
import tty
import zipfile

import pytest

from forebay.shelf import Shelf
from forebay.shelf.decode import Journal, decode
from forebay.wire import pull
from tests.golden import story
from tests.link.rig import Rig

HERE = pathlib.Path(__file__).parent
JOURNAL, SHELF, EXPECTED = HERE / "journal.zip", HERE / "shelf.zip", HERE / "expected.json"
SHELF_NAME = "shelf"
POLL_MS = 5
SCANS_BEFORE_PULL = (900, 700)
PULLED = datetime.datetime(2026, 11, 29, 12, 0, tzinfo=datetime.UTC)


def said_of(journal: Journal) -> dict:
    """Returns what the host reads in a journal: how much of each, and a digest of all of it."""
    rows = journal.rows
    digest = hashlib.sha256()
    for column in (rows.seq, rows.boot, rows.uptime_ds, rows.scans, rows.state, rows.contacts):
        digest.update(repr(column.tolist()).encode())
    digest.update(repr(rows.stored.tolist()).encode())
    for plain in (journal.events, journal.summaries, journal.totals):
        digest.update(repr(plain.tolist()).encode())
    return {
        "rows": len(rows),
        "events": len(journal.events),
        "summaries": len(journal.summaries),
        "totals": len(journal.totals),
        "duplicate_rows": journal.findings.duplicate_rows,
        "findings": journal.findings.lines(),
        "sha256": digest.hexdigest(),
    }


def pulled_shelf(folder: pathlib.Path) -> pathlib.Path:
    """Pulls twice from a keeper with its journal and link; returns the shelf."""
    rig = Rig(str(folder / "j"))
    board_end, host_end = os.openpty()
    tty.setraw(host_end)
    with Shelf(folder / SHELF_NAME) as shelf:
        for scans in SCANS_BEFORE_PULL:
            rig.run(scans)
            rig.settle()
            stop = threading.Event()
            board = threading.Thread(target=_serve, args=(rig.link(), board_end, stop))
            board.start()
            try:
                pull(os.ttyname(host_end), shelf, now_utc=lambda: PULLED)
            finally:
                stop.set()
                board.join()
    os.close(host_end)
    os.close(board_end)
    return folder / SHELF_NAME


def _serve(link, board_end: int, stop: threading.Event) -> None:
    now_ms = 0
    while not stop.is_set():
        if select.select([board_end], [], [], POLL_MS / 1000)[0]:
            link.feed(os.read(board_end, 64), now_ms)
        while (reply := link.poll(now_ms)) is not None:
            os.write(board_end, reply)
        now_ms += POLL_MS


def _zip(path: pathlib.Path, files: dict[str, bytes]) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name in sorted(files):
            # A ZipInfo of its own has a fixed date.
            archive.writestr(zipfile.ZipInfo(name), files[name], zipfile.ZIP_DEFLATED)


def main() -> None:
    """Writes the three files beside this one."""
    with pytest.MonkeyPatch.context() as patch:
        files = story.tell(patch)
    _zip(JOURNAL, files)
    expected = {"journal": said_of(decode(files.values()))}
    with tempfile.TemporaryDirectory(prefix="forebay-golden-") as name:
        path = pulled_shelf(pathlib.Path(name))
        _zip(SHELF, {SHELF_NAME: path.read_bytes()})
        with Shelf(path, create=False) as shelf:
            expected["shelf"] = said_of(shelf.journal(shelf.only_rig()))
    EXPECTED.write_text(json.dumps(expected, indent=1) + "\n")
    for path in (JOURNAL, SHELF):
        print(f"{path.name}: {path.stat().st_size} bytes")


if __name__ == "__main__":
    main()
