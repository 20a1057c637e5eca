"""The whole way: the keeper's own journal and link, a pseudo terminal, pull, decode."""

import os
import select
import threading

import pytest

from forebay.shelf import Shelf
from forebay.shelf.rows import total_values
from forebay.wire import Board, pull
from tests.link.rig import RIG_ID, Rig

pty = pytest.importorskip("pty", reason="pseudo-terminals are POSIX only")

POLL_MS = 5


@pytest.fixture
def rig(tmp_path):
    rig = Rig(str(tmp_path / "j"))
    rig.run(3001)
    rig.settle()
    return rig


@pytest.fixture
def keeper(rig):
    return rig.keeper


@pytest.fixture
def port(rig):
    import tty

    board_end, host_end = os.openpty()
    tty.setraw(host_end)
    stop = threading.Event()
    link = rig.link()

    def serve():
        now_ms = 0
        while not stop.is_set():
            if select.select([board_end], [], [], POLL_MS / 1000)[0]:
                link.feed(os.read(board_end, 64), now_ms)
            while (reply := link.poll(now_ms)) is not None:
                os.write(board_end, reply)
            now_ms += POLL_MS

    board = threading.Thread(target=serve)
    board.start()
    yield os.ttyname(host_end)
    stop.set()
    board.join()
    os.close(host_end)
    os.close(board_end)


def test_every_file_of_a_keepers_journal_reaches_the_shelf_byte_for_byte(keeper, port, tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        report = pull(port, shelf)
        assert report.rig_id == RIG_ID
        for number, size in keeper.journal.files():
            path = keeper.journal.segments.path(number // 16384, number % 16384)
            with open(path, "rb") as file:
                assert shelf.segment(RIG_ID, 0, number // 16384, number % 16384) == file.read(size)


def test_its_rows_and_totals_decode_without_a_finding(keeper, port, tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        pull(port, shelf)
        journal = shelf.journal(RIG_ID)
    assert journal.rows.seq.tolist() == list(range(1, len(journal.rows) + 1))
    assert len(journal.rows) > 128
    assert journal.findings.lines() == []
    assert len(journal.events) >= 1
    newest = total_values(journal.totals["totals"][-1])
    now = [high * 10**9 + low
           for high, low in zip(keeper.totals.high, keeper.totals.low, strict=True)]
    assert all(0 <= there - here for here, there in zip(newest, now, strict=True))


def test_live_values_are_the_keepers(keeper, port):
    with Board(port) as board:
        live = board.live()
    assert live["rows"] == keeper.journal.newest_row
    assert live["boot"] == keeper.journal.boot


def test_a_second_pull_after_more_work_brings_only_the_new_rows(rig, port, tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        pull(port, shelf)
        before = len(shelf.journal(RIG_ID).rows)
        rig.run(2000)
        rig.settle()
        report = pull(port, shelf)
        journal = shelf.journal(RIG_ID)
    assert report.new_rows == len(journal.rows) - before > 0
    assert journal.findings.lines() == []
