"""How a board is asked: [link] of its rig on a line, any way over USB and networks."""

import types

import pytest

from forebay import lastused, links, ports
from forebay.errors import InputError
from forebay.rig import load
from forebay.wire import Board, client
from forebay.wire.client import NoAnswer
from tests.dispatch.board import Line
from tests.link.rig import Rig

USB, ADAPTER = "/dev/ttyACM7", "/dev/ttyUSB7"


@pytest.fixture
def rig_7(tmp_path, monkeypatch):
    """The path of a rig whose line has unit 7 at 9600 Bd; two ports are plugged in."""
    path = tmp_path / "rig.toml"
    path.write_text(load().toml_text.replace(
        "unit = 1\nspeed_baud = 19200", "unit = 7\nspeed_baud = 9600"))
    monkeypatch.setattr(lastused, "path", lambda: tmp_path / "last.json")
    monkeypatch.setattr(links.list_ports, "comports", lambda: [
        types.SimpleNamespace(device=USB, vid=ports.VENDOR, serial_number="E6"),
        types.SimpleNamespace(device=ADAPTER, vid=0x0403, serial_number="A1")])
    return path


def test_an_adapter_is_asked_as_the_rig_used_last_has_its_line(rig_7):
    lastused.note(rig=rig_7)
    assert links.asked_at(ADAPTER) == links.asked_at("rtu:10.0.0.2:4001") == (7, 9600)


@pytest.mark.parametrize("port", [USB, "/dev/pts/3", "10.0.0.2:502", "tcp:10.0.0.2:502"])
def test_where_no_line_lies_between_a_rig_is_not_asked(rig_7, port):
    lastused.note(rig=rig_7)
    rig_7.write_text("no rig")
    assert links.asked_at(port) == (1, 115200)


def test_without_a_rig_an_adapter_is_asked_as_a_board_is_that_was_told_nothing(rig_7):
    assert links.asked_at(ADAPTER) == (1, 19200)


def test_a_rig_that_cannot_be_used_is_told_where_its_line_is_asked(rig_7):
    lastused.note(rig=rig_7)
    rig_7.write_text("no rig")
    with pytest.raises(InputError, match="rig.toml: this is not TOML"):
        Board(ADAPTER)


def test_a_board_on_a_line_is_reached_by_its_unit_and_speed_alone(rig_7, tmp_path, monkeypatch):
    board = Rig(str(tmp_path / "j"))
    line = Line(board, board.link(unit=7))
    monkeypatch.setattr(client, "TIMEOUT_S", 0.2)
    monkeypatch.setattr(client, "TRIES", 1)
    monkeypatch.setattr(client, "SILENCE_S", 0.01)
    try:
        with Board(line.port) as wire, pytest.raises(NoAnswer):  # a pseudo terminal is no adapter
            wire.values("boot")
        monkeypatch.setattr(links.list_ports, "comports", lambda: [
            types.SimpleNamespace(device=line.port, vid=0x0403, serial_number="A1")])
        lastused.note(rig=rig_7)
        with Board(line.port) as wire:
            assert wire.values("boot") == {"boot": 1}
    finally:
        line.close()
