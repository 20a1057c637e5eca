"""The patience of programs that talk to an emulated board: counted in the board's own time.

The emulation is slower than the board, the more so the more else runs on the
machine. A program that waits two seconds for an answer means two seconds of
the board's, so its clock, its rests and the time-outs of its serial port
follow the board here; while the board has no power or stands still, the
wall's time goes on for them. A hang still ends: by HANG_S on the wall.
"""

import contextlib
import select
import time
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import pytest
from pymodbus.client import serial as modbus_serial
from serial import serialposix, serialutil

from tests.board.emulator import RigError
from tests.board.rig import EmulatedBoard

HANG_S = 1800.0  # of one conversation; the longest takes some minutes
LOOK_S = 0.002  # between two looks at the board's clock, on the wall

_wall_s = time.monotonic
_rest = time.sleep


class BoardClock:
    """Stands for the modules `time` and `select` in programs that talk to a board."""

    def __init__(self, board: EmulatedBoard):
        """board: whose time counts."""
        self._board = board
        self._end_s = _wall_s() + HANG_S

    def monotonic(self) -> float:
        """Returns the board's clock [s]."""
        if _wall_s() > self._end_s:
            raise RigError(f"a conversation with the board took more than {HANG_S:.0f} s")
        return self._board.clock_ms() / 1000

    def sleep(self, seconds: float) -> None:
        """Waits until so much board time has passed [s]."""
        end_s = self.monotonic() + seconds
        while self.monotonic() < end_s:
            _rest(LOOK_S)

    def select(
        self, read: Any, write: Any, other: Any, seconds: float | None = None
    ) -> tuple[list, list, list]:
        """Waits as select.select does, for board time [s]."""
        end_s = None if seconds is None else self.monotonic() + seconds
        while True:
            found = select.select(read, write, other, LOOK_S)
            if any(found):
                return found
            if end_s is not None and self.monotonic() >= end_s:
                # This program may have stood still since the look, the board not.
                return select.select(read, write, other, 0)


@contextlib.contextmanager
def following(board: EmulatedBoard) -> Iterator[BoardClock]:
    """Lets board time pass, and every program here wait by it."""
    clock = BoardClock(board)
    looking = SimpleNamespace(select=clock.select, error=select.error)
    telling = SimpleNamespace(time=clock.monotonic, sleep=clock.sleep)
    was_held = board.held
    board.release()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(time, "monotonic", clock.monotonic)
        patch.setattr(time, "sleep", clock.sleep)
        patch.setattr(serialutil.Timeout, "TIME", staticmethod(clock.monotonic))
        patch.setattr(serialposix, "select", looking)
        patch.setattr(modbus_serial, "time", telling)
        try:
            yield clock
        finally:
            if was_held:
                board.hold()
