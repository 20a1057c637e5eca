"""The two clients of pymodbus that a board is asked through, opened by a port's name.

Owns what a port's name means and how bytes are awaited; requests and answers
are pymodbus's.  Its serial client looks for bytes every millisecond and waits
one more to see that no other came, which costs more than two silences of the
line in each request; ours wakes with the bytes.
"""

import select
import time
from typing import Any

from pymodbus import FramerType
from pymodbus.client import ModbusSerialClient, ModbusTcpClient
from pymodbus.exceptions import ConnectionException

from forebay import ports
from forebay.errors import InputError
from forebay.links import RTU_PREFIX

# Silence ahead of a frame: 3.5 characters of 11 bits, above 19200 baud a fixed time ("MODBUS
# over Serial Line" V1.02, section 2.5.1.1).
FRAME_SILENCE_S = 0.00175
QUICK_BAUD = 19200
SILENT_BITS = 3.5 * 11
# The longest request and answer of 256 bytes each, on their way (same place, section 2.5.1).
FRAMES_BITS = 2 * 256 * 11
# RTU_PREFIX: a line that lends a serial line to a network speaks RTU frames, not MBAP.
TCP_PREFIX = "tcp:"
PORT_MOST = 65535


class WireError(InputError):
    """The port or the board did not do what was asked: what, why and what to try."""


class PromptSerial(ModbusSerialClient):
    """pymodbus's serial client, awake as soon as bytes are there.

    Attribute silence_s: what it leaves between an answer and the next request [s].
    """

    silence_s = FRAME_SILENCE_S
    _heard_s = 0.0

    def send(self, request: bytes, addr: tuple | None = None) -> int:
        """Send a request once the line has been silent for long enough; return its bytes."""
        time.sleep(max(0.0, self._heard_s + self.silence_s - time.monotonic()))
        return super().send(request, addr)

    def recv(self, size: int | None) -> bytes:
        """Return what has come [bytes]; wait for at least one, up to the time-out."""
        line: Any = self.socket
        if line is None:
            raise ConnectionException(str(self))
        try:
            first = line.read(1)
            found = first + line.read(line.in_waiting) if first else b""
            self._heard_s = time.monotonic()
            return found
        except OSError:
            self.close()
            raise ConnectionException(str(self)) from None

    def drain(self, silence_s: float) -> bool:
        """Throw away what is there or comes within a silence [s]; return whether any was."""
        line: Any = self.socket
        if line is None:
            return False
        try:
            line.timeout = silence_s
            found = bool(line.read(max(1, line.in_waiting)))
            line.timeout = self.comm_params.timeout_connect
        except OSError:
            return False
        return found


class PromptTcp(ModbusTcpClient):
    """pymodbus's TCP client, which can be emptied."""

    def drain(self, silence_s: float) -> bool:
        """Throw away what is there or comes within a silence [s]; return whether any was."""
        line: Any = self.socket
        if line is None:
            return False
        try:
            return bool(select.select([line], [], [], silence_s)[0]) and bool(line.recv(4096))
        except OSError:
            return False


def port_of_board(named: str | None) -> str:
    """Return the port that a command means: as named, else of the board plugged in or used last.

    Raises PortError if there is none, or it is no serial port that this user may
    open; WireError if it names a TCP stream badly.
    """
    port = ports.choose(named)
    if maybe_tcp(port) is None:
        ports.check(port)
    return port


def held_line(port: str) -> str:
    """Return in a sentence that a serial line is held while a sitting lasts; "" of a TCP one."""
    if maybe_tcp(port) is not None:
        return ""
    return (f"{port} is this sitting's until it ends, also while a question waits: no watch and no"
            " pull by that line meanwhile. Type leave to give it up and go on later.")


def client(port: str, timeout_s: float, speed_baud: int) -> PromptSerial | PromptTcp:
    """Return a client for a port, not yet connected.  Raises WireError for a bad name.

    timeout_s: longest wait for an answer [s], beside the time that frames need on a
    serial line of a speed [Bd].
    """
    address = maybe_tcp(port)
    if address is None:
        serial = PromptSerial(port, baudrate=speed_baud, retries=0,
                              timeout=timeout_s + FRAMES_BITS / speed_baud)
        if speed_baud <= QUICK_BAUD:
            serial.silence_s = SILENT_BITS / speed_baud
        if any(board.device == port for board in ports.candidates()):
            serial.silence_s = 0.0  # its own USB: there is no line that others listen to
        return serial
    framer = FramerType.RTU if port.startswith(RTU_PREFIX) else FramerType.SOCKET
    return PromptTcp(address[0], port=address[1], framer=framer, timeout=timeout_s, retries=0)


def maybe_tcp(port: str) -> tuple[str, int] | None:
    """Return (host, TCP port [-]) if `port` names a TCP stream, else None.

    HOST:PORT and tcp:HOST:PORT speak Modbus over TCP, rtu:HOST:PORT speaks RTU
    frames.  Raises WireError if it names one badly.
    """
    named = port.startswith((RTU_PREFIX, TCP_PREFIX))
    # Serial devices hold a slash, or (COM3) no colon.
    if not named and ("/" in port or ":" not in port):
        return None
    address = port.split(":", 1)[1] if named else port
    host, _, number = address.rpartition(":")
    if not host or not number.isdigit() or not 0 < int(number) <= PORT_MOST:
        raise WireError(f"port {port!r} is not HOST:PORT with a PORT of 1 to {PORT_MOST}")
    return host.strip("[]"), int(number)
