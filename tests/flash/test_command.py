"""What a person sees of `forebay flash` when something is missing: one line, exit code 2."""

import os
import pathlib
import pty
import tty
import types

import pytest

import forebay.rig
from forebay import lastused, ports
from forebay.cli import run
from forebay.dispatch import keys
from forebay.exits import Exit
from forebay.flash import FlashError, begin, volume
from forebay.ports import Candidate
from forebay.rig import load, remaining
from forebay.shelf import Shelf, store

DEMO = pathlib.Path(forebay.rig.__file__).parent.parent / "demo" / "hillside.toml"
ORCHARD = DEMO.with_name("orchard.toml")


@pytest.fixture(autouse=True)
def alone(tmp_path, monkeypatch):
    """No board is plugged in, none was used before."""
    monkeypatch.setattr(lastused, "path", lambda: tmp_path / "state" / "last.json")
    monkeypatch.setattr(ports, "candidates", list)
    monkeypatch.setattr(volume, "volumes", list)


@pytest.fixture
def said(capfd):
    """Runs the command; returns (exit code, lines on stderr) and sees that stdout is empty."""

    def flash(*arguments):
        code = run(["flash", *map(str, arguments)])
        out, err = capfd.readouterr()
        assert out == ""
        assert "Traceback" not in err
        return code, err.splitlines()

    return flash


def test_without_a_rig_it_asks_for_one(said):
    code, lines = said()
    assert code == Exit.INPUT
    assert lines == ["forebay: say which rig: forebay flash RIG.toml"]


def test_a_rig_that_is_not_named_is_the_one_used_last(said):
    lastused.note(rig=DEMO)
    assert said() == said(DEMO)


def test_a_rig_that_is_not_there_is_told(said, tmp_path):
    code, lines = said(tmp_path / "none.toml")
    assert code == Exit.INPUT
    assert len(lines) == 1
    assert "none.toml" in lines[0]


def test_without_a_board_it_says_how_to_name_one(said):
    code, lines = said(DEMO)
    assert code == Exit.INPUT
    assert len(lines) == 1
    assert "no board is plugged in" in lines[0]
    assert not store.default_path().exists()


def test_a_board_without_an_interpreter_is_told_what_it_needs(said, monkeypatch, tmp_path):
    monkeypatch.setattr(volume, "volumes", lambda: [volume.Volume(tmp_path, "RPI-RP2")])
    code, lines = said(DEMO)
    assert code == Exit.INPUT
    assert "--interpreter" in lines[0]


def test_a_network_address_is_refused(said):
    code, lines = said(DEMO, "--port", "192.168.4.1:502")
    assert code == Exit.INPUT
    assert "flashed over USB" in lines[0]


def test_an_image_that_is_none_is_refused_before_anything_else(said):
    code, lines = said(DEMO, "--interpreter", DEMO)
    assert code == Exit.INPUT
    assert "no UF2 image" in lines[0]


def test_a_port_on_which_nobody_answers_is_told_in_one_line(said, cheap):
    near, far = pty.openpty()
    tty.setraw(far)
    try:
        code, lines = said(DEMO, "--port", os.ttyname(far))
    finally:
        os.close(near)
        os.close(far)
    assert code == Exit.INPUT
    assert lines[0] == "looking ..."
    assert len(lines) == 2
    assert "hold its button for 5 s" in lines[1]


def test_an_image_goes_to_the_board_that_waits_and_its_port_is_found(tmp_path, monkeypatch):
    plugged = []
    waiting = volume.Volume(tmp_path, "RPI-RP2")
    monkeypatch.setattr(volume, "volumes", lambda: [waiting])
    monkeypatch.setattr(volume, "check_image", lambda image: "RPI-RP2")
    monkeypatch.setattr(ports, "candidates", lambda: list(plugged))
    copied = []

    def copy(image, place):
        copied.append((image, place))
        plugged.append(Candidate("/dev/ttyACM5", "E66"))

    monkeypatch.setattr(volume, "copy_image", copy)
    found = begin._with_interpreter("image.uf2", None, lambda *_: None)

    assert copied == [("image.uf2", waiting)]
    assert found == "/dev/ttyACM5"


def test_with_several_boards_that_wait_none_is_guessed(tmp_path, monkeypatch):
    monkeypatch.setattr(volume, "check_image", lambda image: "RPI-RP2")
    monkeypatch.setattr(volume, "volumes", lambda: [
        volume.Volume(tmp_path / "one", "RPI-RP2"), volume.Volume(tmp_path / "two", "RPI-RP2")])
    with pytest.raises(FlashError, match="one board must wait"):
        begin._with_interpreter("image.uf2", None, lambda *_: None)


