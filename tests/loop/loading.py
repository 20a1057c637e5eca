"""What the tests of the loader share: one start of a board, and how a program fails."""

import shutil
from typing import Any

import main

from keeper.boards.pins import gpio
from tests.drivers import fake


def start(board) -> Any:
    """One start of the board; returns the loader that the program saw, None if none ran."""
    fake.module("micropython").KEPT["interrupt"] = 3
    board.runs.clear()
    main.main(board.root)
    return board.runs[0] if board.runs else None


def fill(folder) -> None:
    """Makes a folder a slot that holds a program."""
    folder.mkdir(exist_ok=True)
    for name in ("program.mpy", "whole"):
        (folder / name).touch()


def empty(folder) -> None:
    """Takes the program out of a slot."""
    shutil.rmtree(folder)
    folder.mkdir()


def fill_as_before(folder) -> None:
    """Makes a folder a slot as it was before programs were one file."""
    empty(folder)
    (folder / "keeper").mkdir()


def press(board, is_closed) -> None:
    """Closes the button's contact while `is_closed(now_ms)`, from the start on."""
    line = board.chip.lines[gpio("button")]

    def look():
        line.outside = 0 if is_closed(board.chip.clock.ticks_ms()) else 1

    look()
    board.chip.clock.on_sleep = look


def text(board, name) -> Any:
    path = board.path / name
    return path.read_text() if path.exists() else None


def crash(loader):
    raise ValueError("something in the program")
