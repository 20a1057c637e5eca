"""Starts of the whole firmware from what a power cut left, and cuts within such starts."""

import functools
import random

import pytest

from forebay.wire.client import Board as Client
from keeper import modes
from tests.board import clock, journals, session, states, watched

# The bar for the first scan is 2.5 s; what the watchdog ended after 8 s would not answer now.
START_MS = 5000
PROTECTED_MS = 2500
SAFE_MS = 50
OFF_MS = 20_000
SHARE_OF_OPERATION = 0.5
ROWS = (0, 1, 20, 40, 50, 63, 64)
JOURNALS = {
    **{f"{rows} rows": functools.partial(journals.of_tail, rows) for rows in ROWS},
    "the most rows": journals.of_largest_tail,
    "the budget reached": journals.full,
    "damage": lambda: journals.damaged(journals.of_largest_tail()),
}
# Rows and syncs of some seconds, so that most cuts come near one.
QUICK = {"row_standstill_s": 2, "tail_sync_s": 2}
LOADS = [session.GPIO[name] for name in ("pump_switch", "lamps_off", "dump_switch")]


@functools.cache
def made(name: str) -> dict[str, bytes]:
    return JOURNALS[name]()


@functools.cache
def program_on_flash(**changed: int) -> dict[str, bytes]:
    return session.flashed_files(with_rig=True, changed=changed)


def powered(board) -> float:
    """Fits a board and gives it power; returns when [ms]."""
    session.fit(board)
    board.clear()
    board.marks()
    begun_ms = board.state()["ms"]
    board.power_on()
    return begun_ms


def assert_up(board, begun_ms: float, boot: int, before) -> None:
    """Fails unless the keeper protects in time, is whole, and serves what had been committed."""
    board.run_ms(START_MS)
    found = states.live(board)
    watched.assert_real(found, board, boot)
    assert found["state"] == modes.STANDSTILL
    for gpio in LOADS:
        levels = board.history(gpio)
        low_ms = next(at for at, level in levels if level == "low")
        assert low_ms - begun_ms <= SAFE_MS
        assert "high" not in [level for _, level in levels]
    earlier = journal_sizes(board)
    with clock.following(board), Client(board.serial_path) as client:
        served = dict(client.directory())
        content = journals.of_flash(board.files())
    # The keeper goes on meanwhile and may write: what it served lies between.
    for least, size, most in zip(earlier, sorted(served.values()), journal_sizes(board),
                                 strict=True):
        assert least <= size <= most
    # What was damaged is in no row that a reader finds, before or after.
    assert content.rows.items() >= before.rows.items()
    assert set(content.by_event) >= set(before.by_event)
    assert content.conflicts == []
    first_ms = watched.first(board.marks(), watched.LOCK)
    assert first_ms - begun_ms <= PROTECTED_MS


def journal_sizes(board) -> list[int]:
    """Returns the sizes of the journal's files on flash [bytes], the least first."""
    return sorted(len(data) for path, data in board.files().items()
                  if path.startswith(journals.FOLDER + "/") and not path.endswith("scratch"))


def starts_of(content) -> int:
    """Returns the newest start that a journal knows [-], 0 if it knows none."""
    return max((event[1] for event in content.events), default=0)


@pytest.mark.parametrize("name", JOURNALS)
def test_from_any_journal_a_start_that_is_cut_and_the_next_one_come_up_with_all_rows(
    make_board, name
):
    files = program_on_flash() | made(name)
    before = journals.of_flash(made(name))
    with make_board(files, held=True, powered=False, watched=(watched.LOCK,)) as board:
        powered(board)
        # The start's first write: nothing of an earlier life may be lost with it.
        board.cut_power(1, SHARE_OF_OPERATION)
        assert not board.run_ms(OFF_MS)
        between = journals.of_flash(board.files())
        assert between.rows.items() >= before.rows.items()
        begun_ms = powered(board)
        boot = max(starts_of(between), starts_of(before)) + 1
        if name == "damage":
            # Its events are damaged: a start passes the numbers that they may have held.
            board.run_ms(START_MS)
            boot = states.live(board)["boot"]
            assert boot > starts_of(journals.of_flash(made("the most rows")))
            board.power_off()
            begun_ms, boot = powered(board), boot + 1
        assert_up(board, begun_ms, boot, before)


def cuts_in_a_row(make_board, seed: int, cuts: int, longest_s: int, record_property) -> None:
    """Cuts the power again and again on one flash, each some seconds after the start before."""
    chance = random.Random(seed)
    files = program_on_flash(**QUICK) | made("63 rows")
    before = journals.of_flash(made("63 rows"))
    with make_board(files, held=True, powered=False, watched=(watched.LOCK,)) as board:
        for number in range(cuts):
            powered(board)
            if number % 2:
                board.run_ms(chance.uniform(5, longest_s) * 1000)
                board.power_off()
            else:  # inside a write: the first that comes after the time
                board.run_ms(chance.uniform(5, longest_s) * 1000)
                board.cut_power(1, chance.random())
                assert not board.run_ms(OFF_MS)
            assert board.resets == 0, board.files().get("/last_error", b"no error was kept")
            after = journals.of_flash(board.files())
            assert after.rows.items() >= before.rows.items()
            assert starts_of(after) == number + 2
            assert after.conflicts == []
            before = after
        assert_up(board, powered(board), cuts + 2, before)
    record_property("measured", f"emulated board: {cuts} power cuts in a row, {len(before.rows)}"
                    " rows kept")


def test_the_board_comes_up_again_after_cuts_in_a_row(make_board, record_property):
    cuts_in_a_row(make_board, 1, 4, 9, record_property)


@pytest.mark.long
def test_the_board_comes_up_again_after_twenty_cuts_in_a_row(make_board, record_property):
    cuts_in_a_row(make_board, 2, 20, 90, record_property)
