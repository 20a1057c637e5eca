"""`forebay calibrate` at a served rehearsal, typed in a terminal of 80 by 24."""

import fcntl
import json
import os
import pty
import select
import struct
import subprocess
import termios
import time

import pytest

from forebay.exits import Exit
from forebay.rig import load
from tests.rehearse import serving

ROWS, COLUMNS = 24, 80
LONGEST_S = 40


class Terminal:
    """A command in a pseudo terminal.  Attribute: said, all that it wrote."""

    def __init__(self, *arguments, **environment):
        self.near, far = pty.openpty()
        fcntl.ioctl(self.near, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        self.process = subprocess.Popen(
            serving.forebay_command(*arguments), stdin=far, stdout=far, stderr=far,
            env=serving.environment(TERM="xterm", **environment), start_new_session=True)
        os.close(far)
        self.said = ""
        self.at = 0   # behind what was waited for

    def until(self, text):
        """Reads until it has said something, behind what was waited for before."""
        end = time.monotonic() + LONGEST_S
        while (found := self.said.find(text, self.at)) < 0:
            assert time.monotonic() < end, self.said
            assert select.select([self.near], [], [], LONGEST_S)[0], self.said
            self.said += os.read(self.near, 65536).decode()
        self.at = found + len(text)
        return self

    def type(self, line):
        os.write(self.near, f"{line}\n".encode())

    def end(self):
        """Reads to the end; returns its exit code."""
        try:
            while part := os.read(self.near, 65536):
                self.said += part.decode()
        except OSError:
            pass
        os.close(self.near)
        return self.process.wait(serving.END_S)


@pytest.fixture(scope="module")
def board(tmp_path_factory):
    folder = tmp_path_factory.mktemp("served")
    with serving.served(folder, "--serve", "--speed", "20") as one:
        yield one


@pytest.fixture
def home(tmp_path):
    (tmp_path / "rig.toml").write_text(load().toml_text)
    return tmp_path, {name: str(tmp_path / name) for name in ("XDG_STATE_HOME", "XDG_DATA_HOME")}


def test_a_level_is_dipped_left_and_gone_on_with(board, home):
    folder, places = home
    command = ("calibrate", "level", "--rig", folder / "rig.toml", "--port", board.port,
               "--out", folder / "new.toml")
    first = Terminal(*command, **places)
    first.until("standard uncertainty").until("]: ").type("two")   # no answer: asked again
    first.until("not a number").until("]: ").type("2 mm")
    first.until("the rule begin").until("]: ").type("1 mm")
    first.until("At how many levels").until("]: ").type("3")
    first.until("Dip 1").until("]: ").type("120 mm")
    first.until("Dip 2").until("]: ").type("leave")
    assert first.end() == Exit.DONE
    assert "the same command goes on" in first.said
    assert "is this sitting's until it ends" in first.said
    again = Terminal(*command, **places)
    again.until("Dip 2").until("]: ").type("300 mm")
    again.until("Dip 3").until("]: ").type("skip too dark to read")
    # Two dips that disagree, close together: what they say is less sure than what stands.
    assert again.end() == Exit.DONE
    assert "stands: it was found as" in again.said
    assert "Left out: dip_3 (too dark to read)" in again.said
    assert "nothing was written" in again.said
    assert "Dip 1" not in again.said
    lines = (first.said + again.said).replace("\r", "").split("\n")
    assert max(len(one) for one in lines if str(folder) not in one) <= COLUMNS
    assert not (folder / "new.toml").exists()


def test_a_script_answers_and_practice_writes_only_where_it_is_told(board, home):
    folder, places = home
    (folder / "answers.toml").write_text(
        'meter_V_frac = "0.3 %"\nmeter_V_digit = "10 mV"\npanel_V_ready = "skip cloudy"\n'
        'generator_V_ready = "skip no light"\nsupply_V_ready = ""\nsupply_V_readings = "1"\n'
        'supply_V_1 = "13.2 V"\n')
    arguments = ("calibrate", "voltage", "--rig", folder / "rig.toml", "--port", board.port,
                 "--answers", folder / "answers.toml", "--json", "--yes")
    plain = serving.run(*arguments, **places)
    assert plain.returncode == Exit.DONE, plain.stderr
    document = json.loads(plain.stdout)
    assert (document["practice"], document["written"]) == (True, None)
    assert document["record"] == 1
    figure, = document["figures"]
    assert figure["key"] == "sensors.supply_voltage_factor"
    assert 0.9 < figure["value"] < 1.15
    assert (folder / "rig.toml").read_text() == load().toml_text
    kept = serving.run(*arguments, "--out", folder / "new.toml", **places)
    assert kept.returncode == Exit.DONE, kept.stderr
    assert load(folder / "new.toml").sensors.supply_voltage_factor == pytest.approx(
        json.loads(kept.stdout)["figures"][0]["value"], rel=1e-5)


def test_the_board_of_another_rig_is_refused(board, home):
    folder, places = home
    (folder / "rig.toml").write_text(load(demo="orchard").toml_text)
    done = serving.run("calibrate", "flow", "--rig", folder / "rig.toml", "--port", board.port,
                       "--answers", os.devnull, **places)
    assert done.returncode == Exit.INPUT
    assert "runs for another rig" in done.stderr
    assert done.stderr.count("\n") == 1
