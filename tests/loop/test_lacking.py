"""A start that lacks something: safe for a while, or without a journal; it tries again."""

from typing import Any

import pytest

from keeper import health, loop
from keeper.boards import lamp, quiet, retry, start
from keeper.boards import wiring as wr
from keeper.boards.retry import Retry, safe_wait_ds
from keeper.link.pdu import PDU_MOST, Answers
from keeper.modes import STANDSTILL, STATES
from tests.keeper.scripted import settings_with
from tests.link.frames import read_file, read_registers
from tests.loop import whole
from tests.loop.test_start import NO_FILES, SOUND, begin, driven, failing, folder

__all__ = ["folder"]

MIN_DS, H_DS = 600, 36000
DAY_STEPS = 400  # of 1.25 mV: by the least settings no night, and too dull for the pump


def without(folder, monkeypatch, name="open_journal", error=None, run_ms=2000) -> Any:
    """A start in which one part cannot be made."""
    monkeypatch.setattr(start, name, failing(error or MemoryError()))
    return begin(folder, run_ms=run_ms)


# Safe for a while


@pytest.mark.parametrize(("restarts", "wait_ds"), [
    (0, 10 * MIN_DS), (2, 10 * MIN_DS), (3, 10 * MIN_DS), (5, 10 * MIN_DS), (6, 20 * MIN_DS),
    (9, 40 * MIN_DS), (21, 640 * MIN_DS), (24, 12 * H_DS), (255, 12 * H_DS)])
def test_a_safe_mode_lasts_ten_minutes_doubled_for_each_round_and_twelve_hours_at_most(
        restarts, wait_ds):
    assert safe_wait_ds(restarts) == wait_ds


@pytest.mark.parametrize("restarts", [3, 6])
def test_a_safe_start_ends_by_itself_and_the_next_is_a_whole_one(folder, monkeypatch, restarts):
    monkeypatch.setattr(retry, "FIRST_DS", 20)
    board = begin(folder, restarts, run_ms=60_000)
    assert board.ended is False
    assert board.keeper.scans == 20 * restarts // 3
    assert board.loader.failure == health.TO_TRY_AGAIN
    assert board.loader.restarts == restarts  # the loader counts on from there
    assert set(driven()) <= {"valve_open"}
    assert begin(folder, restarts + 1).keeper.safe_reason == SOUND


def test_files_that_cannot_be_used_are_tried_again_and_the_error_is_kept(folder, monkeypatch):
    monkeypatch.setattr(retry, "FIRST_DS", 20)
    board = without(folder, monkeypatch, error=KeyError("strange"), run_ms=60_000)
    assert board.keeper.safe_reason == NO_FILES
    assert board.keeper.health.journal_state == health.UNUSABLE
    assert board.ended is False
    assert (folder / "last_error").read_text() == "KeyError"


def test_a_safe_start_that_a_person_must_mend_waits_for_one(folder, monkeypatch):
    monkeypatch.setattr(retry, "FIRST_DS", 20)
    (folder / "a" / "settings").unlink()
    board = begin(folder, run_ms=60_000)
    assert board.ended is None
    assert board.keeper.scans == 600


def test_a_start_that_lacks_something_proves_no_update(folder, monkeypatch):
    monkeypatch.setattr(loop, "HEALTHY_PERIODS", 5)
    for board in (begin(folder, 3), without(folder, monkeypatch)):
        assert board.loader.confirmed == 0
        assert board.loader.marked == [(health.WATCHDOG, 0)]
        assert board.loader.restarts == 0  # an error hours later is the first in a row


# Without a journal


def test_want_of_memory_for_the_journal_leaves_the_rig_protected_and_lit(folder, monkeypatch):
    board = without(folder, monkeypatch, run_ms=5000)
    assert board.keeper.safe_reason == SOUND
    assert board.keeper.health.journal_state == health.NO_MEMORY
    assert board.keeper.state == STANDSTILL
    assert not board.keeper.core.sequence.held_safe
    assert board.keeper.retained.memory is not None  # a lockout is remembered all the same
    assert board.keeper.scans == 50


def test_what_is_not_written_is_counted(folder, monkeypatch):
    board = without(folder, monkeypatch)
    events = board.keeper.events
    for _ in range(100):
        events.post(1, 0, 0)
    assert events.lost > 0


def test_what_there_is_of_the_journal_can_be_read_without_one(folder, monkeypatch):
    begin(folder, run_ms=70_000)
    board = without(folder, monkeypatch)
    assert board.keeper.journal.files()


