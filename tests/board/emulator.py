"""The process of one emulated board, and the lines of JSON that pass to and fro."""

import json
import pathlib
import subprocess
import threading
from collections.abc import Callable
from typing import Any

from tests.tools import npm

PROGRAM = pathlib.Path(__file__).resolve().parent / "emulator.mjs"
COMMAND_PATIENCE_S = 60.0
COMPLAINTS_SHOWN = 2000  # characters


class RigError(AssertionError):
    """The emulation failed, or did not answer in time."""


class Emulator:
    """Runs emulator.mjs; its protocol is told there."""

    def __init__(self, job: pathlib.Path, event: Callable[[dict[str, Any]], None]):
        """job: what to emulate. event: takes what comes unasked, from a thread of this object."""
        self._event = event
        self._sending = threading.Lock()
        self._answered = threading.Condition()
        self._answers: dict[int, dict[str, Any]] = {}
        self._last_id = 0
        self._gone = False
        self._complaints = job.with_name("complaints.txt")
        with self._complaints.open("wb") as complaints:
            self._process = subprocess.Popen(
                [npm.node_path(), PROGRAM, job],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=complaints,
                text=True,
            )
        self._reader = threading.Thread(target=self._listen, daemon=True)
        self._reader.start()

    def call(self, verb: str, patience_s: float, **values: Any) -> dict[str, Any]:
        """Executes one command; raises RigError with the reason if it fails or takes too long."""
        number = self._send({"do": verb, **values})
        with self._answered:
            self._answered.wait_for(lambda: number in self._answers or self._gone, patience_s)
            answer = self._answers.pop(number, None)
        if answer is None:
            why = "the emulator ended" if self._gone else f"none within {patience_s:.0f} s"
            said = self._complaints.read_text()[-COMPLAINTS_SHOWN:]
            raise RigError(f"no answer to {verb}: {why}\n{said}")
        if "error" in answer:
            raise RigError(answer["error"])
        return answer

    def close(self) -> None:
        """Ends the process."""
        self._process.kill()
        self._process.wait()
        self._reader.join()
        for pipe in (self._process.stdin, self._process.stdout):
            assert pipe
            pipe.close()

    def _send(self, message: dict[str, Any]) -> int:
        assert self._process.stdin
        with self._sending:
            self._last_id += 1
            try:
                self._process.stdin.write(json.dumps({"id": self._last_id, **message}) + "\n")
                self._process.stdin.flush()
            except (BrokenPipeError, ValueError):  # ended, or closed by us
                self._gone = True
            return self._last_id

    def _listen(self) -> None:
        assert self._process.stdout
        for text in self._process.stdout:
            message = json.loads(text)
            if "id" not in message:
                self._event(message)
                continue
            with self._answered:
                self._answers[message["id"]] = message
                self._answered.notify_all()
        with self._answered:
            self._gone = True
            self._answered.notify_all()
