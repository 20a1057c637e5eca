"""A whole flash, in its order, on real littlefs: what a board answers on its line is told.

Real: the job, the deployment, the prompt's scripts, littlefs, a small program.
Stands in: what a keeper says on the line, and the restarts (tests/flash/test_board.py
has both on the board's interpreter).
"""

import hashlib
import types
from typing import Any

import pytest

from forebay import ports
from forebay.flash import FlashError, firmware, job, looking, rigfiles, running, slots
from forebay.flash.job import Job, expected_hash
from forebay.flash.running import NoHelloError
from forebay.rig import load
from keeper import health
from tests.flash import rigs
from tests.flash.littlefs_board import BYTE_CODE, LittleFsPrompt
from tests.journal.flash import PICO_BLOCKS, Chip

PORT = "/dev/ttyACM0"
ERROR = b"""Traceback (most recent call last):
  File "main.py", line 7, in start
ValueError: x
"""


class Board(LittleFsPrompt):
    """A board at its prompt. Attributes: calls, what was done to it in order; gives_prompt."""

    def __init__(self):
        super().__init__(Chip(PICO_BLOCKS), fresh=True)
        self.calls: list[str] = []
        self.gives_prompt = True

    def restart(self):
        self.calls.append("restart")


class Rig:
    """A rig whose board is flashed. Attributes: board, live: what its keeper says, now_s."""

    def __init__(self, patch, folder):
        self.board, self.rig, self.folder = Board(), load(), folder
        self.program = firmware.program(BYTE_CODE, folder,
                                        rigfiles.numbers_of(rigfiles.of_slot(self.rig)))
        self.before = None       # what a keeper says before the flash, None = none runs
        self.live: Any = {       # and after it
            "rig_id": self.rig.rig_id, "firmware_version": 1, "boot": 3, "uptime_ds": 50,
            "firmware_hash": expected_hash(self.program), "restarts": 0, "safe_reason": 0,
            "settings_crc": rigfiles.settings_crc(rigfiles.of_slot(self.rig)),
            "reset_reason": health.ORDERED}
        self.now_s = 100.0
        self.refuses = False
        self.asked: list[str] = []  # of the port, in its order
        self.opens_after = 0     # tries at its prompt that fail
        self.on_wait: Any = lambda: None  # what happens while it starts
        for name, value in (
                ("check", lambda port: self.asked.append("check")),
                ("serial_number", lambda port: (self.asked.append("number"), "E66")[1]),
                ("same_board", lambda port, number: port)):
            patch.setattr(ports, name, value)
        for name, value in (("maybe_greeting", lambda port: self.before), ("leave", self.leave),
                            ("wait_healthy", self.wait)):
            patch.setattr(running, name, value)
        patch.setattr(job, "Prompt", self.open)
        patch.setattr(job, "time", types.SimpleNamespace(
            monotonic=lambda: self.now_s, sleep=self.sleep))

    def sleep(self, seconds):
        self.now_s += seconds

    def open(self, port):
        self.opens_after -= 1
        if self.opens_after >= 0 or not self.board.gives_prompt:
            raise FlashError("the board gives no prompt")
        self.board.calls.append("prompt")
        return self.board

    def leave(self, port, stop, order, tell):
        assert self.asked[:2] == ["check", "number"]  # then the port may be gone
        self.board.calls.append("leave")
        if self.refuses:
            raise FlashError("something runs")

    def wait(self, port, number, tell):
        self.board.calls.append("wait")
        self.on_wait()
        if isinstance(self.live, Exception):
            raise self.live
        return port, self.live

    def flash(self, **changes: Any):
        return job.flash(Job(**{"port": PORT, "rig": self.rig, "shelf": None,
                                "order": lambda *_: 0, "key": bytes(32),
                                "folder": self.folder, **changes}))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return rigs.small(tmp_path_factory.mktemp("program") / "small", 1)


@pytest.fixture
def rig(monkeypatch, folder):
    return Rig(monkeypatch, folder)


