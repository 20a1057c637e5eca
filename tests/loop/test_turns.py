"""A program that was taken for good and does not stay up gives way to the other slot's."""

import main
import pytest
from main import Loader

from keeper import health
from keeper.boards import retry
from tests.drivers import fake
from tests.loop.loading import crash, empty, fill_as_before, start, text

FIRST_OF_THE_OTHER = 4  # quick restarts: the first start failed, and a round of three


@pytest.fixture(params=["a", "b"])
def rounds(request, board):
    """A board whose pointer names a slot; `rounds(count)`: which ran at so many starts."""
    def run(count):
        return "".join(start(board).folder[-1] for _ in range(count))

    (board.path / "slot").write_text(request.param)
    board.program = crash
    own, other = request.param, "ab".replace(request.param, "")
    return run, own, other


def chosen(loader):
    """The slot that a loader chooses."""
    folder = loader.choose()
    assert folder
    return folder[-1]


def test_a_program_that_fails_at_each_start_gives_way_and_both_take_turns(rounds):
    run, own, other = rounds
    assert run(16) == 4 * own + 3 * other + 3 * own + 3 * other + 3 * own


def test_a_round_ends_with_a_start_in_safe_mode_as_the_keeper_counts():
    assert main.ROUND == retry.QUICK_RESTARTS


def test_each_slot_has_its_safe_starts(board):
    (board.path / "slot").write_text("a")
    board.program = crash
    safe = [loader.folder[-1] for loader in (start(board) for _ in range(13))
            if retry.is_safe_start(loader.restarts)]
    assert safe == ["a", "b", "a", "b"]


def test_the_turns_go_on_where_the_loaders_count_ends(board):
    ran, safe = "", 0
    Loader(board.root).mark(health.START_FAILED, main.COUNT_MOST)
    for _ in range(60):
        loader = Loader(board.root)
        loader.begin()
        assert loader.restarts <= main.COUNT_MOST
        ran += chosen(loader)
        safe += retry.is_safe_start(loader.restarts)
    assert (ran.count("a"), ran.count("b"), safe) == (30, 30, 20)


def test_it_is_told_why_the_other_runs(board):
    board.program = crash
    reasons = [start(board).reset_reason for _ in range(8)]
    assert reasons[FIRST_OF_THE_OTHER:] == 3 * [health.GAVE_WAY] + [health.START_FAILED]
    assert health.GAVE_WAY not in reasons[:FIRST_OF_THE_OTHER]
    assert text(board, "last_error") == "ValueError: something in the program"


def test_a_program_that_stops_the_board_gives_way_too(board):
    """Nobody marks anything: the watchdog bites."""
    (board.path / "slot").write_text("a")
    ran = []
    for _ in range(7):
        loader = Loader(board.root)
        loader.begin()
        ran.append(chosen(loader))
    assert "".join(ran) == "aaaabbb"


def test_the_other_is_taken_for_good_once_it_is_healthy(rounds, board):
    run, own, other = rounds
    run(FIRST_OF_THE_OTHER)

    def get_healthy(loader):
        loader.confirm()
        crash(loader)

    board.program = get_healthy
    run(1)
    assert (text(board, "slot"), text(board, "slot_new")) == (other, None)
    board.program = crash
    assert run(7) == 3 * other + 3 * own + other


def test_it_is_tried_first_again_when_power_comes(board):
    (board.path / "slot").write_text("a")
    board.program = crash
    for _ in range(FIRST_OF_THE_OTHER + 1):
        start(board)
    fake.module("machine").mem_backup()[0] = 0
    assert start(board).folder[-1] == "a"


@pytest.mark.parametrize("spoil", [
    lambda path: (path / "b" / "whole").unlink(),
    lambda path: (path / "b" / "program.mpy").unlink(),
    lambda path: empty(path / "b"),
    lambda path: fill_as_before(path / "b"),            # nobody knows whether it is whole
    lambda path: (path / "slot_new").write_text("b3"),  # it was given up as an update
    lambda path: (path / "slot_new").write_text("b4"),
    lambda path: (path / "b" / "wiring").write_bytes(b"\xff another"),
    lambda path: (path / "a" / "wiring").unlink(),
    lambda path: (path / "b" / "settings").write_bytes(b"\xff limits of before"),
    lambda path: (path / "a" / "settings").unlink(),
])
def test_it_gives_way_to_no_program_that_is_not_whole_failed_or_is_of_another_rig(board, spoil):
    (board.path / "slot").write_text("a")
    for slot in "ab":
        (board.path / slot / "wiring").write_bytes(b"\xff\xfe one")
        (board.path / slot / "settings").write_bytes(b"\xff\xfd the same")
    spoil(board.path)
    board.program = crash
    assert {start(board).folder[-1] for _ in range(12)} == {"a"}


def test_with_one_wiring_and_the_same_settings_in_both_slots_it_gives_way(board):
    for slot in "ab":
        (board.path / slot / "wiring").write_bytes(b"\xff\xfe one")
        (board.path / slot / "settings").write_bytes(b"\xff\xfd the same")
    board.program = crash
    assert {start(board).folder[-1] for _ in range(12)} == {"a", "b"}


def test_an_update_on_trial_gives_way_by_its_own_count_only(board):
    (board.path / "slot").write_text("a")
    (board.path / "slot_new").write_text("b0")
    loader = Loader(board.root)
    loader.restarts = FIRST_OF_THE_OTHER
    assert chosen(loader) == "b"
    assert loader.reset_reason != health.GAVE_WAY


def test_an_update_that_was_given_up_ends_the_count_of_restarts_once(board):
    (board.path / "slot").write_text("a")
    (board.path / "slot_new").write_text("b0")
    board.program = crash
    counts = [start(board).restarts for _ in range(7)]
    assert counts == [0, 1, 2, 0, 1, 2, 3]


def test_where_that_cannot_be_noted_the_safe_starts_come_all_the_same(board, monkeypatch):
    (board.path / "slot").write_text("a")
    (board.path / "slot_new").write_text("b3")
    monkeypatch.setattr(Loader, "_write", lambda *_: None)
    board.program = crash
    assert [start(board).restarts for _ in range(4)] == [0, 1, 2, 3]


def test_a_program_at_the_root_gives_way_to_no_tree_of_another_wiring(board):
    (board.path / "keeper").mkdir()
    (board.path / "a" / "wiring").write_bytes(b"one")
    board.program = crash
    folders = {start(board).folder for _ in range(12)}
    assert folders == {board.root}
