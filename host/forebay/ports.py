"""Ports as people know them: which boards are plugged in, which one is meant, why one stays shut.

It opens no port and knows nothing of what is spoken on it.
"""

import os
import stat
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from serial.tools import list_ports

from forebay import lastused
from forebay.errors import InputError

# USB vendor number of the boards' maker: common practice, no source.
VENDOR = 0x2E8A


# Lines that pyserial finds by an address of its own kind.
URL_MARK = "://"


class PortError(InputError):
    """No port, several, or one that this user may not open."""


@dataclass(frozen=True)
class Candidate:
    """A serial port that looks like a board: device, and the number that USB knows it by."""

    device: str
    serial_number: str


def candidates() -> list[Candidate]:
    """Return the boards that are plugged in, by device."""
    found = [Candidate(port.device, port.serial_number or "")
             for port in list_ports.comports() if port.vid == VENDOR]
    return sorted(found, key=lambda candidate: candidate.device)


def choose(named: str | None, usb: bool = False, found: Sequence[Candidate] | None = None,
           ask: Callable[[list[Candidate]], str] | None = None) -> str:
    """Return the port that is meant.

    named: what the user said, taken as it is.  usb: only a board that is
    plugged in counts, not a line that was used last.  found: the boards that
    are plugged in; None: look.  One is chosen; with several the one used last
    if it is among them, else what `ask` returns for them.  Raises PortError if
    that leaves none, or several and nobody to ask.
    """
    if named:
        return named
    boards = list(candidates() if found is None else found)
    if len(boards) == 1:
        return boards[0].device
    last = lastused.port()
    if last and any(last in (board.device, board.serial_number) for board in boards):
        return next(board.device for board in boards
                    if last in (board.device, board.serial_number))
    if boards and ask:
        return ask(boards)
    if boards:
        names = ", ".join(f"{board.device} (USB number {board.serial_number or 'unknown'})"
                          for board in boards)
        raise PortError(f"several boards are plugged in: {names}; name one with --port")
    if last and not usb:
        return last
    raise PortError("no board is plugged in: connect it by USB, or name its port with --port"
                    f" ({_example()})")


def _example():
    return "such as COM3" if sys.platform == "win32" else "such as /dev/ttyACM0"


def same_board(port: str, serial_number: str) -> str:
    """Return where a board is now that was at a port: its name may change with a restart."""
    if serial_number:
        for board in candidates():
            if board.serial_number == serial_number:
                return board.device
    return port


def serial_number(port: str) -> str:
    """Return the number that USB knows the board at a port by, "" if it has none."""
    return next((board.serial_number for board in candidates() if board.device == port), "")


def check(port: str) -> None:
    """Raise PortError if a serial port is not there, or not for this user to open."""
    path = Path(port)
    if sys.platform == "win32" or URL_MARK in port:
        return
    try:
        mode = path.stat().st_mode
    except OSError:
        names = ", ".join(board.device for board in candidates()) or "none"
        raise PortError(f"there is no port {port} (boards plugged in: {names}): is the cable"
                        " in, does it carry data?") from None
    if not stat.S_ISCHR(mode):
        raise PortError(f"{port} is not a serial port: name one {_example()}")
    if not os.access(path, os.R_OK | os.W_OK):
        raise PortError(f"this user may not open {port}: {_permission(path)}")


def _permission(path):
    try:
        group = path.group()
    except (KeyError, OSError, NotImplementedError):
        group = ""
    if group in ("", "root"):
        return "ask whoever runs this computer to let you use serial ports"
    return (f"it is for the group {group}; run `sudo usermod -a -G {group} $USER`, then log"
            " out and in again")
