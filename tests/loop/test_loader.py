"""The loader: a person's way in, restarts counted, and a reset at every end."""

import main
import pytest
from main import Loader

from keeper import health
from keeper.boards.pins import P_GPIO, outputs
from tests.drivers import fake
from tests.loop.loading import crash, empty, fill_as_before, press, start, text

PROGRAM = "program"


def prompt_reached(board):
    """Whether the board is at its prompt, as a person wants it."""
    at_prompt = board.chip.resets == 0
    if at_prompt:
        assert fake.module("micropython").KEPT["interrupt"] == 3
        assert board.chip.watchdog is None
        assert [board.chip.level(row[P_GPIO]) for row in outputs()] == [0] * len(outputs())
    return at_prompt


# A person's way in


def test_a_byte_3_does_not_stop_the_program(board):
    seen = []
    board.program = lambda _: seen.append(fake.module("micropython").KEPT["interrupt"])
    start(board)
    assert seen == [-1]


@pytest.mark.parametrize("held_ms", [3100, 5000, 9900])
def test_the_button_held_at_the_start_and_let_go_leads_to_the_prompt(board, held_ms):
    press(board, lambda now_ms: now_ms < held_ms)
    assert start(board) is None
    assert prompt_reached(board)
    assert board.chip.clock.ticks_ms() >= held_ms


def test_a_pair_that_is_crushed_keeps_no_program_away_at_any_start(board):
    press(board, lambda now_ms: True)
    board.program = crash
    for number in range(1, 6):
        assert start(board) is not None
        assert board.chip.resets == number


def test_a_crushed_pair_costs_a_start_ten_seconds(board):
    press(board, lambda now_ms: True)
    start(board)
    assert 10_000 <= board.chip.clock.ticks_ms() <= 10_100


@pytest.mark.parametrize("open_ms", [20, 200, 480])
def test_a_crushed_pair_that_opens_for_a_moment_is_no_press(board, open_ms):
    press(board, lambda now_ms: not 4000 <= now_ms < 4000 + open_ms)
    assert start(board) is not None


@pytest.mark.parametrize("held_ms", [20, 1500, 2900])
def test_the_button_let_go_too_early_does_not(board, held_ms):
    press(board, lambda now_ms: now_ms < held_ms)
    assert start(board) is not None
    assert board.chip.clock.ticks_ms() <= held_ms + 100


def test_a_start_without_the_button_loses_hardly_any_time(board):
    start(board)
    assert board.chip.clock.ticks_ms() <= 50


def test_ordered_maintenance_leads_to_the_prompt_once(board):
    assert start(board) is not None  # its run returns: maintenance was ordered
    assert board.chip.resets == 1
    assert text(board, "stay_out") == "1"
    board.chip.resets = 0
    assert start(board) is None
    assert prompt_reached(board)
    assert text(board, "stay_out") is None
    assert start(board) is not None


def test_a_flag_that_cannot_be_removed_still_leads_to_the_prompt(board, monkeypatch):
    (board.path / "stay_out").write_text("1")

    def refuse(path):
        raise OSError(30)

    monkeypatch.setattr(main.os, "remove", refuse)
    start(board)
    assert prompt_reached(board)


def test_without_any_program_the_board_waits_at_its_prompt(board):
    for slot in ("a", "b"):
        empty(board.path / slot)
    assert start(board) is None
    assert prompt_reached(board)


# Whatever ends the program


@pytest.mark.parametrize(
    "error", [ValueError("x"), OSError(5), MemoryError(), KeyboardInterrupt(), SystemExit(),
              ImportError("no module")]
)  # fmt: skip
def test_an_error_of_the_program_ends_safe_and_in_a_reset(board, error):
    def fail(_):
        raise error

    board.program = fail
    start(board)
    assert board.chip.resets == 1
    assert [board.chip.level(row[P_GPIO]) for row in outputs()] == [0] * len(outputs())
    assert text(board, "last_error").startswith(type(error).__name__)


def test_an_import_that_fails_ends_in_a_reset(board, monkeypatch):
    monkeypatch.setitem(main.sys.modules, PROGRAM, None)  # CPython: ImportError
    start(board)
    assert board.chip.resets == 1


