"""Serves a simulated board's link on a real local line: a pseudo terminal, else TCP."""

import os
import select
import socket
import threading
from functools import partial

from keeper.link.rtu import Link

POLL_S = 0.02
CHUNK = 4096


class Served:
    """The keeper of a twin on a line; a context that gives the port's name.

    The twin stands still meanwhile: only the keeper's slack work goes on, so
    that a sync that is due does not keep the client waiting.
    """

    def __init__(self, keeper, now_ms: int):
        """Take the keeper and its time [ticks], which stands still."""
        self._keeper = keeper
        self._now_ms = now_ms
        self._link = Link(keeper, keeper.journal)
        self._stop = threading.Event()
        self._closing: list = []

    def __enter__(self) -> str:
        try:
            return self._pseudo_terminal()
        except (ImportError, AttributeError, OSError):
            return self._tcp()

    def __exit__(self, *_) -> None:
        self._stop.set()
        self._thread.join()
        for close in reversed(self._closing):
            close()

    def _start(self, target, *arguments):
        self._thread = threading.Thread(target=target, args=arguments, daemon=True)
        self._thread.start()

    def _pseudo_terminal(self):
        import tty  # Unix only

        line, far_end = os.openpty()
        # The far end stays open here: without it a read fails until a client comes.
        self._closing += [lambda: os.close(line), lambda: os.close(far_end)]
        tty.setraw(far_end)
        name = os.ttyname(far_end)
        self._start(self._serve, line, lambda: os.read(line, CHUNK), lambda data: _all(line, data))
        return name

    def _tcp(self):
        server = socket.create_server(("127.0.0.1", 0))
        self._closing.append(server.close)
        self._start(self._accept, server)
        return f"rtu:127.0.0.1:{server.getsockname()[1]}"

    def _accept(self, server):
        while not self._stop.is_set():
            if not select.select([server], [], [], POLL_S)[0]:
                continue
            line, _ = server.accept()
            with line:
                self._serve(line, partial(line.recv, CHUNK), line.sendall)

    def _serve(self, line, read, write):
        while not self._stop.is_set():
            if not select.select([line], [], [], POLL_S)[0]:
                continue
            try:
                data = read()
                if not data:
                    return
                self._answer(data, write)
            except OSError:
                return  # the line is gone: the client sees it too

    def _answer(self, data, write):
        self._link.feed(data, self._now_ms)
        while (reply := self._link.poll(self._now_ms)) is not None:
            write(bytes(reply))
        self._keeper.slack(self._now_ms)


def _all(line, data):
    while data:
        data = data[os.write(line, data):]
