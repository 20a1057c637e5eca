"""Parts of the loader on their own: what it keeps of an error, of restarts, of memory."""

import types

import hypothesis.strategies as st
import main
import pytest
from hypothesis import given
from main import Loader, Tail

from forebay.flash import scripts
from keeper import health
from tests.drivers import fake
from tests.loop.loading import crash, start, text

KEPT_BYTES = 1000
SMALL_INT_MOST = (1 << 30) - 1  # of the board: what is larger takes memory

# The last of an error's text


@given(pieces=st.lists(st.binary(max_size=1200), max_size=4))
def test_of_whatever_is_written_the_last_thousand_bytes_are_kept_in_their_order(pieces):
    tail = Tail()
    assert [tail.write(piece) for piece in pieces] == [len(piece) for piece in pieces]
    assert b"".join(map(bytes, tail.pieces())) == b"".join(pieces)[-KEPT_BYTES:]


@pytest.mark.parametrize("count", [0, 1, KEPT_BYTES - 1, KEPT_BYTES, KEPT_BYTES + 1,
                                   2 * KEPT_BYTES, 2 * KEPT_BYTES + 1])
def test_nothing_is_lost_or_twice_where_the_tail_begins_anew(count):
    data = bytes(number % 251 for number in range(count))
    tail = Tail()
    tail.write(data)
    assert b"".join(map(bytes, tail.pieces())) == data[-KEPT_BYTES:]


def test_what_is_kept_of_an_error_is_read_whole_by_a_laptop():
    assert "f.read(1024)" in scripts.PREPARE
    assert KEPT_BYTES == main.ERROR_BYTES <= 1024


def test_without_a_traceback_the_errors_name_and_the_start_of_its_text_are_kept(board):
    board.program = lambda _: crash_with("x" * 3000)
    start(board)
    kept = text(board, "last_error")
    assert kept == ("ValueError: " + "x" * 3000)[:KEPT_BYTES]


def crash_with(words):
    raise ValueError(words)


def test_a_newer_error_takes_the_place_of_an_older_one(board):
    (board.path / "last_error").write_text("e" * 900)
    board.program = crash
    start(board)
    assert text(board, "last_error") == "ValueError: something in the program"


def test_an_error_that_comes_again_and_again_is_written_once(board, monkeypatch):
    real, writes = open, []

    def watched(path, mode="r"):
        if "last_error" in path and "w" in mode:
            writes.append(path)
        return real(path, mode)

    monkeypatch.setattr(main, "open", watched, raising=False)
    board.program = crash
    for _ in range(20):
        start(board)
    assert len(writes) == 1
    assert text(board, "last_error") == "ValueError: something in the program"


def test_an_error_that_cannot_be_kept_is_counted_all_the_same(board, monkeypatch):
    real = open

    def full(path, mode="r"):
        if "last_error" in path:
            raise OSError(28)
        return real(path, mode)

    monkeypatch.setattr(main, "open", full, raising=False)
    board.program = crash
    start(board)
    again = start(board)
    assert (again.reset_reason, again.restarts) == (health.START_FAILED, 1)


def test_what_the_program_held_is_collected_before_its_error_is_kept(board, monkeypatch):
    calls = []
    monkeypatch.setattr(main, "gc", types.SimpleNamespace(
        collect=lambda: calls.append(text(board, "last_error"))))
    board.program = crash
    start(board)
    assert calls == [None]


# Memory


def test_garbage_is_collected_in_time_and_spare_memory_is_there_before_the_program_runs(
        board, monkeypatch):
    seen, sizes = [], []
    monkeypatch.setattr(main, "gc", types.SimpleNamespace(
        threshold=lambda count: seen.append(("threshold", count)), collect=lambda: None))
    monkeypatch.setattr(fake.module("micropython"), "alloc_emergency_exception_buf",
                        lambda count: (seen.append(("spare", count)), sizes.append(count)),
                        raising=False)
    board.program = lambda loader: seen.append(("runs", 0))
    start(board)
    assert [name for name, _ in seen] == ["spare", "threshold", "runs"]
    # Less than the largest piece that the journal needs; enough for two places of a traceback.
    assert 4096 < dict(seen)["threshold"] <= 32768
    assert sizes[0] >= 2 * 3 * 4


# The record of restarts


@pytest.mark.parametrize("reason", range(16))
@pytest.mark.parametrize("count", [0, 1, 254, 255])
def test_reason_and_count_come_back_from_the_memory_that_outlives_a_reset(board, reason, count):
    Loader(board.root).mark(reason, count)
    assert 0 <= board.chip.backup[0] <= SMALL_INT_MOST
    again = Loader(board.root)
    again.begin()
    assert again.reset_reason == reason
    counts = reason not in (health.POWER_ON, health.ORDERED)
    most = main.COUNT_MOST  # then it goes back by a turn of each slot
    counted = count + 1 if count < most else most + 1 - 2 * main.ROUND
    assert again.restarts == (counted if counts else 0)


