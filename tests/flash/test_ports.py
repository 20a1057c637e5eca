"""Ports named as people know them, the one used last, and refusals that say what to do."""

import grp
import os
import pty

import pytest

from forebay import lastused, ports
from forebay.ports import Candidate, PortError

ONE = Candidate("/dev/ttyACM0", "E660AAAA")
TWO = Candidate("COM7", "E660BBBB")


@pytest.fixture(autouse=True)
def nothing_used(tmp_path, monkeypatch):
    monkeypatch.setattr(lastused, "path", lambda: tmp_path / "state" / "last.json")


def test_a_named_port_is_taken_as_it_is():
    for named in ("COM3", "/dev/ttyACM0", "192.168.4.1:502"):
        assert ports.choose(named, found=[ONE, TWO]) == named


def test_the_one_board_that_is_plugged_in_is_chosen():
    lastused.note(port="somewhere:502")
    assert ports.choose(None, found=[ONE]) == ONE.device


def test_of_several_boards_a_person_is_asked():
    asked = []

    def ask(boards):
        asked.extend(boards)
        return boards[1].device

    assert ports.choose(None, found=[ONE, TWO], ask=ask) == "COM7"
    assert asked == [ONE, TWO]


def test_of_several_boards_and_nobody_to_ask_each_is_named():
    with pytest.raises(PortError) as refused:
        ports.choose(None, found=[ONE, TWO])
    said = str(refused.value)
    assert "\n" not in said
    for part in (ONE.device, ONE.serial_number, TWO.device, TWO.serial_number, "--port"):
        assert part in said


def test_of_several_boards_the_one_used_last_is_chosen():
    lastused.note(port=TWO.device)
    assert ports.choose(None, found=[ONE, TWO]) == TWO.device


def test_without_a_board_the_line_used_last_serves_but_not_for_what_needs_usb():
    lastused.note(port="192.168.4.1:502")
    assert ports.choose(None, found=[]) == "192.168.4.1:502"
    with pytest.raises(PortError, match="no board is plugged in"):
        ports.choose(None, usb=True, found=[])


def test_a_board_is_found_again_under_another_name(monkeypatch):
    monkeypatch.setattr(ports, "candidates", lambda: [Candidate("/dev/ttyACM1", "E660AAAA")])

    assert ports.same_board("/dev/ttyACM0", "E660AAAA") == "/dev/ttyACM1"
    assert ports.same_board("/dev/ttyACM0", "E660CCCC") == "/dev/ttyACM0"
    assert ports.same_board("/dev/ttyUSB0", "") == "/dev/ttyUSB0"
    assert ports.serial_number("/dev/ttyACM1") == "E660AAAA"


def test_only_the_makers_boards_are_candidates(monkeypatch):
    class Port:
        def __init__(self, device, vid):
            self.device, self.vid, self.serial_number = device, vid, None

    plugged = [Port("/dev/ttyUSB0", 0x0403), Port("/dev/ttyACM1", 0x2E8A),
               Port("/dev/ttyS0", None)]
    monkeypatch.setattr(ports.list_ports, "comports", lambda: plugged)

    assert ports.candidates() == [Candidate("/dev/ttyACM1", "")]


def test_a_port_that_is_not_there_is_told_apart_from_one_that_is_no_port(tmp_path):
    with pytest.raises(PortError, match="there is no port"):
        ports.check(str(tmp_path / "ttyACM9"))
    (tmp_path / "file").write_text("")
    with pytest.raises(PortError, match="not a serial port"):
        ports.check(str(tmp_path / "file"))


def test_a_port_that_this_user_may_not_open_names_the_group_to_join(monkeypatch):
    near, far = pty.openpty()
    try:
        port = os.ttyname(far)
        ports.check(port)
        monkeypatch.setattr(os, "access", lambda path, mode: False)
        group = grp.getgrgid(os.stat(port).st_gid).gr_name
        with pytest.raises(PortError) as refused:
            ports.check(port)
    finally:
        os.close(near)
        os.close(far)
    said = str(refused.value)
    assert "may not open" in said
    assert f"usermod -a -G {group} $USER" in said or group == "root"


def test_what_was_used_last_is_kept_and_rubbish_is_nothing(tmp_path):
    assert lastused.port() is None
    assert lastused.rig() is None
    rig = tmp_path / "rig.toml"
    rig.write_text("")
    lastused.note(port="COM3", rig=rig)
    lastused.note(port="COM4")
    lastused.note_proof_test(7, "2026-05-01")

    assert lastused.port() == "COM4"
    assert lastused.rig() == str(rig)
    assert lastused.proof_test(7) == "2026-05-01"
    assert lastused.proof_test(8) is None
    rig.unlink()
    assert lastused.rig() is None
    for rubbish in ("", "[1]", '{"port": 3}', "{"):
        lastused.path().write_text(rubbish)
        assert lastused.port() is None


def test_a_place_that_cannot_be_written_is_no_error(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(lastused, "path", lambda: tmp_path / "file" / "last.json")

    lastused.note(port="COM3")

    assert lastused.port() is None
