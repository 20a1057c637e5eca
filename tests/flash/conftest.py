"""A flash of the demo's rig onto a board behind a terminal, with a program that needs no pins."""

import contextlib

import pytest

from forebay.dispatch import sending
from forebay.dispatch.keys import ensure
from forebay.dispatch.sending import order
from forebay.flash import Job, firmware, flash, running
from forebay.rig import load
from forebay.shelf import Shelf
from tests.flash import rigs
from tests.flash.interpreter import TerminalBoard

WATCHED_DS = 10  # of a start that is taken for steady


@contextlib.contextmanager
def patient():
    """A busy machine makes the interpreter slower than any board.

    How long a start is watched is held by test_running.py, what a program is made of by
    test_firmware.py: here neither is waited for again and again.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sending, "JUDGED_S", 60.0)
        patch.setattr(running, "STEADY_DS", WATCHED_DS)
        patch.setattr(firmware, "program", rigs.program_once)
        yield


@pytest.fixture(scope="module")
def patience():
    """Patience with the interpreter behind the terminal."""
    with patient():
        yield


@pytest.fixture
def release(tmp_path):
    """A firmware folder whose start needs no pins."""
    return rigs.firmware(tmp_path / "release")


@pytest.fixture
def run(release, tmp_path, patience):
    """Flashes the demo's rig onto a board; returns the report."""

    def flash_board(board, **changes):
        stages = []
        with Shelf(tmp_path / "shelf.sqlite") as shelf:
            job = Job(**{"port": board.port, "rig": load(), "shelf": shelf,
                         "order": order, "key": ensure(load().rig_id).secret, "folder": release,
                         "tell": lambda stage, done, total: stages.append(stage), **changes})
            return flash(job)

    return flash_board


@pytest.fixture(scope="session")
def flashed(tmp_path_factory):
    """What a first flash reported, and files of that board: it is healthy."""
    folder = tmp_path_factory.mktemp("flashed")
    with patient(), TerminalBoard({}) as board, Shelf(folder / "shelf.sqlite") as shelf:
        report = flash(Job(board.port, load(), shelf, order, key=ensure(load().rig_id).secret,
                           folder=rigs.firmware(folder / "release")))
        return report, board.files()