def test_a_program_that_wants_another_start_gets_it_with_its_reason_and_is_counted(board):
    def try_again(loader):
        loader.failure = health.SLACK_FAILED
        return False

    board.program = try_again
    seen = [start(board) for _ in range(3)]
    assert board.chip.resets == 3
    assert text(board, "stay_out") is None
    assert text(board, "last_error") is None
    assert [loader.restarts for loader in seen] == [0, 1, 2]
    assert [loader.reset_reason for loader in seen[1:]] == 2 * [health.SLACK_FAILED]


def test_a_program_of_many_files_is_started_as_before(board):
    for slot in ("a", "b"):
        fill_as_before(board.path / slot)
    loader = start(board)
    assert board.old_runs == 1
    assert loader.folder == f"{board.root}/a"
    assert text(board, "stay_out") == "1"  # its run returns: maintenance was ordered


def test_the_program_learns_the_folder_of_its_slot(board):
    (board.path / "slot").write_text("b")
    assert start(board).folder == f"{board.root}/b"
    assert board.old_runs == 0


@pytest.mark.parametrize("name", ["begin", "choose", "takes_flag", "leave_flag", "keep_error"])
def test_an_error_of_the_loader_itself_ends_in_a_reset(board, name, monkeypatch):
    def fail(*_):
        raise RuntimeError(name)

    monkeypatch.setattr(Loader, name, fail)
    board.program = crash if name == "keep_error" else lambda loader: None
    if name == "keep_error":
        with pytest.raises(RuntimeError):  # on the board the reset comes first
            start(board)
    else:
        start(board)
    assert board.chip.resets == 1


def test_files_that_cannot_be_written_keep_no_start_away(board, monkeypatch):
    real = open

    def read_only(path, mode="r"):
        if mode != "r":
            raise OSError(28)
        return real(path, mode)

    monkeypatch.setattr(main, "open", read_only, raising=False)
    board.program = crash
    assert start(board) is not None
    assert board.chip.resets == 1


# Restarts


def test_the_reasons_of_the_loader_are_those_of_the_keeper():
    own = (main.POWER_ON, main.UNKNOWN, main.ORDERED, main.START_FAILED, main.GAVE_WAY)
    assert own == (health.POWER_ON, health.WATCHDOG, health.ORDERED, health.START_FAILED,
                   health.GAVE_WAY)


@pytest.fixture(params=["memory", "file"])
def kind(request, board, monkeypatch):
    """Restarts are counted in the memory of release 1.29, or without it in a file."""
    if request.param == "file":
        monkeypatch.delattr(fake.module("machine"), "mem_backup")
    return request.param


def test_power_that_comes_begins_a_new_count(board, kind):
    loader = start(board)
    assert (loader.reset_reason, loader.restarts) == (health.POWER_ON, 0)


def test_quick_restarts_are_counted_with_their_reason(board, kind):
    def fail(loader):
        loader.failure = health.SCAN_FAILED
        raise ValueError

    board.program = fail
    seen = [start(board) for _ in range(4)]
    assert [loader.restarts for loader in seen] == [0, 1, 2, 3]
    assert [loader.reset_reason for loader in seen] == [health.POWER_ON] + 3 * [health.SCAN_FAILED]


def test_a_watchdogs_reset_is_counted_too(board, kind):
    """Nobody marks it: what is kept when the program just stops is 'watchdog'."""
    board.program = lambda loader: None
    first = Loader(board.root)
    first.begin()
    second = Loader(board.root)
    second.begin()
    assert (second.reset_reason, second.restarts) == (health.WATCHDOG, 1)


def test_a_healthy_start_clears_the_count(board, kind):
    board.program = crash
    start(board)
    start(board)
    healthy = Loader(board.root)
    healthy.begin()
    assert healthy.restarts == 2
    healthy.confirm()
    after = Loader(board.root)
    after.begin()
    assert after.restarts == 1


def test_an_ordered_restart_is_not_counted(board, kind):
    board.program = crash
    start(board)
    start(board)
    board.program = lambda loader: None
    start(board)
    (board.path / "stay_out").unlink()
    loader = start(board)
    assert (loader.reset_reason, loader.restarts) == (health.ORDERED, 0)


def test_the_count_stays_within_its_field(board, kind):
    loader = Loader(board.root)
    loader.mark(health.SLACK_FAILED, 1000)
    again = Loader(board.root)
    again.begin()
    assert again.reset_reason == health.SLACK_FAILED
    assert again.restarts <= main.COUNT_MOST
