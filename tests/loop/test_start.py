"""A whole start of the keeper on a board: good files, bad files, and a program that fails."""

import struct
from typing import Any

import pytest

from keeper import health
from keeper import settings as st
from keeper.boards import start
from keeper.boards import wiring as wr
from keeper.boards.pins import P_GPIO, P_NAME, gpio, outputs
from keeper.crc import crc16
from keeper.modes import MAINTENANCE
from tests.drivers import fake
from tests.drivers.bench import Rig
from tests.loop import whole

SOUND, BAD_SETTINGS, RESTARTING, NO_FILES = range(4)
FIVE_MINUTES_MS = 300_000  # of a healthy start, before an update is taken for good


@pytest.fixture
def folder(chip, tmp_path, monkeypatch):
    """The board's files with good settings; a rig around the board."""
    for name in ("time", "select", "sys", "gc", "Keeper"):
        monkeypatch.setattr(start, name, getattr(start, name))
    Rig()
    chip.i2c_opened = 0
    monkeypatch.setattr(whole.Gc, "free_B", whole.Gc.free_B)
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "settings").write_bytes(whole.settings_file())
    (tmp_path / "a" / "wiring").write_bytes(wr.pack(wr.defaults()))
    return tmp_path


def begin(folder, restarts=0, run_ms=2000) -> Any:
    board: Any = whole.Whole(str(folder), restarts)
    board.run(run_ms)
    return board


def failing(error):
    """Returns a function that raises."""
    def fail(*_):
        raise error

    return fail


def driven():
    chip = fake.module("machine").CHIP
    return [row[P_NAME] for row in outputs() if chip.level(row[P_GPIO])]


def test_with_good_files_the_keeper_starts_sound_and_scans(folder, chip):
    board = begin(folder)
    assert board.keeper.safe_reason == SOUND
    assert board.keeper.health.journal_state == health.KEPT
    assert board.keeper.scans == 20
    assert board.keeper.health.late_ms == 0
    assert chip.watchdog.fed > 3
    assert not chip.watchdog.has_bitten()
    assert (folder / "journal").is_dir()


def test_the_watchdog_runs_before_the_first_bus_is_touched(folder, chip, monkeypatch):
    real = start.Board
    seen = []

    def board(*parts):
        seen.append((chip.watchdog is not None, chip.i2c_opened))
        return real(*parts)

    monkeypatch.setattr(start, "Board", board)
    begin(folder)
    assert seen == [(True, 0)]
    assert chip.watchdog.timeout_ms == start.WATCHDOG_ms


def damaged(folder, name):
    path = folder / "a" / name
    data = bytearray(path.read_bytes())
    data[20] ^= 1
    path.write_bytes(bytes(data))


def bad_settings(folder):
    damaged(folder, "settings")


def no_settings(folder):
    (folder / "a" / "settings").unlink()


def no_wiring(folder):
    (folder / "a" / "wiring").unlink()


def no_folder(folder):
    no_settings(folder)
    no_wiring(folder)
    (folder / "a").rmdir()


def bad_wiring(folder):
    damaged(folder, "wiring")


# The supply of the servo, which holds the valve shut; without a wiring nobody
# knows whether that pin does not drive a motor open.
HELD, NOTHING = ["valve_open"], []


@pytest.mark.parametrize(("spoil", "on"), [
    (bad_settings, HELD), (no_settings, HELD), (no_folder, NOTHING), (bad_wiring, NOTHING),
    (no_wiring, NOTHING)])
def test_files_that_cannot_be_trusted_make_a_safe_start_that_writes_nothing(folder, spoil, on):
    spoil(folder)
    before = sorted(path.name for path in folder.rglob("*") if path.is_file())
    board = begin(folder, run_ms=70_000)
    assert board.keeper.safe_reason == BAD_SETTINGS
    assert board.keeper.health.journal_state == health.SAFE_MODE
    assert board.keeper.state == MAINTENANCE
    assert driven() == on
    assert sorted(path.name for path in folder.rglob("*") if path.is_file()) == before


@pytest.mark.parametrize(("restarts", "reason"), [
    (0, SOUND), (1, SOUND), (2, SOUND), (3, RESTARTING), (4, SOUND), (5, SOUND), (6, RESTARTING),
    (253, SOUND), (255, RESTARTING)])
def test_every_third_quick_restart_makes_a_safe_start(folder, restarts, reason):
    board = begin(folder, restarts)
    assert board.keeper.safe_reason == reason
    assert board.keeper.health.restarts == restarts


def test_settings_that_nobody_can_read_outrank_the_restarts(folder):
    bad_settings(folder)
    assert begin(folder, restarts=3).keeper.safe_reason == BAD_SETTINGS


def request_of(unit, function, address, count):
    frame = struct.pack(">BBHH", unit, function, address, count)
    return frame + struct.pack("<H", crc16(frame, 0, len(frame)))


