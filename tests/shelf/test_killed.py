"""The shelf when the host dies in a pull, and when two pulls fill it at once."""

import multiprocessing
import os
import random
import signal
import time

import pytest

from forebay.shelf import Shelf
from forebay.wire import pull
from tests.shelf import encoder, puller
from tests.shelf.test_decode import plain, steady
from tests.wire.board import FakeBoard

pytestmark = pytest.mark.skipif(os.name == "nt", reason="no pseudo terminals on this system")

SEED = 6
KILLS_BY_TIME, KILLS_BY_STEP = 12, 16
STARTS_S = 30.0
ROWS = 3 * 6 * 64 + 20
DETAIL, EVENTS, TAIL = 0, 16384, 3 * 16384
# The children start from a process that has read the libraries once.
PROCESSES = multiprocessing.get_context("forkserver") if os.name != "nt" else multiprocessing
if os.name != "nt":
    PROCESSES.set_forkserver_preload(["forebay.wire", "forebay.shelf"])


def journal_files():
    """Returns a journal of some 15 kB in five files."""
    files = {}
    seq = 1
    for number in range(1, 4):
        data = encoder.header(0, number)
        for _ in range(6):
            rows = [(1, 100 * (seq + i), 100, 2, 3, tuple(hash((seq + i, k)) % 9999
                                                         for k in range(14))) for i in range(64)]
            data += encoder.block(seq, rows)
            seq += 64
        files[DETAIL + number] = data
    files[EVENTS + 1] = encoder.header(1, 1) + b"".join(
        encoder.event(i, 1, 10 * i, 2) for i in range(1, 40))
    files[TAIL + 7] = encoder.header(3, 7) + plain(steady(20, 900_000), seq)
    return files


FILES = journal_files()


@pytest.fixture
def serve():
    boards = []

    def start():
        boards.append(FakeBoard(files=FILES, live={"uptime_ds": 1_000_000}))
        return boards[-1].on_pty()

    yield start
    for board in boards:
        board.close()


def begun(*arguments):
    """Returns a pull that has begun in a process of its own."""
    child = PROCESSES.Process(target=puller.run, args=arguments)
    child.start()
    return child


def is_whole(shelf):
    """Returns whether every byte of the journal is on the shelf, in one generation."""
    return shelf.generations(7) == [0] and all(
        shelf.segment(7, 0, number // 16384, number % 16384) == data
        for number, data in FILES.items())


def holds_only_what_the_board_has(shelf):
    """Returns whether each segment held is the begin of the board's."""
    return all(FILES[stream * 16384 + number].startswith(shelf.segment(7, 0, stream, number))
               for stream, number in shelf.sizes(7, 0))


def check_after_death(path, port):
    """Opens what a dead pull left, pulls again, and looks at every byte."""
    if path.exists():
        with Shelf(path) as shelf:
            assert shelf.faults() == []
            assert holds_only_what_the_board_has(shelf)
            journal = shelf.journal(7)
            assert journal.findings.lines() == []
            assert shelf.counts(7) == (len(journal.rows), len(journal.events))
    with Shelf(path) as shelf:
        pull(port, shelf)
        assert is_whole(shelf)
        assert shelf.counts(7) == (ROWS, 39)
        assert shelf.faults() == []


def test_killed_at_a_random_moment_the_shelf_is_sound_and_the_next_pull_completes_it(
        serve, tmp_path):
    chance = random.Random(SEED)
    began_s = time.monotonic()
    whole = begun(serve(), tmp_path / "whole")
    whole.join(STARTS_S)
    assert whole.exitcode == 0
    takes_s = time.monotonic() - began_s
    midway = 0
    for number in range(KILLS_BY_TIME):
        path = tmp_path / str(number)
        child = begun(serve(), path)
        child.join(chance.uniform(0, takes_s))
        child.kill()
        child.join(STARTS_S)
        midway += child.exitcode == -signal.SIGKILL and path.exists()
        check_after_death(path, serve())
    assert midway > 0


def test_killed_inside_a_transaction_the_shelf_is_sound_and_the_next_pull_completes_it(
        serve, tmp_path):
    chance = random.Random(SEED)
    for number in range(KILLS_BY_STEP):
        path = tmp_path / str(number)
        # A pull of this journal makes more steps of the engine than this.
        child = begun(serve(), path, chance.randrange(1, 2300))
        child.join(STARTS_S)
        assert child.exitcode == -signal.SIGKILL
        check_after_death(path, serve())


def test_two_pulls_at_once_leave_one_whole_journal(serve, tmp_path):
    path = tmp_path / "s"
    children = [begun(serve(), path) for _ in range(2)]
    for child in children:
        child.join(STARTS_S)
    assert [child.exitcode for child in children] == [0, 0]
    with Shelf(path) as shelf:
        assert is_whole(shelf)
        assert shelf.counts(7) == (ROWS, 39)
        assert shelf.faults() == []