def test_without_memory_even_to_list_the_files_the_line_answers(folder, monkeypatch):
    monkeypatch.setattr(quiet, "Segments", failing(MemoryError()))
    board = without(folder, monkeypatch)
    assert board.keeper.health.journal_state == health.NOT_EVEN_READ
    answers = Answers(board.keeper, board.keeper.journal)
    reply = bytearray(PDU_MOST)
    assert answers.answer(read_registers(320, 16), reply) == 2 + 32
    assert answers.answer(read_file((16384, 0, 1)), reply) == 2  # an empty list
    assert reply[1] == 2


@pytest.mark.parametrize(("failures", "state"), [(1, health.RECORDING), (2, health.NO_MEMORY)])
@pytest.mark.parametrize("name", ["Keeper", "open_ports", "Loop"])
def test_for_want_of_memory_the_free_piece_gives_way_and_then_the_journal(
        folder, monkeypatch, name, failures, state):
    board: Any = whole.Whole(str(folder))
    tries = []
    real = getattr(start, name)

    def once(*parts):
        tries.append(name)
        if len(tries) <= failures:
            raise MemoryError
        return real(*parts)

    if name == "Keeper":
        board.make = once
    else:
        monkeypatch.setattr(start, name, once)
    board.run(2000)
    assert board.keeper.safe_reason == SOUND
    assert board.keeper.health.journal_state == state
    assert board.keeper.scans == 20


def test_a_journal_that_leaves_too_little_for_an_answer_gives_way(folder):
    whole.Gc.free_B = 8000  # the list of 200 files is longer
    board = begin(folder)
    assert board.keeper.health.journal_state == health.NO_MEMORY


def test_without_memory_for_what_is_locked_out_nothing_starts(folder, monkeypatch):
    with pytest.raises(MemoryError):
        without(folder, monkeypatch, "RetainedFiles")
    assert driven() == []


@pytest.mark.parametrize(("name", "restarts", "blinks"), [
    (None, 0, lamp.WELL), ("open_journal", 0, lamp.NO_JOURNAL), (None, 3, lamp.STANDS_SAFE)])
def test_the_boards_light_says_how_the_start_is(folder, monkeypatch, name, restarts, blinks):
    if name:
        monkeypatch.setattr(start, name, failing(MemoryError()))
    board = begin(folder, restarts)
    assert board.keeper.board.lamp.end_period == lamp.EVERY_PERIODS * blinks


def test_an_hour_later_at_rest_it_tries_again_and_no_quick_restart_is_counted(
        folder, chip, monkeypatch):
    assert retry.LACKING_DS == H_DS
    chip.i2c_devices[wr.defaults()[wr.index("panel_monitor")]].set(0, DAY_STEPS)
    monkeypatch.setattr(retry, "LACKING_DS", 30)
    monkeypatch.setattr(start, "LACKING_DS", 30)
    board = without(folder, monkeypatch, run_ms=60_000)
    assert board.ended is False
    assert board.keeper.scans == 30
    assert board.loader.failure == health.TO_TRY_AGAIN
    assert board.loader.restarts == 0


# When it is a time to try again


class At:
    """A keeper of the given rig at standstill, an hour after its start."""

    def __init__(self, **changes):
        from keeper.keeper import Keeper
        from tests.keeper.scripted import ScriptedBoard

        settings = settings_with(list(changes.items()))
        journal = quiet.QuietJournal("/nowhere", 1, health.NO_MEMORY)
        self.keeper = Keeper(settings, ScriptedBoard(), journal)
        self.keeper.core.uptime_ds = H_DS
        self.sequence = self.keeper.core.sequence
        self.sequence.state = STANDSTILL
        self.light = self.sequence.light

    def is_due(self):
        return Retry(self.keeper, H_DS).is_due()


def test_at_rest_by_day_an_hour_later_is_a_time():
    assert At().is_due()


def test_before_the_hour_is_over_is_none():
    at = At()
    at.keeper.core.uptime_ds = H_DS - 1
    assert not at.is_due()


def test_light_that_was_turned_off_for_the_night_stays_off():
    at = At()
    at.light.dark = at.light.off_tonight = True
    assert not at.light.due()
    assert not at.is_due()


@pytest.mark.parametrize("name", ["ordered_periods", "ends_periods", "off_periods"])
def test_nothing_that_a_restart_would_forget_is_interrupted(name):
    at = At()
    setattr(at.light, name, 1)
    assert not at.is_due()


def test_an_order_to_drain_is_not_interrupted():
    at = At()
    at.sequence.drain_periods = 1
    assert not at.is_due()


@pytest.mark.parametrize("state", range(len(STATES)))
def test_nothing_that_runs_is_interrupted(state):
    at = At()
    at.sequence.state = state
    assert at.is_due() == (state == STANDSTILL)


@pytest.mark.parametrize(("clock_on", "due"), [(1200, False), (-1, True)])
def test_a_clock_that_the_light_goes_by_is_not_forgotten(clock_on, due):
    at = At(clock_on_min=clock_on)
    at.light.clock_known = True
    assert at.is_due() == due
