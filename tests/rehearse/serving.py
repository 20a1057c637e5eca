"""`forebay rehearse --serve` as a program of its own, for the tests that use its board."""

import contextlib
import json
import os
import pathlib
import signal
import subprocess
import sys
import time

import forebay
import keeper

START_S = 120    # of a loaded machine
END_S = 30
PATHS = os.pathsep.join(str(pathlib.Path(next(iter(package.__path__))).parent)
                        for package in (forebay, keeper))


def environment(**changes):
    return {**os.environ, "PYTHONPATH": PATHS, **changes}


def forebay_command(*arguments):
    return [sys.executable, "-m", "forebay", *map(str, arguments)]


def run(*arguments, cwd=None, **changes):
    """Returns a finished command: returncode, stdout, stderr."""
    return subprocess.run(forebay_command(*arguments), cwd=cwd, env=environment(**changes),
                          capture_output=True, text=True, timeout=START_S)


class Served:
    """A served board.  Attributes: document, what it printed; port; folder of its results."""

    def __init__(self, folder, *arguments):
        self.folder = folder / "results"
        self.process = subprocess.Popen(
            forebay_command("rehearse", "--json", "--out", self.folder, *arguments),
            env=environment(), stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=open(folder / "said", "w"), text=True)
        self.said_path = folder / "said"
        text = ""
        assert self.process.stdout
        while not text.endswith("}\n"):
            line = self.process.stdout.readline()
            assert line, self.said()
            text += line
        self.document = json.loads(text)
        self.port = self.document["port"]

    def said(self):
        """Returns what it has told on stderr."""
        return self.said_path.read_text()

    def type(self, line):
        """Types a line, as a person at its terminal."""
        assert self.process.stdin
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def end(self, number=signal.SIGINT):
        """Ends it by a signal; returns its exit code."""
        self.process.send_signal(number)
        return self.process.wait(END_S)


@contextlib.contextmanager
def served(folder, *arguments):
    """Gives a served board, which is ended."""
    one = Served(folder, *arguments)
    try:
        yield one
    finally:
        if one.process.poll() is None:
            one.end(signal.SIGTERM)


def until(condition, seconds=60.0):
    """Waits until a condition gives something true, and returns it."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := condition():
            return found
        time.sleep(0.05)
    raise AssertionError("it did not come about")
