"""A terminal that is drawn on and left as it was found.

Only where output is a terminal that understands cursor control; elsewhere
lines are printed one after the other. No library for full-screen programs is
needed, so it works the same on every system.
"""

import os
import shutil
import signal
import sys
from collections.abc import Sequence
from typing import TextIO

# ECMA-48: cursor to the corner, erase to the end of line and of screen; DEC private
# modes 25 (cursor) and 1049 (second screen, the first comes back as it was).
ENTER, LEAVE = "\x1b[?1049h\x1b[?25l", "\x1b[?25h\x1b[?1049l"
HOME, TO_LINE_END, TO_SCREEN_END = "\x1b[H", "\x1b[K", "\x1b[J"
# Windows: standard output, and its mode that understands these sequences.
STANDARD_OUTPUT, UNDERSTANDS = -11, 0x0004


class Ended(Exception):
    """The terminal went away, or the program was told to end."""


def can_draw(out: TextIO) -> bool:
    """Return whether a stream is a terminal that understands cursor control."""
    if not out.isatty() or os.environ.get("TERM") == "dumb":
        return False
    return sys.platform != "win32" or _windows_understands()


def _windows_understands():
    import ctypes

    system = getattr(ctypes, "windll").kernel32  # noqa: B009 - there only on Windows
    handle = system.GetStdHandle(STANDARD_OUTPUT)
    mode = ctypes.c_ulong()
    if not system.GetConsoleMode(handle, ctypes.byref(mode)):
        return False
    return bool(system.SetConsoleMode(handle, mode.value | UNDERSTANDS))


def shows_blocks(out: TextIO) -> bool:
    """Return whether a stream can carry block characters."""
    try:
        "▁█".encode(out.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


class Screen:
    """The terminal of a stream, in a `with` block; whatever ends it, it is left as it was."""

    def __init__(self, out: TextIO):
        self._out = out
        self._before: dict[int, object] = {}

    def __enter__(self) -> "Screen":
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)
            if number is not None:
                self._before[number] = signal.signal(number, self._end)
        self._out.write(ENTER)
        self._out.flush()
        return self

    def __exit__(self, *_):
        for number, handler in self._before.items():
            signal.signal(number, handler)  # type: ignore[arg-type]
        try:
            self._out.write(LEAVE)
            self._out.flush()
        except OSError:
            pass  # the terminal itself went away

    @staticmethod
    def _end(*_):
        raise Ended

    def columns(self) -> int:
        """Return the width of the terminal [columns]."""
        return shutil.get_terminal_size().columns

    def rows(self) -> int:
        """Return the height of the terminal [lines]."""
        return shutil.get_terminal_size().lines

    def draw(self, lines: Sequence[str]) -> None:
        """Show lines from the top; those that do not fit below are left out, and it says so."""
        rows = self.rows()
        shown = list(lines)
        if len(shown) > rows:
            shown = [*shown[:rows - 1], f"... {len(shown) - rows + 1} more lines: a taller window"]
        text = (TO_LINE_END + "\r\n").join(shown)
        self._out.write(HOME + text + TO_LINE_END + TO_SCREEN_END)
        self._out.flush()
