"""A pseudo-terminal that looks to a program like the board's serial port."""

import contextlib
import os
import select
import threading
import tty
from collections.abc import Callable

READ_MOST = 4096
WRITE_PATIENCE_S = 0.2


class SerialLine:
    """Carries bytes between a terminal and two functions.

    Attributes: path (what a program opens), dropped (bytes that nobody read).
    """

    def __init__(self, received: Callable[[bytes], None]):
        """received: takes what a program writes; called from a thread of this object."""
        self._master, self._slave = os.openpty()
        # Otherwise the terminal echoes, and reads control characters in data.
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.path = os.ttyname(self._slave)
        self.dropped = 0
        self._received = received
        self._wake_out, self._wake_in = os.pipe()
        self._thread = threading.Thread(target=self._carry, daemon=True)
        self._thread.start()

    def send(self, data: bytes) -> None:
        """Hands bytes to whatever program has the terminal open; drops what none reads."""
        while data:
            try:
                data = data[os.write(self._master, data) :]
            except BlockingIOError:
                if not select.select([], [self._master], [], WRITE_PATIENCE_S)[1]:
                    self.dropped += len(data)
                    return

    def close(self) -> None:
        """Ends the thread and gives the terminal back."""
        os.write(self._wake_in, b"\0")
        self._thread.join()
        for descriptor in (self._master, self._slave, self._wake_out, self._wake_in):
            os.close(descriptor)

    def _carry(self) -> None:
        while True:
            readable, _, _ = select.select([self._master, self._wake_out], [], [])
            if self._wake_out in readable:
                return
            with contextlib.suppress(BlockingIOError):
                self._received(os.read(self._master, READ_MOST))
