"""The board at its prompt: look, write, remove, rename, restart.

The way there is mpremote's serial transport.  It must not know what the files
mean.  Every fault of the line or the board is a FlashError in one line.
"""

import base64
import contextlib
import io
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import serial
from mpremote.transport import TransportError, TransportExecError
from mpremote.transport_serial import SerialTransport

from forebay.flash import scripts
from forebay.flash.errors import FlashError
from forebay.flash.slots import Tree
from forebay.words.operation import WAY_IN

# One answer: a board that writes flash may be silent for several stalls of 1.2 s.
ANSWER_S = 10
ENTER_S = 4
READ_S = 2
# A piece of a file in one command: a few kilobytes of the board's heap.
PIECE_BYTES = 1536


@dataclass(frozen=True)
class Identity:
    """What the interpreter says of itself.

    version, like "1.29.0"; mpy, format of byte code it reads [-]; build, name
    of its board; chip, its unique number; block_bytes and free_blocks of its
    file system, 0 if it does not tell.
    """

    version: str
    mpy: int
    build: str
    chip: str
    block_bytes: int
    free_blocks: int


class Prompt:
    """The raw prompt of the board at `port`; use it in a `with` block."""

    def __init__(self, port: str):
        self.port = port
        self.executed = 0
        try:
            with _quiet():
                self._line = SerialTransport(port, timeout=READ_S)
                line: Any = self._line.serial
                line.write_timeout = ANSWER_S
        except (TransportError, OSError) as error:
            raise FlashError(f"port {port} cannot be opened: {_one_line(error)}") from error
        try:
            with _quiet():
                self._line.enter_raw_repl(timeout_overall=ENTER_S)
            self.run(scripts.PREPARE)
        except (TransportError, OSError) as error:
            self.close()
            raise FlashError(
                f"the board at {port} gives no prompt: {_one_line(error)}; {WAY_IN} and try"
                " again") from error
        except FlashError:
            self.close()
            raise

    def __enter__(self) -> "Prompt":
        return self

    def __exit__(self, *_):
        self.close()

    def close(self) -> None:
        """Leave the port; the board stays at its prompt."""
        with contextlib.suppress(TransportError, OSError):
            self._line.close()

    def run(self, script: str) -> list[str]:
        """Execute a script on the board; return the lines that it printed."""
        self.executed += 1
        try:
            with _quiet():
                out, complaint = self._line.exec_raw(script, timeout=ANSWER_S)
        except TransportExecError as error:
            raise FlashError(f"the board failed: {_one_line(error)}") from error
        except (TransportError, serial.SerialException, OSError) as error:
            raise FlashError(f"the line to the board at {self.port} broke:"
                             f" {_one_line(error)}") from error
        if complaint:
            raise FlashError(f"the board failed: {_last_line(complaint)}")
        return out.decode(errors="replace").split("\n")[:-1]

    def identity(self) -> Identity:
        """Return what the interpreter says of itself."""
        version, mpy, build, chip, space = [line.strip() for line in self.run(scripts.IDENTITY)]
        block, free = space.split()
        return Identity(version, int(mpy), build, chip, int(block), int(free))

    def tree(self, folder: str) -> Tree:
        """Return what lies below a folder; an empty tree if it is not there."""
        found = Tree()
        for line in self.run(f"fb_walk({folder!r})"):
            path, _, value = line.strip().rpartition(" ")
            if value == "-":
                found.folders.append(path.rstrip("/"))
            else:
                found.files[path] = value
        return found

    def hashes(self, paths: Iterable[str]) -> dict[str, str]:
        """Return path -> SHA-256 of those of some files that are there."""
        script = "\n".join(f"fb_try({path!r})" for path in paths)
        if not script:
            return {}  # to the board an empty command is a soft reset
        return dict(line.strip().rsplit(" ", 1) for line in self.run(script))

    def maybe_read(self, path: str) -> bytes | None:
        """Return a small file [at most 1024 bytes], None if it is not there."""
        text = "".join(self.run(f"fb_read({path!r})")).strip()
        return None if text == "-" else bytes.fromhex(text)

    def write(self, path: str, data: bytes) -> None:
        """Write a file; it is whole on the board when this returns."""
        pieces = [data[at:at + PIECE_BYTES] for at in range(0, len(data), PIECE_BYTES)]
        coded = [base64.b64encode(piece).decode() for piece in pieces]
        begin = f"gc.collect()\nfb_file = open({path!r}, 'wb')\n"
        if len(coded) <= 1:
            body = f" fb_part({coded[0]!r})\n" if coded else " pass\n"
            self.run(f"{begin}try:\n{body}finally:\n fb_file.close()")
            return
        self.run(begin)
        for piece in coded:
            self.run(f"fb_part({piece!r})")
        self.run("fb_file.close()")

    def replace(self, path: str, data: bytes) -> None:
        """Put a file in the place of another, the old one or the new one whole at any time."""
        self.write(path + ".new", data)
        self.rename(path + ".new", path)

    def rename(self, path: str, target: str) -> None:
        """Put a file in the place of another, at once."""
        self.run(f"os.rename({path!r}, {target!r})")

    def copy(self, source: str, path: str) -> None:
        """Copy a file on the board itself."""
        self.run(f"fb_copy({source!r}, {path!r})")

    def remove(self, path: str) -> None:
        """Remove a file if it is there."""
        self.run(f"fb_remove({path!r})")

    def remove_folder(self, path: str) -> None:
        """Remove an empty folder."""
        self.run(f"os.rmdir({path!r})")

    def make_folder(self, path: str) -> None:
        """Make a folder if it is not there."""
        self.run(f"fb_mkdir({path!r})")

    def leave_by(self, script: str) -> None:
        """Execute a script that the board does not come back from; the line is closed after it."""
        with contextlib.suppress(TransportError, OSError), _quiet():
            self._line.exec_raw_no_follow(script)
        self.close()

    def restart(self) -> None:
        """Let the board start anew, as after power came."""
        self.leave_by(scripts.RESTART)


def _quiet():
    """Keep what the transport prints to itself: stdout is for data."""
    return contextlib.redirect_stdout(io.StringIO())


def _one_line(error):
    return " ".join(str(error).split()) or type(error).__name__


def _last_line(complaint):
    lines = complaint.decode(errors="replace").strip().splitlines()
    return lines[-1].strip() if lines else "no reason given"
