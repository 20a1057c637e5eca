"""The simulation in its own process: under which interpreter, and how it may end."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import keeper
from forebay.rehearse import RehearsalError, plan, rehearse, stage
from forebay.rehearse.process import AUTO, FASTER, HERE, Stage
from forebay.rehearse.report import closing_lines, document
from forebay.rig import load
from keeper import settings as st
from tests.rehearse.interpreters import both
from tests.review import nights

BROKEN = "#!/bin/sh\necho 'no stage today' >&2\nexit 3\n"
MINUTES = 1441


@pytest.fixture
def broken(tmp_path):
    """An interpreter that does not start, under the faster one's name."""
    path = tmp_path / "programs" / FASTER
    path.parent.mkdir()
    path.write_text(BROKEN)
    path.chmod(0o755)
    return path


def job(folder, periods=36000):
    rig = load()
    settings = rig.settings()
    return {"rig": rig.plant(), "settings": settings, "board": str(folder / "board"), "seed": 1,
            "sun": [[0.0] * MINUTES, [10.0] * MINUTES, [10.0] * MINUTES], "periods": periods,
            "rig_id": settings[st.index("rig_id")], "settings_version": st.VERSION, "faults": []}


def test_every_figure_is_the_same_under_cpython_and_under_pypy(tmp_path):
    # Sun, dusk and light within an hour; a whole day is compared in tests/ci_extra.
    faults = [(4.0, "cloud-edge"), (10.0, "power-cut"), (45.0, "load-lost")]
    here, _ = both(lambda name: nights.short(tmp_path, name, faults), hours=1.0)
    assert here["scans"] < 36000  # the board was without power for a while
    assert [one["first"] for one in here["faults"]][2] == "59-GEN"


def test_a_faster_interpreter_that_fails_is_left_out_and_said(tmp_path, broken, monkeypatch):
    monkeypatch.setenv("PATH", str(broken.parent), prepend=os.pathsep)
    with Stage(AUTO) as board:
        assert board.interpreter.startswith("CPython")
        assert str(broken) in board.note
        assert "no stage today" in board.note
    monkeypatch.setattr(stage, "CHUNK_PERIODS", 1)
    run = rehearse(plan(sun="clear", out=tmp_path / "out"), _Early(), python=AUTO)
    assert run.interrupted
    assert document(run)["interpreter_note"] == run.interpreter_note == board.note
    assert any(board.note in line for line in closing_lines(run))


class _Early:
    """Progress that presses Ctrl-C at the first report."""

    def __call__(self, *_):
        os.kill(os.getpid(), signal.SIGINT)


@pytest.mark.parametrize("choice", ["broken", "missing", "file"])
def test_an_interpreter_that_was_asked_for_and_fails_is_one_line(tmp_path, broken, choice):
    plain = tmp_path / "plain"
    plain.write_text("nothing to run")
    path = {"broken": broken, "missing": tmp_path / "none", "file": plain}[choice]
    with pytest.raises(RehearsalError) as told:
        rehearse(plan(out=tmp_path / "out"), python=str(path))
    assert str(path) in str(told.value)
    assert "\n" not in str(told.value)
    assert not (tmp_path / "out").exists()


def test_a_simulation_that_dies_on_its_way_is_one_line(tmp_path):
    with Stage(HERE) as board:
        board.tell(job(tmp_path))
        assert board.hear() == {"periods": stage.CHUNK_PERIODS}
        board.process.kill()
        board.process.wait()
        with pytest.raises(RehearsalError, match="ended by itself .*signal 9") as told:
            board.hear()
    assert "\n" not in str(told.value)


def test_a_fault_of_the_simulation_itself_is_said_by_its_last_line(tmp_path):
    with Stage(HERE) as board:
        board.tell({**job(tmp_path), "faults": [[0.0, "no-such-fault"]]})
        with pytest.raises(RehearsalError, match="no fault no-such-fault"):
            board.hear()


def test_the_process_ends_when_nobody_listens_any_more(tmp_path):
    board = Stage(HERE)
    board.tell(job(tmp_path, 10 * 864000))
    board.hear()
    board.close()
    assert board.process.returncode is not None


NAMES = """
import runpy, sys
runpy.run_path(sys.argv[1])["packages"](*sys.argv[2:])
import forebay.rehearse.serving, forebay.twin.twin, keeper.journal
print(*sorted(name for name in sys.modules if name.split(".")[0] in ("forebay", "keeper")))
"""


def test_the_simulation_needs_no_package_of_the_host():
    # -S: without any package that is installed, as under an interpreter that has none.
    folders = [str(Path(keeper.__file__).parent), str(Path(stage.__file__).parents[1])]
    done = subprocess.run([sys.executable, "-I", "-S", "-c", NAMES, stage.__file__, *folders],
                          capture_output=True, text=True, timeout=60)
    assert done.stderr == ""
    rooms = {".".join(name.split(".")[:2]) for name in done.stdout.split()
             if name.startswith("forebay")}
    assert rooms == {"forebay", "forebay.rehearse", "forebay.twin"}
