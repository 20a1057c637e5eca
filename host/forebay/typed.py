"""Lines as somebody types them, for a thread that ends with its program."""

import os
import threading
from collections.abc import Iterator

STDIN, READ_BYTES = 0, 4096


def typed_lines(retry_s: float | None = None) -> Iterator[str]:
    """Give the lines of the standard input till its end.

    retry_s: look again after so long [s] while the terminal is another program's (this one is
    in the background); None = that is the end.  Read without Python's buffer, whose lock a
    thread must not hold at the end.
    """
    rest = b""
    while True:
        try:
            data = os.read(STDIN, READ_BYTES)
        except OSError:
            if retry_s is None:
                return
            threading.Event().wait(retry_s)
            continue
        *lines, rest = (rest + data).split(b"\n")
        yield from (line.decode(errors="replace").rstrip("\r") for line in lines)
        if not data:
            return
