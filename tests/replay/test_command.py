"""`forebay rehearse --replay`: from a shelf to text and document, and what is refused."""

import json
import os
import pty
import select
import signal
import subprocess
import sys
import termios
from pathlib import Path

import pytest

from forebay import cli
from forebay.exits import Exit
from forebay.rig import load
from forebay.shelf import Anchor, Shelf
from forebay.words.rig import SETTINGS
from tests.rehearse.serving import environment
from tests.replay.played import BEGIN_S, PUMPING_S, segments_of

PAGE = (Path(__file__).parents[2] / "host/docs/json.md").read_text(encoding="utf-8")
SPAN = "2016-02-15T08:00Z..2016-02-15T10:00Z"
COLUMNS, PATIENCE_S = 80, 300.0


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """The path of a shelf of two hours in which the pump lost its water."""
    path, rig = tmp_path_factory.mktemp("shelf") / "shelf.sqlite", load()
    with Shelf(path) as found:
        found.add_rig(rig.rig_id, rig.rig.name, rig.toml_text, rig.digest)
        for stream, number, data in segments_of(((PUMPING_S, "air-in-pump"),), 2.0):
            found.put_segment(rig.rig_id, 0, stream, number, data)
        found.add_anchor(rig.rig_id, Anchor(0, 1, 0, BEGIN_S, 0.05))
    return path


@pytest.fixture
def run(capsys, shelf):
    """Gives a function that replays: (code, stdout, stderr)."""
    def done(*arguments):
        capsys.readouterr()
        code = cli.run(["rehearse", "--shelf", str(shelf), *map(str, arguments)])
        return code, *capsys.readouterr()

    return done


def test_the_document_tells_all_and_every_key_is_described(run, shelf):
    before = shelf.read_bytes()
    code, out, _ = run("--replay", SPAN, "--set", "limits.trip_retries=1", "--json")
    assert code == Exit.DONE
    found = json.loads(out)
    part = PAGE.split("## forebay rehearse --replay SPAN --json")[1].split("\n## ")[0]
    keys = [*found, *found["figures"], *found["figures"]["up_L"], *found["again"][0],
            *found["settings"][0], *found["keys"][0]]
    assert [key for key in keys if f"`{key}`" not in part] == []
    assert found["keys"] == [{"key": "limits.trip_retries", "unit": "", "was": 3, "tried": 1}]
    assert found["settings"] == [{
        "name": "trip_retries", "meaning": SETTINGS["trip_retries"],
        "keys": ["limits.trip_retries"], "was": 3, "tried": 1}]
    assert found["wrong"] == found["undecidable"] == []
    assert len(found["again"]) == found["recorded_events"]
    # Under the settings tried the second trip locks out, two more do not come.
    assert found["figures"]["trips"] == {"recorded": 4, "again": 4, "tried": 2}
    assert shelf.read_bytes() == before


def test_a_span_that_is_not_the_one_asked_for_is_told_with_the_reason(run):
    """A quarter of an hour within the filling was widened to its begin without a word."""
    code, out, _ = run("--replay", "2016-02-15T09:00Z..2016-02-15T09:15Z")
    said = " ".join(out.split())
    assert code == Exit.DONE
    assert "Asked for: 15 Feb 2016 02:00 to 15 Feb 2016 02:15. It begins where the" in said
    assert "from which the board's state is known. All that follows is of the time" in said
    assert "\n\n\n" not in out
    found = json.loads(run("--replay", "2016-02-15T09:00Z..2016-02-15T09:15Z", "--json")[1])
    assert found["asked_begin_utc"] == "2016-02-15T09:00:00+00:00"
    assert found["begin_utc"] < found["asked_begin_utc"]


def test_a_trip_by_the_reckoned_heat_is_explained_beside_a_cool_motor(run):
    code, out, _ = run("--replay", SPAN, "--set", "motor.trip_temperature=30",
                       "--set", "motor.reset_temperature=29")
    said = " ".join(out.split())
    assert code == Exit.DONE
    assert "49-MOT acted" in said
    assert "reckons with the motor's current and no thermometer" in said
    assert "current that the motor stands for ever, of 49-MOT: " in said.split("newly:")[1]


def on_terminal(shelf, temporary, until=b"", number=signal.SIGINT):
    """Replays in a terminal of 80x24; interrupted by a signal once a text is shown.

    Returns (text, exit code).
    """
    near, far = pty.openpty()
    termios.tcsetwinsize(far, (24, COLUMNS))
    arguments = [sys.executable, "-m", "forebay", "rehearse", "--shelf", str(shelf), "--replay",
                 SPAN, "--set", "limits.trip_retries=1"]
    said = b""
    with subprocess.Popen(arguments, stdin=far, stdout=far, stderr=far, env=environment(
            COLUMNS=str(COLUMNS), LINES="24", TMPDIR=str(temporary))) as process:
        os.close(far)
        while select.select([near], [], [], PATIENCE_S)[0]:
            try:
                said += os.read(near, 4096)
            except OSError:
                break      # it has ended
            if until and until in said:
                until = b""
                process.send_signal(number)
        code = process.wait(PATIENCE_S)
    os.close(near)
    return said.decode(), code


def test_on_a_terminal_it_fits_eighty_columns_and_tells_how_far_it_is(shelf, tmp_path):
    text, code = on_terminal(shelf, tmp_path)
    assert code == Exit.DONE
    assert "replay: " in text
    assert "limits.trip_retries: 3 -> 1" in text
    assert "no longer:" in text
    assert max(len(line.rpartition("\r")[2]) for line in text.split("\r\n")) <= COLUMNS
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("number", "code"), [
    (signal.SIGINT, Exit.INTERRUPTED), (signal.SIGTERM, Exit.TERMINATED),
    (signal.SIGKILL, -signal.SIGKILL)])
def test_an_interrupted_replay_shows_nothing_and_leaves_the_shelf_as_it_was(
        shelf, tmp_path, number, code):
    before = {path.name: path.read_bytes() for path in shelf.parent.iterdir()}
    text, ended = on_terminal(shelf, tmp_path, b"replay: ", number)
    assert ended == code
    assert "recorded" not in text            # no half of a comparison
    assert {path.name: path.read_bytes() for path in shelf.parent.iterdir()} == before
    if number != signal.SIGKILL:             # who is killed can tidy nothing up
        assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("arguments", "said"), [
    (("--replay", "2031-01-01"), "2016-02-15"),
    (("--replay", "yesterday"), "YYYY-MM-DD"),
    (("--replay", "2016-02-15T10:00Z..2016-02-15T08:00Z"), "is not before"),
    (("--replay", "2010-01-01..2016-03-01"), "replay it in parts"),
    (("--replay", SPAN, "--set", "limits.trip_retrys=1"), "did you mean limits.trip_retries"),
    (("--replay", SPAN, "--set", "penstock.length=50"), "a figure of the rig"),
    (("--replay", SPAN, "--set", "sensors.level=absent"), "other instruments"),
    (("--replay", SPAN, "--fault", "frost@10:00"), "--fault: not with --replay"),
    (("--set", "limits.trip_retries=1"), "go with --replay"),
])
def test_what_cannot_be_replayed_is_told_in_a_line(run, arguments, said):
    code, out, err = run(*arguments)
    assert (code, out, err.count("\n")) == (Exit.INPUT, "", 1)
    assert said in err
