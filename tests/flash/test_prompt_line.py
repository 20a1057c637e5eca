"""The prompt's line: every fault of it or of the board is one line that says what to do."""

import pytest
import serial
from mpremote.transport import TransportError, TransportExecError

from forebay.flash import FlashError, prompt, scripts
from forebay.flash.prompt import Prompt

PORT = "/dev/ttyACM0"


class Line:
    """A transport. Attributes: ran, the scripts that it was given; closed, how often."""

    def __init__(self):
        self.serial = self
        self.write_timeout = None
        self.ran: list[str] = []
        self.entered: list[float] = []
        self.closed = 0
        self.at_opening = self.at_entering = self.at_running = self.at_closing = None
        self.out, self.complaint = b"", b""

    def open(self, port, timeout):
        if self.at_opening:
            raise self.at_opening
        return self

    def enter_raw_repl(self, timeout_overall):
        print("chatter of the transport")
        self.entered.append(timeout_overall)
        if self.at_entering:
            raise self.at_entering

    def exec_raw(self, script, timeout):
        print("chatter of the transport")
        self.ran.append(script)
        if self.at_running and script != scripts.PREPARE:
            raise self.at_running
        return self.out, (self.complaint if script != scripts.PREPARE else b"")

    def exec_raw_no_follow(self, script):
        self.ran.append(script)
        if self.at_running:
            raise self.at_running

    def close(self):
        self.closed += 1
        if self.at_closing:
            raise self.at_closing


@pytest.fixture
def line(monkeypatch):
    line = Line()
    monkeypatch.setattr(prompt, "SerialTransport", line.open)
    return line


def refused(call):
    with pytest.raises(FlashError) as failed:
        call()
    assert "\n" not in str(failed.value)
    return str(failed.value)


def test_what_it_prints_comes_as_lines_and_the_transports_chatter_stays_away(line, capsys):
    line.out = b"one\r\ntwo \xff\nrest"
    with Prompt(PORT) as at_prompt:
        assert at_prompt.run("x") == ["one\r", "two \ufffd"]
        assert at_prompt.executed == 2
    assert line.ran == [scripts.PREPARE, "x"]
    assert line.closed == 1
    assert capsys.readouterr().out == ""
    assert line.write_timeout


def test_a_port_that_cannot_be_opened_is_told(line):
    for error in (TransportError("no such\nport"), OSError(13, "Permission denied")):
        line.at_opening = error
        assert f"port {PORT} cannot be opened: " in refused(lambda: Prompt(PORT))


@pytest.mark.parametrize("error", [TransportError("could not enter\nraw repl"),
                                   serial.SerialException("gone"), OSError(5, "i/o")])
def test_a_board_that_gives_no_prompt_is_told_with_the_way_in_and_its_port_is_free_again(
        line, error):
    line.at_entering = error
    said = refused(lambda: Prompt(PORT))
    assert f"the board at {PORT} gives no prompt: " in said
    assert "hold its button for 5 s while power comes" in said
    assert line.closed == 1


def test_helpers_that_fail_leave_the_port_free_again(line, monkeypatch):
    def fail(script, timeout):
        return b"", b"Traceback\nMemoryError: \n"

    monkeypatch.setattr(line, "exec_raw", fail)
    assert refused(lambda: Prompt(PORT)) == "the board failed: MemoryError:"
    assert line.closed == 1


@pytest.mark.parametrize(("complaint", "said"), [
    (b"Traceback (most recent call last):\r\n  File\r\nOSError: 28\r\n", "OSError: 28"),
    (b"\r\n", "no reason given")])
def test_of_a_script_that_fails_the_last_line_is_told(line, complaint, said):
    at_prompt = Prompt(PORT)
    line.complaint = complaint
    assert refused(lambda: at_prompt.run("x")) == f"the board failed: {said}"


@pytest.mark.parametrize(("error", "said"), [
    (TransportExecError(1, "a\nb"), "the board failed: "),
    (TransportError("timeout"), f"the line to the board at {PORT} broke: timeout"),
    (serial.SerialException("gone"), f"the line to the board at {PORT} broke: gone"),
    (OSError(), f"the line to the board at {PORT} broke: OSError")])
def test_a_line_that_breaks_is_told_apart_from_a_board_that_fails(line, error, said):
    at_prompt = Prompt(PORT)
    line.at_running = error
    assert refused(lambda: at_prompt.run("x")).startswith(said)


@pytest.mark.parametrize("error", [None, TransportError("it is gone"), OSError(5, "i/o")])
def test_a_board_that_restarts_takes_its_line_away_and_that_is_no_error(line, error):
    at_prompt = Prompt(PORT)
    line.at_running = line.at_closing = error
    at_prompt.restart()
    assert line.ran[-1] == scripts.RESTART
    assert line.closed == 1


def test_what_an_interpreter_says_of_itself_is_read_line_by_line(line):
    at_prompt = Prompt(PORT)
    line.out = b"1.29.0\r\n4870\r\nRPI_PICO\r\ne660\r\n4096 71\r\n"
    assert at_prompt.identity() == prompt.Identity("1.29.0", 4870, "RPI_PICO", "e660", 4096, 71)