def test_a_board_is_written_restarted_and_waited_for(rig):
    report = rig.flash()
    files, _ = rig.board.files()
    assert rig.board.calls == ["prompt", "restart", "wait"]
    assert (report.slot, report.files, report.changed, report.pulled) == ("a", 3, True, None)
    assert (report.rig_id, report.boot, report.interpreter) == (rig.rig.rig_id, 3, "1.29.0")
    assert report.notes == []
    assert files["/rig/key"] == bytes(32)
    assert files["/main.py"] == (rigs.FIRMWARE / "main.py").read_bytes()


def test_a_running_keeper_leaves_before_its_prompt_is_opened(rig):
    rig.before = rig.live
    rig.opens_after = 4  # it takes a while
    rig.flash()
    assert rig.board.calls == ["leave", "prompt", "restart", "wait"]


def test_a_prompt_that_does_not_come_after_a_keeper_left_is_waited_for_twenty_seconds(rig):
    rig.before = rig.live
    rig.board.gives_prompt = False
    began_s = rig.now_s
    with pytest.raises(FlashError, match="^the board gives no prompt"):
        rig.flash()
    assert 20 <= rig.now_s - began_s <= 21


def test_where_neither_keeper_nor_prompt_answers_both_are_told_at_once(rig):
    rig.board.gives_prompt = False
    began_s = rig.now_s
    with pytest.raises(FlashError, match=f"no keeper answers at {PORT}, and the board gives no"):
        rig.flash()
    assert rig.now_s - began_s <= 1


def test_the_time_that_nobody_watched_ends_with_the_first_scan_of_the_new_keeper(rig):
    rig.live["uptime_ds"] = 62
    rig.on_wait = lambda: rig.sleep(40)
    assert rig.flash().away_s == pytest.approx(40 - 6.2)


@pytest.mark.parametrize("stage", ["copy", "verify", "key", "loader"])
@pytest.mark.parametrize("error", [KeyboardInterrupt(), FlashError("no room")])
def test_whatever_ends_a_flash_the_board_is_restarted(rig, stage, error):
    def tell(now, done, total):
        if now == stage:
            raise error

    with pytest.raises(type(error)):
        rig.flash(tell=tell)
    assert rig.board.calls == ["prompt", "restart"]
    assert slots.TRIAL not in rig.board.files()[0] or stage == "loader"


def other_program(rig):
    """The hash of another program, which lies in slot b of a board whose pointer names slot a."""
    rig.flash()
    fill(rig, "b", b"another program")
    rig.board.put({"/slot": b"a", "/slot_new": b"b4"})
    return int.from_bytes(hashlib.sha256(b"another program").digest()[:8], "big")


def fill(rig, slot, program):
    """Makes a slot hold a program beside the settings that it has."""
    files, _ = rig.board.files()
    held = {name: files[f"/{slot}/{name}"] for name in ("settings", "wiring")}
    held["program.mpy"] = program
    rig.board.put({f"/{slot}/program.mpy": program,
                   f"/{slot}/whole": looking.whole_text(firmware.hashes(held))})


@pytest.mark.parametrize("stands_in", [True, False])
def test_a_slot_that_was_damaged_is_mended_by_the_next_flash_from_the_one_that_is_whole(
        rig, stands_in):
    rig.flash()
    rig.board.put({"/slot": b"a", "/slot_new": b"", "/a/program.mpy": b"damaged"})
    if stands_in:
        rig.before = {**rig.live, "reset_reason": health.GAVE_WAY}
    report = rig.flash()
    files, _ = rig.board.files()
    assert (report.slot, report.changed) == ("b", True)
    assert files["/a/program.mpy"] == files["/b/program.mpy"] == rig.program.files["program.mpy"]


def test_a_program_that_stands_in_for_the_other_is_not_written_over_and_it_is_told(rig):
    stand_in = other_program(rig)
    rig.board.put({"/slot_new": b""})
    rig.before = {**rig.live, "reset_reason": health.GAVE_WAY, "firmware_hash": stand_in}
    report = rig.flash()
    files, _ = rig.board.files()
    assert (report.slot, files["/slot"], files["/slot_new"]) == ("a", b"b", b"a0")
    assert files["/b/program.mpy"] == b"another program"
    assert "did not stay up" in report.notes[0]


