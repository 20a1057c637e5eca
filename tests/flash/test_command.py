"""What a person sees of `forebay flash` when something is missing: one line, exit code 2."""

import os
import pathlib
import pty
import tty

import pytest

import forebay.rig
from forebay import lastused, ports
from forebay.cli import run
from forebay.exits import Exit
from forebay.flash import FlashError, begin, volume
from forebay.ports import Candidate
from forebay.shelf import store

DEMO = pathlib.Path(forebay.rig.__file__).parent.parent / "demo" / "rig.toml"


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
    assert "hold its button for 3 s" in lines[1]


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


@pytest.fixture
def cheap(monkeypatch):
    """A silent line need not be waited for."""
    from forebay.flash import prompt

    monkeypatch.setattr(prompt, "ENTER_S", 1)
    monkeypatch.setattr(prompt, "READ_S", 1)
