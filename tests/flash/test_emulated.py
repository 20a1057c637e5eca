"""The same flash on an emulated RP2040: real flash, real littlefs, real USB, the whole firmware.

Without an interpreter image these are not run (tests/board/rig.py).
"""

import shutil

import pytest

from forebay.dispatch.keys import BOARD_PATH, ensure
from forebay.dispatch.sending import order
from forebay.flash import Job, deploy, firmware, flash, looking, rigfiles
from forebay.flash.prompt import Prompt
from forebay.rig import load
from forebay.shelf import Shelf
from tests.board import clock, rig, session
from tests.flash import rigs

CUT_AFTER = 25  # commands: in the middle of the first slot


class Cut(Exception):
    """The laptop died."""


@pytest.fixture
def board():
    if rig.missing():
        pytest.skip(rig.missing())
    with rig.EmulatedBoard({}, held=True) as found:
        session.wait_usb(found)
        with clock.following(found):
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
        wanted = looking.Wanted(firmware.program(
            at_prompt.identity().mpy, release, rigfiles.numbers_of(rigfiles.of_slot(load()))),
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
