"""The loop and the loader run on the fake chip, with a clock that moves when told."""

import types
from typing import Any

import pytest

from tests.drivers import fake

fake.install()

import main  # noqa: E402 - found through the line above

from keeper.boards.pins import P_GPIO, outputs  # noqa: E402
from tests.loop.loading import fill  # noqa: E402

PROGRAM, OLD_PROGRAM = "program", "keeper.boards.start"


@pytest.fixture
def chip() -> Any:
    """The chip as after power came."""
    return fake.module("machine").renew()


@pytest.fixture
def board(chip, tmp_path, monkeypatch):
    """A board with a program in both slots; what its `run` does is `board.program`."""
    board = types.SimpleNamespace(root=str(tmp_path), path=tmp_path, chip=chip, runs=[],
                                  old_runs=0)
    board.program = lambda loader: None
    for slot in ("a", "b"):
        fill(tmp_path / slot)

    def run(loader):
        board.runs.append(loader)
        for row in outputs():  # it leaves all of them on
            pin = fake.module("machine").Pin
            pin(row[P_GPIO], pin.OUT, value=1)
            assert chip.level(row[P_GPIO]) == 1
        return board.program(loader)

    monkeypatch.setattr(main, "time", chip.clock)
    monkeypatch.setattr(main.sys, "path", list(main.sys.path))
    def run_old(loader):
        board.old_runs += 1
        return run(loader)

    monkeypatch.setitem(main.sys.modules, PROGRAM, types.SimpleNamespace(run=run))
    monkeypatch.setitem(main.sys.modules, OLD_PROGRAM, types.SimpleNamespace(run=run_old))
    return board
