"""The command at a served rehearsal: by hand in a terminal of 80x24, and by a script."""

import json
import os
import pty
import re
import select
import signal
import struct
import subprocess
import termios
import time
from fcntl import ioctl

import pytest

from forebay.exits import Exit
from forebay.shelf import Shelf
from tests.rehearse import serving
from tests.rehearse.serving import served

ROWS, COLUMNS = 24, 80
LONGEST_S = 90
SHORT = ("--only", "float-LSH-UP", "--only", "button", "--only", "thermostat")
STEPS = (*SHORT, "--only", "thermometer-TI-MOT")
# What a person does for what is told.
DOES = {"Now back as it was": ("leave LSH-UP",), "Press the button": ("press HS-1 15 s",),
        "Float LSH-UP: lift": ("lift LSH-UP",),
        "LSH-UP changed; now back": ("leave LSH-UP",),
        "Hold TI-MOT": ("warm TI-MOT 33 degC for 30 min",)}


@pytest.fixture(scope="module")
def board(tmp_path_factory):
    """A board on a line of its own, at ten times the pace: a second is a tenth of one."""
    with served(tmp_path_factory.mktemp("served"), "--serve", "--speed", "10") as one:
        yield one


class _Enough(Exception):
    """What was waited for is shown."""


_enough = object()


class Terminal:
    """A program in a terminal. Attribute text: all that it showed."""

    def __init__(self, folder, *arguments, **changes):
        self.near, far = pty.openpty()
        ioctl(self.near, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        self.process = subprocess.Popen(
            serving.forebay_command(*arguments), stdin=far, stdout=far, stderr=far, cwd=folder,
            env=serving.environment(TERM="xterm", **changes), start_new_session=True)
        os.close(far)
        self.text = ""

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self.near)

    def read(self, seconds=0.2):
        """Reads what comes within some time; returns whether it goes on."""
        if not select.select([self.near], [], [], seconds)[0]:
            return True
        try:
            data = os.read(self.near, 65536)
        except OSError:
            return False
        self.text += data.decode(errors="replace")
        return bool(data)

    def type(self, line):
        os.write(self.near, line.encode() + b"\n")

    def lines(self):
        """Returns the lines as they stand in the end: what a return overwrote is gone."""
        return [re.sub(r"^.*\r", "", line.rstrip("\r")) for line in self.text.split("\n")]


def go(terminal, board, answers, longest_s=LONGEST_S):
    """Acts as the person until the program ends; answers: text of a question -> line typed."""
    done, end = 0, time.monotonic() + longest_s
    while terminal.read():
        assert time.monotonic() < end, terminal.text[-2000:]
        seen = terminal.text[done:]
        for text, acts in DOES.items():
            if text in seen and text not in answers:
                done = len(terminal.text)
                for act in acts:
                    board.type(act)
        for text, answer in answers.items():
            if text in seen:
                done = len(terminal.text)
                if answer is _enough:
                    raise _Enough
                terminal.type(answer)
    return terminal.process.wait(serving.END_S)


def arguments(board, *more):
    return ("prove", "--port", board.port, "--shelf", board.document["shelf"], *more)


def test_one_person_proves_a_rig_in_a_small_terminal(board, tmp_path):
    with Terminal(tmp_path, *arguments(board, *STEPS)) as terminal:
        code = go(terminal, board, {"Hands off": "", "Was it so?": "skip no warm water today"})
    assert code == Exit.INCOMPLETE, terminal.text
    lines = terminal.lines()
    assert max(map(len, lines)) <= COLUMNS
    assert sum(line.startswith("ok: ") for line in lines) == 3
    assert "26-MOT acts on it" in " ".join(lines)
    assert "Traceback" not in terminal.text
    (page,) = tmp_path.glob("proof-test-*.html")
    assert "no warm water today" in page.read_text()
    with Shelf(board.document["shelf"], create=False) as shelf:
        record = shelf.records("proof of single steps", board.document["rig_id"])[-1].document
    assert (record["passed"], record["failed"], record["left_out"]) == (3, 0, 1)


def test_what_is_told_follows_without_an_empty_line_between(board, tmp_path):
    """What a terminal kept had a wiped line, which some show as two empty ones, before each."""
    with Terminal(tmp_path, *arguments(board, "--anew", "--only", "button")) as terminal:
        with pytest.raises(_Enough):
            go(terminal, board, {"Press the button": _enough})
    told = terminal.text.replace("\r\n", "\n").partition(" s left")[0].rpartition("\n")[0]
    assert "Button HS-1" in told
    assert "\r" not in told, "nothing was shown yet that a line had to be wiped for"