@pytest.mark.parametrize("restarts", [0, 3])
def test_the_line_answers_in_a_sound_start_and_in_a_safe_one(folder, restarts):
    board: Any = whole.Whole(str(folder), restarts)
    board.at = [(500, lambda: whole.USB.incoming.extend(request_of(1, 4, 0, 10)))]
    board.run(1000)
    reply = bytes(whole.USB.taken)
    assert reply[:3] == bytes([1, 4, 20])
    assert len(reply) == 3 + 20 + 2
    assert crc16(reply, 0, len(reply)) == 0  # a CRC over itself


def test_what_a_safe_start_finds_of_the_journal_can_be_read(folder):
    begin(folder, run_ms=70_000)
    board = begin(folder, restarts=3)
    files = board.keeper.journal.files()
    assert files
    buffer = bytearray(16)
    assert board.keeper.journal.read_file(files[0][0], 0, buffer) == 16
    assert board.keeper.journal.size_of(files[0][0]) == files[0][1]


def test_the_rs485_line_answers_and_leaves_the_pair_to_others(folder, chip):
    board: Any = whole.Whole(str(folder))

    def ask():
        chip.uarts[0].waiting.extend(request_of(1, 4, 0, 2))

    def sent():
        assert chip.level(gpio("uart_de")) == 1
        chip.uarts[0].done = True

    board.at = [(500, ask), (700, sent)]
    board.run(1000)
    assert bytes(chip.uarts[0].sent[:3]) == bytes([1, 4, 4])
    assert chip.level(gpio("uart_de")) == 0


@pytest.mark.parametrize(
    ("part", "name", "reason"),
    [
        ("board", "read", health.SCAN_FAILED),
        ("board", "write", health.SCAN_FAILED),
        ("board", "slack", health.SLACK_FAILED),
        ("journal", "slack", health.SLACK_FAILED),
    ],
)
def test_a_part_that_fails_ends_the_start_safe_with_its_reason(folder, part, name, reason):
    board: Any = whole.Whole(str(folder))

    def fail(*_):
        raise OSError(5)

    def spoil():
        machine = fake.module("machine")
        machine.Pin(gpio("pump_switch"), machine.Pin.OUT, value=1)
        assert "pump_switch" in driven()
        setattr(getattr(board.keeper, part), name, fail)

    board.at = [(500, spoil)]
    with pytest.raises(OSError, match="5"):
        board.run(1000)
    assert set(driven()) <= {"valve_open"}
    assert board.loader.failure == reason


@pytest.mark.parametrize("name", ["read_settings", "open_files", "Keeper", "open_ports", "Loop"])
def test_a_start_that_fails_anywhere_leaves_the_outputs_safe(folder, name, monkeypatch):
    board: Any = whole.Whole(str(folder))
    fail = failing(RuntimeError(name))
    if name == "Keeper":
        board.make = fail
    else:
        monkeypatch.setattr(start, name, fail)
    with pytest.raises(RuntimeError, match=name):
        board.run(1000)
    assert driven() == []
    assert board.loader.failure == health.START_FAILED


def test_a_board_that_cannot_be_made_leaves_every_output_low(folder, monkeypatch):
    machine = fake.module("machine")

    def board(*_):
        machine.Pin(gpio("valve_open"), machine.Pin.OUT, value=1)
        raise ValueError("no such pin")

    monkeypatch.setattr(start, "Board", board)
    with pytest.raises(ValueError, match="no such pin"):
        begin(folder)
    assert driven() == []


def test_a_start_is_confirmed_once_after_five_minutes_and_not_before(folder):
    board: Any = whole.Whole(str(folder))
    seen = []
    board.at = [(ms, lambda: seen.append(board.loader.confirmed))
                for ms in (1000, 60_000, FIVE_MINUTES_MS - 1000, FIVE_MINUTES_MS + 1000)]
    board.run(FIVE_MINUTES_MS + 5000)
    assert seen == [0, 0, 0, 1]
    assert board.loader.confirmed == 1


def test_an_order_to_leave_ends_the_start_by_itself(folder, monkeypatch):
    board: Any = whole.Whole(str(folder), restarts=3)  # a safe start is in maintenance at once
    machine = fake.module("machine")
    light = gpio("lamps_off")

    def leave():
        machine.Pin(light, machine.Pin.OUT, value=1)
        board.keeper.leaving = True

    board.at = [(500, leave)]
    assert board.run(10_000)
    assert set(driven()) <= {"valve_open"}


def test_the_program_is_known_by_the_second_line_of_what_the_loader_read_back(folder, monkeypatch):
    digest = "0123456789abcdef" + 48 * "7"
    (folder / "a" / "whole").write_text(64 * "e" + "\n" + digest + "\n")
    desks = []
    real = start.Desk
    monkeypatch.setattr(start, "Desk", lambda *parts: desks.append(real(*parts)) or desks[-1])
    begin(folder)
    assert desks[0].identity.firmware_hash == 0x0123456789ABCDEF


def test_the_settings_of_a_safe_start_are_legal():
    assert st.problems(st.fallback()) == []
