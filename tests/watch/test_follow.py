"""A board is followed over a real line: events as they grow, silences, restarts."""

import itertools
import json
from pathlib import Path

import pytest

from forebay import rig as rigs
from forebay.shelf import Shelf
from forebay.watch.events import EventTail
from forebay.watch.follow import Follower
from forebay.watch.known import Known
from forebay.watch.view import plain_line
from forebay.wire import Board, WireError, pull
from keeper import modes
from tests.link.rig import Rig
from tests.wire.board import FakeBoard


def no_wait(seconds: float) -> None:
    """Stands for waiting."""


@pytest.fixture
def board():
    found = FakeBoard(live={"state": modes.PUMPING, "panel_mV": 20000, "pump_mA": 500,
                            "level_mm": 400})
    yield found
    found.close()


@pytest.fixture
def rig(tmp_path):
    """A keeper whose journal holds some events."""
    found = Rig(str(tmp_path / "journal"))
    found.run(30)
    found.settle()
    return found


def files_of(rig) -> dict[int, bytes]:
    found = {}
    for number, size in rig.journal.files():
        data = bytearray(size)
        assert rig.journal.read_file(number, 0, data) == size
        found[number] = bytes(data)
    return found


def test_what_the_shelf_knows_of_the_board_is_shown(board, tmp_path, monkeypatch):
    board.live.update(board_id=0xABC, journal_budget_B=800_000, boot=3, uptime_ds=50_000)
    port = board.on_pty()
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert Follower(port, 1.0).once().known == Known()
    with Shelf() as shelf:
        pull(port, shelf)
    board.live["uptime_ds"] += 600
    known = Follower(port, 1.0).once().known
    assert known.anchor is not None
    assert (known.anchor.boot, known.anchor.uptime_ds) == (3, 50_000)
    assert known.holding is None  # it has no files yet
    assert known.zone is None
    with Shelf() as shelf:
        demo = rigs.load()
        text = demo.toml_text.replace("[site]\n", '[site]\nzone = "Pacific/Kiritimati"\n')
        shelf.add_rig(7, demo.rig.name, text, "digest")
    follower = Follower(port, 1.0, now=lambda: 1.5e9)
    # 02:40 UTC, and 14 hours ahead of it.
    assert plain_line(follower.once()).startswith("16:40:00 ")
    board.live["board_id"] = 0xDEF
    stranger = Follower(port, 1.0).once().known
    assert (stranger.holding, stranger.anchor) == (None, None)


def test_histories_grow_with_every_reading(board):
    follower = Follower(board.on_pty(), 1.0, wait=no_wait)
    for snapshot in itertools.islice(follower.run(), 3):
        assert not snapshot.lost

    assert list(follower.snapshot.pump_W) == [10.0, 10.0, 10.0]
    assert list(follower.snapshot.level_m) == [0.4, 0.4, 0.4]


def test_a_board_that_falls_silent_is_told_and_found_again(board):
    silent = []
    board.mishap = lambda number, reply: None if silent else reply
    follower = Follower(board.on_pty(), 1.0, wait=no_wait)
    readings = follower.run()
    assert not next(readings).lost
    silent.append(True)
    lost = next(readings)
    assert "does not give" in lost.lost
    assert lost.live["state"] == modes.PUMPING
    silent.clear()

    found = next(readings)
    while found.lost:
        found = next(readings)
    assert found.live["panel_mV"] == 20000


def test_waits_between_tries_grow_and_end_with_an_answer(board):
    waits = []
    silent = [True]
    board.mishap = lambda number, reply: None if silent else reply
    follower = Follower(board.on_pty(), 9.0, wait=waits.append, clock=lambda: 0.0)
    readings = follower.run()
    for _ in range(2):
        assert next(readings).lost
    silent.clear()
    while next(readings).lost:
        pass
    next(readings)

    assert waits[0] < waits[1] < waits[-1] == 9.0


def test_a_port_that_is_gone_is_a_silence(tmp_path):
    follower = Follower(str(tmp_path / "gone"), 1.0, wait=no_wait)

    assert "no port" in next(follower.run()).lost
    with pytest.raises(WireError):
        follower.once()


def test_events_are_read_from_the_journal_in_sentences(board, rig):
    board.files = files_of(rig)
    tail = EventTail()
    with Board(board.on_pty()) as wire:
        tail.update(wire)

    assert tail.newest[0][2] == "The board started (start 1)."
    assert tail.newest[0][:1] == (1,)


def test_of_events_only_what_is_new_is_fetched(board, rig):
    board.files = files_of(rig)
    tail = EventTail()
    with Board(board.on_pty()) as wire:
        tail.update(wire)
        first = len(tail.newest)
        asked = board.requests
        tail.update(wire)
        unchanged = board.requests - asked
        rig.board.inputs[14] = 0  # the full float lifts
        rig.run(30)
        rig.settle()
        board.files = files_of(rig)
        tail.update(wire)

    assert len(tail.newest) > first
    assert "float opened" in tail.newest[-1][2]
    # The list of files alone.
    assert unchanged <= 7


def test_events_of_a_file_that_was_made_anew_are_read_again(board, rig, tmp_path):
    board.files = files_of(rig)
    tail = EventTail()
    with Board(board.on_pty()) as wire:
        tail.update(wire)
        board.files = {}
        tail.update(wire)
        other = Rig(str(tmp_path / "other"))
        other.run(30)
        other.settle()
        board.files = files_of(other)
        tail.update(wire)

    assert tail.newest[0][2] == "The board started (start 1)."


def test_documents_are_json_without_what_json_lacks(board):
    from forebay.watch.session import _document

    follower = Follower(board.on_pty(), 1.0, wait=no_wait)
    document = json.loads(_document(follower.once()))

    page = (Path(__file__).resolve().parents[2] / "host" / "docs" / "json.md").read_text()
    part = page.split("## forebay watch --json")[1].split("\n## ")[0]
    assert [key for key in document if f"`{key}`" not in part] == []
    assert document["lost"] is None
    assert document["live"]["state"] == modes.PUMPING


def test_the_text_of_the_last_error_is_read_once_for_each_connection(board):
    board.error = ("Traceback (most recent call last):\n" + 30 * "  File x, line 1, in f\n"
                   + "ValueError: caf\u00e9\n").encode()
    follower = Follower(board.on_pty(), 1.0, wait=no_wait)
    readings = follower.run()
    next(readings)
    assert follower.snapshot.error == board.error.decode().strip()
    asked = board.requests
    next(readings)
    assert board.requests - asked < asked


def test_a_board_without_an_error_has_none_to_show(board):
    follower = Follower(board.on_pty(), 1.0, wait=no_wait)
    assert follower.once().error == ""
