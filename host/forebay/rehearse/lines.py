"""The lines of a simulated board: a pseudo terminal for its USB, else a TCP port.

They are the firmware's own links, on real local lines; nothing here waits for a
client, whatever it does or leaves undone.
"""

import os
import select
import socket

from keeper.clock import TICKS_MASK
from keeper.link.rtu import Link
from keeper.link.tcp import TcpPort

CHUNK = 4096
HOST = "127.0.0.1"       # of this computer only
# A reply that nobody has read for so long belongs to a client that is gone.
STALE_MS = 1000
BUSY_S = 0.001           # between two looks while an order waits or a reply leaves


class Terminal:
    """The line of a board's USB, as a pseudo terminal.  Attribute: port, its name."""

    def __init__(self):
        """Open it.  Raises ImportError, AttributeError or OSError where there are none."""
        import tty  # Unix only

        self._near, self._far = os.openpty()
        # The far end stays open here: without it a read fails until a client comes.
        tty.setraw(self._far)
        os.set_blocking(self._near, False)
        self.port = os.ttyname(self._far)
        self._link = None
        self._heard_ms = 0

    def attach(self, keeper, desk):
        """Let a keeper answer, with its order desk."""
        self._link = Link(keeper, keeper.journal, desk=desk, local=True)

    def detach(self):
        """Let nobody answer: the board has no power."""
        self._link = None

    def work(self, now_ms):
        """Answer what came by `now_ms` [ticks of the wall clock]."""
        data = self._read()
        if self._link is None:
            return
        if data:
            self._drop_unread(now_ms)
            self._link.feed(data, now_ms)
        while (reply := self._link.poll(now_ms)) is not None:
            self._write(bytes(reply))

    def wait(self, seconds):
        """Wait for requests, but no longer than that [s]."""
        busy = self._link is not None and not self._link.answers.desk.is_free()
        select.select([self._near], [], [], BUSY_S if busy else seconds)

    def close(self):
        """Close both ends."""
        os.close(self._near)
        os.close(self._far)

    def _read(self):
        try:
            return os.read(self._near, CHUNK)
        except BlockingIOError:
            return b""

    def _write(self, data):
        """Write as much as there is room for: a client that does not read loses the rest."""
        try:
            while data:
                data = data[os.write(self._near, data):]
        except BlockingIOError:
            pass

    def _drop_unread(self, now_ms):
        """Forget replies that a client left unread: the next one would take them for its own."""
        import termios

        if (now_ms - self._heard_ms) & TICKS_MASK > STALE_MS:
            termios.tcflush(self._far, termios.TCIFLUSH)
        self._heard_ms = now_ms


class Network:
    """The wireless board's Modbus over TCP, for this computer only.  Attribute: port, its name."""

    def __init__(self, number):
        """Listen at a TCP port [-], 0 = any that is free.  Raises OSError."""
        self._listener = socket.create_server((HOST, number))
        self.port = f"{HOST}:{self._listener.getsockname()[1]}"
        self._server = None

    def attach(self, keeper, desk):
        """Let a keeper answer, with its order desk."""
        self._server = TcpPort(keeper, keeper.journal, desk=desk)
        self._server.open(self._listener)

    def detach(self):
        """Let every client go: the board has no power."""
        if self._server is not None:
            self._server.listener = None  # it is the next start's as well
            self._server.close()
        self._server = None

    def work(self, now_ms):
        """Answer what came by `now_ms` [ticks of the wall clock]."""
        while self._server is not None and self._server.work(now_ms):
            pass

    def wait(self, seconds):
        """Wait for clients and requests, but no longer than that [s]."""
        server = self._server
        if server is None:
            select.select([], [], [], seconds)
            return
        busy = not server.answers.desk.is_free() or any(one.size for one in server.clients)
        select.select([self._listener, *[one.socket for one in server.clients if one.socket]],
                      [], [], BUSY_S if busy else seconds)

    def close(self):
        """Let every client go and listen no more."""
        self.detach()
        self._listener.close()


def opened(number):
    """Return a line: TCP at a port [-, 0 = a free one]; None: a pseudo terminal, else TCP.

    Raises OSError.
    """
    if number is not None:
        return Network(number)
    try:
        return Terminal()
    except (ImportError, AttributeError, OSError):
        return Network(0)
