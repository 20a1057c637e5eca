"""A board whose parts cannot be made: a safe start round a bare one, whose lines answer."""

from typing import Any

import pytest

from forebay.words.operation import SAFE_REASONS
from keeper import health
from keeper.boards import parts, start
from keeper.boards import wiring as wr
from keeper.boards.kinds import PICO
from keeper.channels import CHANNELS, INVALID
from keeper.modes import MAINTENANCE
from tests.drivers import fake
from tests.loop import whole
from tests.loop.test_start import begin, driven, failing, folder, request_of

__all__ = ["folder"]

PARTS = ["valve", "maybe_loop", "maybe_level", "monitors", "meters", "maybe_thermistor",
         "thermometers", "thermometer_places", "serial_stream"]
SAFE_START = 3  # quick restarts


def answers(folder, restarts) -> Any:
    """A start that is asked on both lines; returns it."""
    board: Any = whole.Whole(str(folder), restarts)
    chip = fake.module("machine").CHIP
    board.at = [(500, lambda: whole.USB.incoming.extend(request_of(1, 4, 0, 10))),
                (500, lambda: chip.uarts and chip.uarts[0].waiting.extend(request_of(1, 4, 0, 2)))]
    board.run(2000)
    return board


@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("error", [ValueError("no such pin"), OSError(5), MemoryError()])
def test_whichever_part_cannot_be_made_the_safe_start_answers_with_its_outputs_off(
        folder, chip, monkeypatch, name, error):
    monkeypatch.setattr(parts, name, failing(error))
    board = answers(folder, SAFE_START)
    assert board.keeper.safe_reason == health.NO_BOARD
    assert board.keeper.state == MAINTENANCE
    assert bytes(whole.USB.taken[:3]) == bytes([1, 4, 20])
    if name != "serial_stream":
        assert bytes(chip.uarts[0].sent[:3]) == bytes([1, 4, 4])
    assert set(driven()) <= {"valve_open"}  # the supply of the servo that holds the valve shut
    assert (folder / "last_error").read_text() == type(error).__name__
    assert board.keeper.health.error_path == str(folder / "last_error")


@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("restarts", [0, 1, 2, 4])
def test_before_that_it_is_tried_anew_so_an_update_falls_back_at_once(
        folder, monkeypatch, name, restarts):
    monkeypatch.setattr(parts, name, failing(ValueError("no such pin")))
    with pytest.raises(ValueError, match="no such pin"):
        begin(folder, restarts)
    assert driven() == []


def test_a_board_that_can_be_made_keeps_its_parts_in_a_safe_start(folder):
    board = begin(folder, SAFE_START)
    assert board.keeper.safe_reason == health.RESTARTING
    assert isinstance(board.keeper.board, start.Board)


def test_a_bare_board_believes_no_reading_and_shuts_its_valve_if_it_has_one(
        folder, chip, monkeypatch):
    wiring = wr.defaults()
    wiring[wr.index("valve_kind")] = wr.MOTOR
    (folder / "a" / "wiring").write_bytes(wr.pack(wiring))
    monkeypatch.setattr(parts, "monitors", failing(ValueError()))
    board: Any = whole.Whole(str(folder), SAFE_START)
    seen = []

    def look():
        chip.machines[PICO.valve_machines[1]].run(10)   # the pulse that shuts it
        seen.append(driven())

    board.at = [(1000, look)]
    board.run(2000)
    assert seen == [["valve_close"]]
    values = board.keeper.core.values
    trusted = {row[0] for row, value in zip(CHANNELS, values, strict=False) if value != INVALID}
    assert trusted <= {"flow_up_uL_s", "flow_down_uL_s"}  # of meters that count nothing
    assert board.keeper.contact_bits() == 0


def test_a_safe_start_of_a_bare_board_writes_only_why(folder, monkeypatch):
    monkeypatch.setattr(parts, "monitors", failing(ValueError()))
    before = {path.name for path in folder.rglob("*") if path.is_file()}
    begin(folder, SAFE_START, run_ms=70_000)
    assert {path.name for path in folder.rglob("*") if path.is_file()} == {*before, "last_error"}


def test_it_ends_by_itself_as_the_part_may_be_there_again(folder, monkeypatch):
    monkeypatch.setattr(parts, "monitors", failing(ValueError()))
    board = begin(folder, SAFE_START, run_ms=660_000)
    assert board.ended is False
    assert board.loader.failure == health.TO_TRY_AGAIN
    assert board.loader.confirmed == 0


def test_the_board_says_three_blinks_where_it_has_a_light(folder, chip, monkeypatch):
    monkeypatch.setattr(parts, "monitors", failing(ValueError()))
    board = begin(folder, SAFE_START)
    assert board.keeper.board.lamp.end_period == 3 * 3


def test_what_is_not_the_boards_doing_still_ends_a_safe_start(folder, monkeypatch):
    monkeypatch.setattr(start, "Desk", failing(RuntimeError("no desk")))
    with pytest.raises(RuntimeError, match="no desk"):
        begin(folder, SAFE_START)
    assert driven() == []


def test_the_reason_has_words():
    assert "wiring" in SAFE_REASONS[health.NO_BOARD]
