"""A whole start of the keeper on a board: good files, bad files, and a program that fails."""

import json
import struct
from typing import Any

import pytest

from keeper import health, loop
from keeper import settings as st
from keeper.boards import start
from keeper.boards import wiring as wr
from keeper.boards.pins import P_GPIO, P_NAME, gpio, outputs
from keeper.crc import crc16
from keeper.modes import MAINTENANCE
from tests.drivers import fake
from tests.drivers.bench import Rig
from tests.loop import whole
from tests.micropython.harness import ROOT, run_micropython

SOUND, BAD_SETTINGS, RESTARTING, NO_FILES = range(4)


@pytest.fixture
def folder(chip, tmp_path, monkeypatch):
    """The board's files with good settings; a rig around the board."""
    for name in ("time", "select", "sys", "gc", "Keeper"):
        monkeypatch.setattr(start, name, getattr(start, name))
    Rig()
    chip.i2c_opened = 0
    (tmp_path / "rig").mkdir()
    (tmp_path / "rig" / "settings").write_bytes(whole.settings_file())
    (tmp_path / "rig" / "wiring").write_bytes(wr.pack(wr.defaults()))
    return tmp_path


def begin(folder, restarts=0, run_ms=2000) -> Any:
    board: Any = whole.Whole(str(folder), restarts)
    board.run(run_ms)
    return board


def driven():
    chip = fake.module("machine").CHIP
    return [row[P_NAME] for row in outputs() if chip.level(row[P_GPIO])]


def test_with_good_files_the_keeper_starts_sound_and_scans(folder, chip):
    board = begin(folder)
    assert board.keeper.safe_reason == SOUND
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
    path = folder / "rig" / name
    data = bytearray(path.read_bytes())
    data[20] ^= 1
    path.write_bytes(bytes(data))


def bad_settings(folder):
    damaged(folder, "settings")


def no_settings(folder):
    (folder / "rig" / "settings").unlink()


def no_wiring(folder):
    (folder / "rig" / "wiring").unlink()


def no_folder(folder):
    no_settings(folder)
    no_wiring(folder)
    (folder / "rig").rmdir()


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
    assert board.keeper.state == MAINTENANCE
    assert driven() == on
    assert sorted(path.name for path in folder.rglob("*") if path.is_file()) == before


@pytest.mark.parametrize(("restarts", "reason"), [(0, SOUND), (2, SOUND), (3, RESTARTING)])
def test_the_third_quick_restart_makes_a_safe_start(folder, restarts, reason):
    board = begin(folder, restarts)
    assert board.keeper.safe_reason == reason
    assert board.keeper.health.restarts == restarts


def test_a_journal_that_cannot_be_opened_makes_a_safe_start(folder, monkeypatch):
    def fail(*_):
        raise MemoryError

    monkeypatch.setattr(start, "open_journal", fail)
    assert begin(folder).keeper.safe_reason == NO_FILES


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
        board.keeper.core.outputs[0] = 1
        setattr(getattr(board.keeper, part), name, fail)

    board.at = [(500, spoil)]
    with pytest.raises(OSError, match="5"):
        board.run(1000)
    assert set(driven()) <= {"valve_open"}
    assert board.loader.failure == reason


@pytest.mark.parametrize("name", ["read_settings", "open_files", "Keeper", "open_ports", "Loop"])
def test_a_start_that_fails_anywhere_leaves_the_outputs_safe(folder, name, monkeypatch):
    board: Any = whole.Whole(str(folder))

    def fail(*_):
        raise RuntimeError(name)

    if name == "Keeper":
        board.make = fail
    else:
        monkeypatch.setattr(start, name, fail)
    with pytest.raises(RuntimeError, match=name):
        board.run(1000)
    assert driven() == []
    assert board.loader.failure == health.START_FAILED


def test_a_start_that_was_healthy_for_long_enough_is_confirmed_once(folder, monkeypatch):
    monkeypatch.setattr(loop, "HEALTHY_PERIODS", 30)
    assert begin(folder, run_ms=2500).loader.confirmed == 0
    assert begin(folder, run_ms=9000).loader.confirmed == 1


def test_an_order_to_leave_ends_the_start_by_itself(folder, monkeypatch):
    board: Any = whole.Whole(str(folder), restarts=3)  # a safe start is in maintenance at once
    board.at = [(500, lambda: setattr(board.keeper, "leaving", True))]
    assert board.run(10_000)
    assert set(driven()) <= {"valve_open"}


def test_the_settings_of_a_safe_start_are_legal():
    assert st.problems(st.fallback()) == []


# The board has random numbers in `os`, this build of its interpreter has none.
WITH_RANDOM = """
import os
import sys


class _Os:
    pass


_os = _Os()
for _name in dir(os):
    setattr(_os, _name, getattr(os, _name))
if not hasattr(os, "urandom"):
    _os.urandom = lambda count: bytes(range(count))
sys.modules["os"] = _os
"""

BOARD_RUN = """
import json
import os

os.mkdir("/rig")
with open("/rig/settings", "wb") as file:
    file.write(settings_file())
with open("/rig/wiring", "wb") as file:
    file.write(start.wr.pack(start.wr.defaults()))
rig = Rig()
board = Whole("")


def change():
    rig.monitors["pump"].silent = not rig.monitors["pump"].silent
    rig.pulses("flow_up", 3)
    rig.motor.damage ^= 1
    USB.incoming.extend(bytes({request}))
    board.at.append((CHIP.clock.ticks_ms() + 700, change))


board.at.append((300, change))
ended = board.run(60000)
print(json.dumps([ended, board.keeper.scans, board.keeper.safe_reason, len(USB.taken),
                  board.keeper.health.late_ms, CHIP.watchdog.fed > 100]))
"""


def test_a_minute_of_the_whole_program_on_the_boards_interpreter(folder):
    """Every scan with its heap really locked; journal, link and drivers in between."""
    folder_of = ROOT / "tests"
    script = WITH_RANDOM + (folder_of / "drivers" / "bench.py").read_text()
    script += (folder_of / "loop" / "whole.py").read_text()
    script += BOARD_RUN.format(request=list(request_of(1, 4, 0, 10)))
    run = run_micropython(script, files=fake.sources(), timeout_s=240)
    ended, scans, reason, taken, late_ms, fed = json.loads(run.stdout)
    assert (ended, scans, reason, late_ms, fed) == (False, 600, SOUND, 0, True)
    assert taken >= 80 * 25