@pytest.mark.parametrize("word", [0, 0xDEADBEEF, 0x12345678, SMALL_INT_MOST,
                                  (0x2D3 << 20) ^ (1 << 20), (0x2D3 << 20) ^ (1 << 29)])
def test_memory_that_says_nothing_is_power_that_came(board, word):
    board.chip.backup[0] = word
    loader = Loader(board.root)
    loader.begin()
    assert (loader.reset_reason, loader.restarts) == (health.POWER_ON, 0)


@pytest.mark.parametrize("content", ["", "3", "3 x", "x 3", "-1 2", "1 2 3"])
def test_a_record_in_a_file_that_says_nothing_is_power_that_came(board, monkeypatch, content):
    monkeypatch.delattr(fake.module("machine"), "mem_backup")
    (board.path / "restarts").write_text(content)
    loader = Loader(board.root)
    loader.begin()
    assert (loader.reset_reason, loader.restarts) == (health.POWER_ON, 0)


def test_a_start_is_counted_before_its_program_is_chosen(board, monkeypatch):
    """Else a program file that stops the board would be started for ever without notice."""
    monkeypatch.setattr(Loader, "choose", lambda self: 1 // 0)
    start(board)
    start(board)
    again = Loader(board.root)
    again.begin()
    assert (again.reset_reason, again.restarts) == (health.START_FAILED, 2)


def test_restarts_of_an_update_that_was_given_up_are_not_those_of_the_program_before(board):
    (board.path / "slot").write_text("a")
    (board.path / "slot_new").write_text("b3")
    loader = Loader(board.root)
    loader.mark(health.SCAN_FAILED, 7)
    loader.begin()
    assert loader.choose() == f"{board.root}/a"
    assert loader.restarts == 0
    stopped = Loader(board.root)  # the watchdog bit, so nobody marked anything
    stopped.begin()
    assert (stopped.reset_reason, stopped.restarts) == (health.WATCHDOG, 1)


# Slots


@pytest.mark.parametrize("trial", ["c0", "/0", "b", "bx", "", "b3"])
def test_a_note_of_no_update_confirms_none(board, trial):
    (board.path / "slot").write_text("b")
    (board.path / "slot_new").write_text(trial)
    loader = Loader(board.root)
    assert loader.choose() == f"{board.root}/b"
    loader.confirm()
    assert text(board, "slot") == "b"


@pytest.mark.parametrize("name", ["slot", "slot_new", "restarts"])
def test_a_small_file_of_no_text_keeps_no_start_away(board, name):
    (board.path / name).write_bytes(b"\xff\xfe\x80")
    loader = start(board)
    assert loader.folder == f"{board.root}/a"


def test_an_update_gets_three_starts(board):
    (board.path / "slot").write_text("a")
    (board.path / "slot_new").write_text("b0")
    board.program = crash
    assert [start(board).folder[-1] for _ in range(5)] == ["b", "b", "b", "a", "a"]


def test_an_update_that_is_not_there_is_never_taken_for_good(board):
    (board.path / "slot").write_text("a")
    (board.path / "slot_new").write_text("b0")
    (board.path / "b" / "program.mpy").unlink()
    loader = Loader(board.root)
    assert loader.choose() == f"{board.root}/a"
    loader.confirm()
    assert text(board, "slot") == "a"


def test_a_pointer_that_cannot_be_moved_leaves_the_update_on_trial(board, monkeypatch):
    (board.path / "slot").write_text("a")
    (board.path / "slot_new").write_text("b0")
    loader = Loader(board.root)
    loader.choose()

    def refused(*_):
        raise OSError("no room")

    monkeypatch.setattr(main.os, "rename", refused)
    loader.confirm()
    assert (text(board, "slot"), text(board, "slot_new")) == ("a", "b1")
    assert loader.candidate == "b"


def test_a_program_at_the_root_of_the_files_has_a_folder_too(board, monkeypatch):
    monkeypatch.setattr(Loader, "_is_there", lambda _, path: path == "/keeper")
    monkeypatch.setattr(Loader, "_read", lambda *_: "")
    assert Loader("").choose() == "/"


def test_a_program_that_runs_for_good_is_not_on_trial(board):
    (board.path / "slot").write_text("a")
    board.program = lambda loader: loader.confirm()
    loader = start(board)
    assert loader.candidate == ""
    assert text(board, "slot") == "a"
    assert text(board, "slot.tmp") is None


def test_a_second_confirmation_changes_nothing(board):
    (board.path / "slot").write_text("a")
    (board.path / "slot_new").write_text("b0")
    loader = Loader(board.root)
    loader.choose()
    loader.confirm()
    (board.path / "slot").write_text("a")
    loader.confirm()
    assert text(board, "slot") == "a"