@pytest.mark.parametrize("pull", [True, False])
def test_what_a_person_said_becomes_a_job_and_is_remembered_once_it_is_done(
        tmp_path, monkeypatch, pull):
    jobs = []

    def flash(job):
        jobs.append(job)
        if len(jobs) == 1:
            raise FlashError("not this time")
        return types.SimpleNamespace(port="/dev/ttyACM7")

    monkeypatch.setattr(begin, "flash", flash)
    monkeypatch.setattr(ports, "candidates", lambda: [Candidate("/dev/ttyACM5", "E66")])
    said = {"port": None, "stop": True, "pull": pull, "other_rig": False, "renew_loader": True,
            "interpreter": None, "shelf_path": str(tmp_path / "shelf.sqlite"), "ask": None,
            "tell": print, "confirm": lambda lines: None}
    with pytest.raises(FlashError):
        begin.flash_rig(str(DEMO), **said)
    assert lastused.port() is None
    assert begin.flash_rig(str(DEMO), **said).port == "/dev/ttyACM7"

    job, rig = jobs[1], load(DEMO)
    assert (job.port, job.rig.digest, job.tell) == ("/dev/ttyACM5", rig.digest, print)
    assert (job.stop, job.other_rig, job.renew_loader) == (True, False, True)
    assert (job.shelf is not None) == pull
    assert job.key == keys.ensure(rig.rig_id).secret
    assert (lastused.port(), lastused.rig()) == ("/dev/ttyACM7", str(DEMO))
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        assert shelf.rigs() == [(rig.rig_id, rig.rig.name)]


def test_an_image_whose_board_gives_no_port_is_told_after_half_a_minute(tmp_path, monkeypatch):
    now = [50.0]
    monkeypatch.setattr(begin, "time", types.SimpleNamespace(
        monotonic=lambda: now[0], sleep=lambda s: now.__setitem__(0, now[0] + s)))
    monkeypatch.setattr(volume, "volumes", lambda: [volume.Volume(tmp_path, "RPI-RP2")])
    monkeypatch.setattr(volume, "check_image", lambda image: "RPI-RP2")
    monkeypatch.setattr(volume, "copy_image", lambda image, place: None)
    # Another board has been there all the time.
    monkeypatch.setattr(ports, "candidates", lambda: [Candidate("/dev/ttyACM1", "E67")])
    with pytest.raises(FlashError, match="no serial port appeared within 30 s"):
        begin._with_interpreter("image.uf2", None, lambda *_: None)
    assert 30 <= now[0] - 50.0 <= 31


def test_what_a_modest_rig_leaves_to_hardware_must_have_been_read(said):
    code, lines = said(ORCHARD)
    assert code == Exit.INPUT
    assert len(lines) == 1
    assert "orchard shed leaves" in lines[0]
    assert "overflow" in lines[0]
    assert "--hazards-read" in lines[0]


def test_that_it_was_read_is_said_once_and_anew_when_the_list_changes(said, tmp_path):
    for arguments in ((ORCHARD, "--hazards-read"), (ORCHARD,)):
        code, lines = said(*arguments)
        assert code == Exit.INPUT
        assert "no board is plugged in" in lines[0]
    less = tmp_path / "less.toml"
    less.write_text(ORCHARD.read_text("utf-8").replace("[sensors]\n", "[sensors]\n"
                                                       'lower_empty_float = "absent"\n'))
    assert "--hazards-read" in said(less)[1][0]


@pytest.mark.parametrize(("typed", "told"), [("yes", "no board is plugged in"),
                                             ("", "nothing was flashed")])
def test_on_a_terminal_a_person_reads_the_list_and_types_yes(said, monkeypatch, typed, told):
    near, far = pty.openpty()
    try:
        os.write(near, f"{typed}\n".encode())
        with open(far, encoding="utf-8", closefd=False) as terminal:
            monkeypatch.setattr("sys.stdin", terminal)
            code, lines = said(ORCHARD)
    finally:
        os.close(near)
        os.close(far)
    assert code == Exit.INPUT
    left = remaining.left_to_hardware(load(ORCHARD).plant())
    for hazard in left:
        assert any(line.startswith(f"  {hazard}: ") for line in lines)
    assert all(len(line) <= 80 for line in lines[1:-1])
    assert told in lines[-1]


@pytest.fixture
def cheap(monkeypatch):
    """A silent line need not be waited for."""
    from forebay.flash import prompt

    monkeypatch.setattr(prompt, "ENTER_S", 1)
    monkeypatch.setattr(prompt, "READ_S", 1)
