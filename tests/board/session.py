"""What tests do with an emulated board: its files, its prompt, its port."""

import contextlib
import pathlib
from collections.abc import Iterator

import serial
from mpremote.transport_serial import SerialTransport

from tests.board import image
from tests.board.rig import EmulatedBoard

FIRMWARE = pathlib.Path(__file__).resolve().parent.parent.parent / "firmware"
READY_MS = 1000  # guess: five times what a start takes
READY_STEP_MS = 50


class NotReadyError(AssertionError):
    """The board did not come up."""


def firmware_files(more: dict[str, bytes]) -> dict[str, bytes]:
    """Returns everything under firmware/ by its path on the board, other files added."""
    return {**image.tree(FIRMWARE), **more}


def wait_usb(board: EmulatedBoard) -> None:
    """Lets board time pass until its serial port is up; raises NotReadyError."""
    for _ in range(READY_MS // READY_STEP_MS):
        board.run_ms(READY_STEP_MS)
        if board.state()["ready"]:
            return
    raise NotReadyError("USB is not up")


@contextlib.contextmanager
def prompt(board: EmulatedBoard) -> Iterator[SerialTransport]:
    """Opens the board's raw prompt, main.py interrupted; use `said` on it."""
    wait_usb(board)
    transport = SerialTransport(board.serial_path, exclusive=True)
    try:
        transport.enter_raw_repl(soft_reset=False)
        yield transport
    finally:
        transport.close()


def said(transport: SerialTransport, script: str) -> str:
    """Executes a script on the board; returns what it printed.

    Raises mpremote's TransportExecError with the board's traceback.
    """
    return transport.exec(script).decode().replace("\r\n", "\n").strip()


@contextlib.contextmanager
def serial_port(board: EmulatedBoard, timeout_s: float = 5.0) -> Iterator[serial.Serial]:
    """Opens the board's port as a program does, what lay there unread thrown away."""
    with serial.Serial(board.serial_path, timeout=timeout_s, exclusive=True) as port:
        port.reset_input_buffer()
        yield port
