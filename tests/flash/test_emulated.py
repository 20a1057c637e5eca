"""The same flash on an emulated RP2040: real flash, real littlefs, real USB, the whole firmware.

Without an interpreter image these are not run (tests/board/rig.py).
"""

import shutil

import pytest

from forebay.dispatch import sending
from forebay.dispatch.keys import BOARD_PATH, ensure
from forebay.dispatch.sending import order
from forebay.flash import Job, deploy, firmware, flash, job, looking, prompt, rigfiles, running
from forebay.flash.prompt import Prompt
from forebay.rig import load
from forebay.shelf import Shelf
from forebay.wire import client
from tests.board import rig, session
from tests.flash import rigs

# The emulation is several times slower than a board, more on a busy machine.
SLOWNESS = 10
CUT_AFTER = 25  # commands: in the middle of the first slot


class Cut(Exception):
    """The laptop died."""


@pytest.fixture(autouse=True)
def patience(monkeypatch):
    """Waits as long as an emulated board needs."""
    for module, names in ((running, ("GREETING_S", "PARTING_S", "START_S")),
                          (prompt, ("ANSWER_S", "ENTER_S", "READ_S")), (job, ("PROMPT_S",)),
                          (client, ("TIMEOUT_S", "SILENCE_S")), (sending, ("JUDGED_S",))):
        for name in names:
            monkeypatch.setattr(module, name, SLOWNESS * getattr(module, name))


@pytest.fixture
def board():
    if rig.missing():
        pytest.skip(rig.missing())
    with rig.EmulatedBoard({}) as found:
        session.wait_usb(found)
        yield found


def flashed(board, tmp_path, release):
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        return flash(Job(board.serial_path, load(), shelf, order,
                         key=ensure(load().rig_id).secret, folder=release))


def test_flash_cut_flash_pull_and_flash_again(board, tmp_path, record_property, monkeypatch):
    """One board's life: a first flash that is cut off, its repair, and one without a change."""

    class DyingPrompt(Prompt):
        def run(self, script):
            if self.executed == CUT_AFTER:
                board.power_off()
                board.power_on()
                session.wait_usb(board)
                raise Cut
            return super().run(script)

    release = shutil.copytree(rigs.FIRMWARE, tmp_path / "release")
    with DyingPrompt(board.serial_path) as at_prompt:
        wanted = looking.Wanted(firmware.program(at_prompt.identity().mpy, release),
                               rigfiles.of_slot(load()), {}, firmware.loader(release))
        found = looking.look(at_prompt, wanted)
        with pytest.raises(Cut):
            deploy.deploy(at_prompt, wanted, found, lambda *_: None)
    cut = board.files()
    assert "/main.py" not in cut
    assert "/a/program.mpy" in cut
    assert "/a/whole" not in cut

    first = flashed(board, tmp_path, release)
    assert first.files == len(wanted.slot)
    files = board.files()
    for slot in "ab":
        assert {path: files[f"/{slot}/{path}"] for path in wanted.slot} == wanted.slot
    assert files[BOARD_PATH] == ensure(first.rig_id).secret
    record_property("measured", f"emulated board: flash took {first.time_s} s of wall time,"
                                f" {board.state()['erased']} sectors erased so far")

    second = flashed(board, tmp_path, release)
    assert not second.changed
    assert second.pulled
    assert second.pulled["new_events"] > 0
    assert second.boot > first.boot
    assert board.faults == []
