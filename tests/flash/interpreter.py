"""A board on a pseudo-terminal: the real interpreter, its start, its prompt, its files.

Real: MicroPython 1.29 with its prompt, boot.py, main.py and whatever they
import. Not real: the file system (in memory; every write is there at once),
the chip (tests/flash/bench/machine.py), the speed.
"""

import base64
import contextlib
import itertools
import json
import os
import pathlib
import subprocess
import tempfile
import threading
import tty
from collections.abc import Mapping

from tests.micropython.harness import PACKAGE
from tests.tools import npm

HERE = pathlib.Path(__file__).resolve().parent
BENCH = HERE / "bench"
NEXT_START = 9  # exit code of board.mjs that asks for the next start


class BoardError(AssertionError):
    """The process of the board ended or does not answer."""


class TerminalBoard:
    """One board; powered from the start of the `with` block to its end.

    Attribute: port, what a program opens.
    """

    def __init__(self, files: Mapping[str, bytes], bench: Mapping[str, bytes] | None = None):
        """files: path on the board -> contents; bench: further modules that no flash touches."""
        self._files = dict(files)
        self._bench = {path.name: path.read_bytes() for path in sorted(BENCH.glob("*.py"))}
        self._bench.update(bench or {})
        self._ids = itertools.count()
        self._cleanup = contextlib.ExitStack()
        self._closing = False
        self._died = False

    def __enter__(self) -> "TerminalBoard":
        self._folder = pathlib.Path(
            self._cleanup.enter_context(tempfile.TemporaryDirectory(prefix="terminal-"))
        )
        self._near, far = os.openpty()
        commands, self._orders = os.pipe()
        answers, replies = os.pipe()
        for end in (self._near, far, commands, self._orders, replies):
            self._cleanup.callback(os.close, end)
        self._answers = self._cleanup.enter_context(os.fdopen(answers, encoding="utf-8"))
        self._complaints = self._cleanup.enter_context(
            (self._folder / "complaints.txt").open("w+b")
        )
        tty.setraw(far)
        os.set_blocking(self._near, False)
        os.set_blocking(commands, False)
        self.port = os.ttyname(far)
        self._write_job()
        self._ends = (commands, replies)
        self._start()
        self._watch = threading.Thread(target=self._restart, daemon=True)
        self._watch.start()
        self._cleanup.callback(self._end)
        return self

    def __exit__(self, *_: object) -> None:
        self._cleanup.close()

    def _write_job(self) -> None:
        state = self._folder / "state.json"
        state.write_text(json.dumps({"files": _coded(self._files), "folders": [],
                                     "words": [0] * 4, "raw": False, "waiting": [],
                                     "starts": 0}))
        bench = {f"/bench/{name}": data for name, data in self._bench.items()}
        (self._folder / "job.json").write_text(json.dumps({
            "package": str(npm.package_path(PACKAGE)),
            "bench": _coded(bench),
            "line": self._near,
            "state": str(state),
        }))

    def _start(self) -> None:
        self._process = subprocess.Popen(
            [npm.node_path(), HERE / "board.mjs", self._folder / "job.json"],
            stdin=self._ends[0],
            stdout=self._ends[1],
            stderr=self._complaints,
            pass_fds=[self._near],
        )

    def _restart(self) -> None:
        """Starts the board anew as often as it asks for it."""
        while self._process.wait() == NEXT_START and not self._closing:
            self._start()
        if not self._closing:
            self._died = True
            os.write(self._ends[1], b"{}\n")  # whoever waits for an answer hears of it

    def _end(self) -> None:
        self._closing = True
        self._process.kill()
        self._watch.join()
        self._process.kill()
        self._process.wait()

    def _call(self, verb: str, **values: object) -> dict:
        number = next(self._ids)
        data = json.dumps({"do": verb, "id": number, **values}).encode() + b"\n"
        while data:
            data = data[os.write(self._orders, data):]
        found = json.loads(self._answers.readline())
        if self._died or found.pop("id", None) != number:
            raise BoardError(self.complaints())
        return found

    def complaints(self) -> str:
        """Returns what the process said on its way out."""
        return (self._folder / "complaints.txt").read_text(errors="replace")[-2000:]

    def cut_power(self) -> None:
        """Takes the power away and gives it again at once."""
        self._call("power")

    def put(self, files: Mapping[str, bytes]) -> None:
        """Replaces every file of the board, then starts it anew."""
        self._call("power", files=_coded(files))

    def files(self) -> dict[str, bytes]:
        """Returns every file of the board: path -> contents."""
        found = self._call("files")["files"]
        return {name: base64.b64decode(data) for name, data in found.items()}

    def wait_prompt(self) -> None:
        """Waits until the board is at its prompt, over as many starts as that takes."""
        self._call("prompt")

    def starts(self) -> int:
        """Returns how often the board has started [-]."""
        return self._call("state")["starts"]


def _coded(files: Mapping[str, bytes]) -> dict[str, str]:
    return {name: base64.b64encode(data).decode() for name, data in files.items()}
