"""Starts the simulated board's process, under the interpreter that is asked for.

Owns the choice of interpreter and the life of that process; what is said
through the pipes is in `stage`.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import keeper
from forebay.rehearse import stage
from forebay.rehearse.options import RehearsalError

AUTO, HERE = "auto", "here"
FASTER = "pypy3"         # compiles what runs often; found on PATH or not
ENDS_WITHIN_S = 5.0      # after it was told so


class Stage:
    """A simulated board in a process of its own; a context that ends it.

    Attributes: interpreter, what it runs under; note, why that is not the one
    that was asked for, or "".  An interrupt from the keyboard does not reach it.
    """

    def __init__(self, choice: str = AUTO):
        """Start under AUTO, HERE, or the interpreter of that name or path.

        AUTO takes a faster interpreter where there is one that works.  Raises
        RehearsalError.
        """
        self.note = ""
        paths = _candidates(choice)
        for path in paths:
            try:
                self._start(path)
                break
            except RehearsalError as error:
                if path == paths[-1]:
                    raise
                self.note = str(error)

    def __enter__(self):
        return self

    def __exit__(self, *_) -> None:
        self.close()

    def _start(self, path):
        self.path = path
        self._errors = tempfile.TemporaryFile()  # what it says of its own end
        try:
            self.process = subprocess.Popen(
                # Isolated: neither the caller's settings nor this folder's names reach it.
                [path, "-I", stage.__file__, *_folders()],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self._errors,
                text=True, encoding="utf-8", **_apart())
        except OSError as error:
            raise RehearsalError(f"{path}: cannot be started ({error.strerror});"
                                 f" {_advice(path)}") from error
        assert self.process.stdin
        assert self.process.stdout
        self._to, self._from = self.process.stdin, self.process.stdout
        self.interpreter: str = self.hear()["interpreter"]

    def tell(self, what) -> None:
        """Say something to the process: anything that is JSON.  Raises RehearsalError."""
        try:
            self._to.write(json.dumps(what) + "\n")
            self._to.flush()
        except OSError as error:
            raise self._ended() from error

    def hear(self) -> dict:
        """Return what the process says next.  Raises RehearsalError if it is no more."""
        line = self._from.readline()
        try:
            return json.loads(line)
        except ValueError as error:
            raise self._ended() from error

    def check(self) -> None:
        """Raise RehearsalError if the process is no more."""
        if self.process.poll() is not None:
            raise self._ended()

    def _ended(self):
        """Return the error that says how the process ended by itself."""
        self.close()
        code = self.process.returncode
        self._errors.seek(0)
        lines = self._errors.read().decode(errors="replace").strip().splitlines()
        how = lines[-1].strip() if lines else (
            f"signal {-code}" if code < 0 else f"exit code {code}")
        return RehearsalError(f"the simulation ended by itself under {self.path} ({how});"
                              f" {_advice(self.path)}")

    def close(self) -> None:
        """End the process."""
        process = self.process
        for pipe in (self._to, self._from):
            try:
                pipe.close()
            except OSError:
                continue  # what was still to be said finds no one
        try:
            process.wait(ENDS_WITHIN_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _candidates(choice):
    """Return the paths of the interpreters to try, in order.  Raises RehearsalError."""
    if choice == HERE:
        return [sys.executable]
    if choice == AUTO:
        faster = shutil.which(FASTER)
        return [faster, sys.executable] if faster else [sys.executable]
    found = shutil.which(choice)
    if found is None:
        raise RehearsalError(f"--python {choice}: no such program; name a Python of 3.9 or newer,"
                             f" or {AUTO}, or {HERE}")
    return [found]


def _advice(path):
    if path == sys.executable:
        return "start it again with another one: --python PATH"
    return f"start it again with --python {HERE}"


def _folders():
    return str(Path(keeper.__file__).parent), str(Path(__file__).parents[1])


def _apart() -> dict[str, Any]:
    """Return how a process is kept from hearing the interrupts meant for this one."""
    if os.name == "nt":
        return {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}
    return {"process_group": 0}
