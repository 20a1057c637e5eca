"""The command on real terminals and pipes: it draws, prints, and leaves the terminal as it was."""

import os
import pathlib
import pty
import re
import select
import signal
import subprocess
import sys
import termios
import time

import pytest

import forebay
import keeper
from keeper import modes
from tests.wire.board import FakeBoard

PATIENCE_S = 60
READ_BYTES = 65536
PATHS = os.pathsep.join(str(pathlib.Path(next(iter(package.__path__))).parent)
                        for package in (forebay, keeper))


@pytest.fixture
def port():
    board = FakeBoard(live={"state": modes.PUMPING, "panel_mV": 20000})
    yield board.on_pty()
    board.close()


def command(port, *arguments):
    return [sys.executable, "-m", "forebay", "watch", "--port", port, *arguments]


def environment(**changes):
    return {**os.environ, "PYTHONPATH": PATHS, "TERM": "xterm", **changes}


class Terminal:
    """A terminal with the command in it."""

    def __init__(self, arguments, **changes):
        self.near, far = pty.openpty()
        self.before = termios.tcgetattr(self.near)
        self.process = subprocess.Popen(
            arguments, stdin=far, stdout=far, stderr=far, env=environment(**changes),
            start_new_session=True)
        os.close(far)
        self.said = b""

    def read_until(self, text: bytes) -> None:
        end = time.monotonic() + PATIENCE_S
        while text not in self.said:
            assert time.monotonic() < end, self.said
            assert self.read(), self.said

    def read(self) -> bool:
        if select.select([self.near], [], [], PATIENCE_S)[0]:
            try:
                data = os.read(self.near, READ_BYTES)
            except OSError:  # the command has ended
                return False
            self.said += data
            return bool(data)
        return False

    def end(self, how) -> int:
        self.process.send_signal(how)
        end = time.monotonic() + PATIENCE_S
        while self.read():
            assert time.monotonic() < end, "it goes on"
        return self.process.wait(PATIENCE_S)


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_the_terminal_is_left_as_it_was(port, how):
    terminal = Terminal(command(port, "--every", "0.2"))
    terminal.read_until(b"20.00 V")
    assert terminal.said.startswith(b"\x1b[?1049h\x1b[?25l")
    code = terminal.end(how)
    said = terminal.said

    assert code == 0
    assert said.endswith(b"\x1b[?25h\x1b[?1049l")
    assert said.count(b"\x1b[?25l") == said.count(b"\x1b[?25h") == 1
    assert b"Traceback" not in said
    assert termios.tcgetattr(terminal.near) == terminal.before
    os.close(terminal.near)


def test_on_a_terminal_that_cannot_be_drawn_on_it_prints_lines(port):
    terminal = Terminal(command(port, "--every", "0.2"), TERM="dumb")
    terminal.read_until(b"panel 20.00 V")
    terminal.end(signal.SIGINT)

    assert b"\x1b" not in terminal.said
    os.close(terminal.near)


def test_into_a_pipe_it_prints_a_line_a_reading(port):
    with subprocess.Popen(command(port, "--every", "0.2"), stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE, env=environment(), text=True) as process:
        assert process.stdout
        lines = [process.stdout.readline() for _ in range(3)]
        process.send_signal(signal.SIGINT)
        assert process.wait(PATIENCE_S) == 0
        assert process.stderr
        assert process.stderr.read() == ""

    assert all(re.match(r"\d\d:\d\d:\d\d  pumping  panel 20\.00 V", line) for line in lines)
    assert max(map(len, lines)) <= 100


def test_once_without_an_answer_is_one_line_and_exit_code_2(tmp_path):
    done = subprocess.run(command(str(tmp_path / "gone"), "--once"), capture_output=True,
                          env=environment(), text=True, timeout=PATIENCE_S)

    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert "no port" in done.stderr


def test_without_block_characters_the_page_is_ascii(port):
    done = subprocess.run(command(port, "--once"), capture_output=True,
                          env=environment(PYTHONIOENCODING="ascii"), timeout=PATIENCE_S)

    assert done.returncode == 0
    assert done.stdout.isascii()
    assert b"PUMPING" in done.stdout