def test_an_update_that_was_given_up_is_so_till_the_next_is_on_trial(rig):
    other_program(rig)
    fill(rig, "a", b"a third program")
    seen = []
    rig.flash(tell=lambda *_: seen.append(rig.board.files()[0].get("/slot_new")))
    assert rig.board.files()[0]["/slot_new"] == b"b0"
    assert set(seen) == {b"b4"}  # wherever it is cut


def test_a_slot_that_was_given_up_and_is_filled_anew_is_no_longer_so(rig):
    other_program(rig)
    rig.board.remove("/b/whole")
    report = rig.flash()
    files, _ = rig.board.files()
    assert (report.slot, files["/slot"]) == ("a", b"a")
    assert files["/b/program.mpy"] == files["/a/program.mpy"]
    assert "/slot_new" not in files


def test_the_error_of_the_program_before_is_forgotten_with_the_switch_and_not_without(rig):
    rig.board.put({"/last_error": ERROR})
    rig.flash()
    assert "/last_error" not in rig.board.files()[0]
    rig.board.put({"/last_error": ERROR})
    assert not rig.flash().changed
    assert rig.board.files()[0]["/last_error"] == ERROR


# Nobody says hello


@pytest.mark.parametrize(("kept", "said"), [
    (ERROR, r'its last error: ValueError: x \(File "main.py", line 7, in start\)'),
    (b"", "it kept no error"), (None, "it kept no error")])
def test_a_board_that_stays_silent_is_asked_at_its_prompt_what_happened(rig, kept, said):
    rig.live = NoHelloError("the board did not say hello")
    rig.on_wait = lambda: rig.board.put({} if kept is None else {"/last_error": kept})
    with pytest.raises(FlashError, match=f"was written and read back.*slot a.*, but the board did"
                                         f" not say hello; {said}: see `forebay watch`"):
        rig.flash()
    assert rig.board.calls == ["prompt", "restart", "wait", "prompt", "restart"]


def test_a_board_that_stays_silent_without_a_prompt_may_still_start(rig):
    rig.live = NoHelloError("the board did not say hello")
    rig.on_wait = lambda: setattr(rig.board, "gives_prompt", False)
    with pytest.raises(FlashError, match="but the board did not say hello: see `forebay watch`"):
        rig.flash()


def test_a_silent_board_on_which_nothing_had_to_change_is_told_so(rig):
    rig.flash()
    rig.live = NoHelloError("the board did not say hello")
    with pytest.raises(FlashError, match="had to change nowhere"):
        rig.flash()


# The board went back


@pytest.fixture
def fallen_back(rig):
    """A rig whose board runs another program after the flash, and keeps an error."""
    rig.live["firmware_hash"] ^= 1
    rig.on_wait = lambda: rig.board.put({"/last_error": ERROR})
    return rig


def test_a_program_that_did_not_stay_up_is_told_with_its_error_and_the_old_one_runs_on(
        fallen_back):
    with pytest.raises(FlashError, match="did not stay up: the board went back to the one it had,"
                                         " and runs it; its last error: ValueError: x"):
        fallen_back.flash()
    # Its keeper leaves to have the error read, and is waited for again.
    assert fallen_back.board.calls == ["prompt", "restart", "wait", "leave", "prompt", "restart",
                                       "wait"]


def test_an_old_program_that_is_busy_is_not_stopped_to_have_the_error_read(fallen_back):
    fallen_back.refuses = True
    with pytest.raises(FlashError, match="its last error is in /last_error; something runs"):
        fallen_back.flash()
    assert fallen_back.board.calls == ["prompt", "restart", "wait", "leave"]


def test_a_keeper_in_its_safe_mode_is_noted_in_the_report(rig):
    rig.live["safe_reason"] = 2
    report = rig.flash()
    assert report.safe_reason == 2
    assert "safe mode" in report.notes[0]