def test_left_by_a_key_it_goes_on_there_and_the_rig_stands(board, tmp_path):
    with Terminal(tmp_path, *arguments(board, *SHORT)) as first:
        with pytest.raises(_Enough):
            go(first, board, {"Press the button": _enough})
        first.process.send_signal(signal.SIGINT)
        end = time.monotonic() + LONGEST_S
        while first.read(1.0):
            assert time.monotonic() < end, "it does not end by the key"
        assert first.process.wait(serving.END_S) == Exit.INTERRUPTED
    assert "stands in maintenance" in " ".join(first.text.split())
    assert not list(tmp_path.glob("*"))
    with Terminal(tmp_path, *arguments(board, *SHORT)) as again:
        code = go(again, board, {"Hands off": "", "Was it so?": "yes"})
    assert code == Exit.DONE, again.text
    assert "done before" in again.text


def test_a_script_answers_from_a_file_and_reads_json(board, tmp_path):
    answers = tmp_path / "answers.toml"
    answers.write_text('end = "done"\nthermostat = "no"\nfloat-LSH-UP = "skip no ladder"\n')
    done = serving.run(*arguments(board, "--answers", str(answers), "--json", "--only",
                                  "float-LSH-UP", "--only", "thermostat", "--only", "readings"),
                       cwd=tmp_path)
    assert done.returncode == Exit.DAMAGED, done.stderr
    found = json.loads(done.stdout)
    assert [step["outcome"] for step in found["steps"]] == ["passed", "skipped", "failed"]
    assert found["steps"][2]["finding"] == "thermostat"
    page = (serving.pathlib.Path(__file__).parents[2] / "host/docs/json.md").read_text()
    section = page.split("## forebay prove --json")[1].split("\n## ")[0]
    keys = {*found, *found["steps"][0]}
    assert [key for key in keys if f"`{key}`" not in section] == []


def test_a_script_that_lacks_an_answer_is_told_which_and_what_was_found_is_kept(board, tmp_path):
    answers = tmp_path / "answers.toml"
    answers.write_text("")
    line = arguments(board, "--answers", str(answers), "--only", "readings", "--only",
                     "thermostat")
    done = serving.run(*line, cwd=tmp_path)
    assert done.returncode == Exit.INPUT
    assert 'add: end = "..."' in done.stderr
    assert "Traceback" not in done.stderr
    answers.write_text('end = "done"\nthermostat = "yes"\n')
    done = serving.run(*line, cwd=tmp_path)
    assert done.returncode == Exit.DONE, done.stderr


def test_what_a_mistake_is_called_at_the_served_rig(board, tmp_path):
    board.type("miswire full-floats-swapped")
    with Terminal(tmp_path, *arguments(board, "--anew", "--only", "float-LSH-UP", "--out",
                                       "found.html")) as terminal:
        code = go(terminal, board, {"Hands off": ""})
    assert code == Exit.DAMAGED, terminal.text
    assert "each other's pair" in " ".join(terminal.lines())
    assert (tmp_path / "found.html").is_file()


def test_single_steps_leave_a_whole_sitting_as_it_is_and_are_no_proof_test(board, tmp_path):
    """What a sitting had found was once lost by --only, which counted as the yearly test."""
    state = {"XDG_STATE_HOME": str(tmp_path / "state")}
    answers = tmp_path / "answers.toml"
    answers.write_text('end = "done"\nthermostat = "yes"\n')
    with Terminal(tmp_path, *arguments(board), **state) as first:
        code = go(first, board, {"Float LSH-UP: lift": "leave"})
    assert code == Exit.INCOMPLETE
    assert "Left for now" in first.text
    assert "unexpected" not in first.text
    done = serving.run(*arguments(board, "--answers", str(answers), "--only", "thermostat"),
                       cwd=tmp_path, **state)
    assert done.returncode == Exit.DONE, done.stderr
    with Terminal(tmp_path, *arguments(board), **state) as again:
        assert go(again, board, {"Float LSH-UP: lift": "leave"}) == Exit.INCOMPLETE
    assert re.search(r"going on with what was begun on [0-9-]+:\s+2 steps\s+are done", again.text)
    assert "proof_tests" not in (tmp_path / "state/forebay/last.json").read_text()
