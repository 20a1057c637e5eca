"""When the wireless board's radio is on: a scripted radio, no real one (not tried)."""

import pytest

from keeper.boards import radio
from keeper.boards.radio import Radio, read_network
from keeper.channels import BUTTON
from keeper.link.signing import access_password
from keeper.link.tcp import TcpPort
from tests.link.rig import KEY, Rig

LONG_SCANS = 110   # 11 s: longer than any press that means something else


class FakeWlan:
    IF_AP, IF_STA = 1, 0
    SEC_OPEN, SEC_WPA_WPA2 = 0, 4
    PM_NONE = 0
    fails = False
    there = False
    log: list = []

    def __init__(self, interface):
        self.interface = interface

    def config(self, **how):
        self.log.append(("config", self.interface, how))

    def active(self, on):
        if on and FakeWlan.fails:
            raise OSError(1)
        self.log.append(("active", self.interface, on))

    def connect(self, name, password):
        self.log.append(("connect", name, password))

    def isconnected(self):
        return FakeWlan.there


class FakeNetwork:
    WLAN = FakeWlan


class FakeSocket:
    opened: list = []

    def __init__(self):
        self.closed = False
        FakeSocket.opened.append(self)

    def setsockopt(self, *_):
        pass

    def bind(self, address):
        self.address = address

    def listen(self, backlog):
        self.backlog = backlog

    def setblocking(self, on):
        assert not on

    def accept(self):
        raise OSError(11)

    def close(self):
        self.closed = True


class FakeSockets:
    SOL_SOCKET = SO_REUSEADDR = 1
    socket = FakeSocket


class Stage:
    """A rig and its radio; runs scan by scan."""

    def __init__(self, folder, key: bytes | None = KEY, known=None):
        FakeWlan.fails = FakeWlan.there = False
        FakeWlan.log = []
        FakeSocket.opened = []
        self.rig = Rig(folder, key)
        port = TcpPort(self.rig.keeper, self.rig.journal, self.rig.desk)
        self.radio = Radio(self.rig.keeper, port, (FakeNetwork, FakeSockets), key, known)

    def run(self, scans):
        for _ in range(scans):
            self.rig.run(1)
            self.radio.work(self.rig.now_ms)

    def press(self, scans):
        self.rig.board.inputs[BUTTON] = 1
        self.run(scans)
        self.rig.board.inputs[BUTTON] = 0
        self.run(3)

    def listeners(self):
        return [one for one in FakeSocket.opened if not one.closed]


@pytest.fixture
def stage(tmp_path):
    stage = Stage(str(tmp_path / "j"))
    stage.run(25)
    return stage


def test_a_press_longer_than_all_others_opens_the_access_point_for_ten_minutes(stage):
    assert FakeWlan.log == []
    stage.press(LONG_SCANS)
    assert stage.radio.state == radio.ACCESS
    assert FakeWlan.log == [
        ("config", 1, {"ssid": "forebay-12345", "key": access_password(KEY), "security": 4}),
        ("active", 1, True),
    ]
    [listener] = stage.listeners()
    assert listener.address == ("0.0.0.0", 502)
    stage.run(5960)
    assert stage.radio.state == radio.ACCESS
    stage.run(60)
    assert stage.radio.state == radio.OFF
    assert FakeWlan.log[-1] == ("active", 1, False)
    assert stage.listeners() == []


@pytest.mark.parametrize("scans", [3, 9, 20, 100])
def test_shorter_presses_leave_the_radio_off(stage, scans):
    stage.press(scans)
    assert FakeWlan.log == []


def test_a_button_that_is_pressed_at_the_start_leaves_the_radio_off(tmp_path):
    stage = Stage(str(tmp_path / "j"))
    stage.press(LONG_SCANS)
    assert FakeWlan.log == []


def test_without_a_key_the_access_point_is_open(tmp_path):
    stage = Stage(str(tmp_path / "j"), key=None)
    stage.run(25)
    stage.press(LONG_SCANS)
    assert FakeWlan.log[0] == ("config", 1, {"ssid": "forebay-12345", "security": 0})


def test_the_password_does_not_tell_the_key():
    assert len(access_password(KEY)) == 16
    assert access_password(KEY) != access_password(KEY[::-1])
    assert bytes.fromhex(access_password(KEY)) not in KEY


def test_a_radio_that_fails_is_counted_and_the_keeper_scans_on(stage):
    FakeWlan.fails = True
    scans = stage.rig.keeper.scans
    stage.press(LONG_SCANS)
    assert stage.radio.failures == 1
    assert stage.radio.state == radio.OFF
    assert stage.listeners() == []
    assert stage.rig.keeper.scans == scans + LONG_SCANS + 3
    FakeWlan.fails = False
    stage.press(LONG_SCANS)
    assert stage.radio.state == radio.ACCESS


def attempts():
    return len([entry for entry in FakeWlan.log if entry[0] == "connect"])


def test_a_network_that_never_answers_is_tried_more_and_more_seldom(tmp_path):
    """20 s a try, then pauses of 1, 2, 4, 8 min: at 0, 80, 220, 480, 980 s."""
    stage = Stage(str(tmp_path / "j"), known=("garden", "secret word"))
    begins = []
    for _ in range(11000):
        before = attempts()
        stage.run(1)
        if attempts() > before:
            begins.append(stage.rig.now_ms // 1000)
    assert begins == [0, 80, 220, 480, 980]


def test_a_network_that_answers_is_served_until_it_is_gone(tmp_path):
    stage = Stage(str(tmp_path / "j"), known=("garden", "secret word"))
    FakeWlan.there = True
    stage.run(100)
    assert stage.radio.state == radio.JOINED
    assert len(stage.listeners()) == 1
    FakeWlan.there = False
    stage.run(60)
    assert stage.radio.state == radio.OFF
    assert stage.listeners() == []


def test_nothing_is_begun_while_the_keeper_is_busy_or_something_runs(tmp_path, monkeypatch):
    stage = Stage(str(tmp_path / "j"), known=("garden", "secret word"))
    monkeypatch.setattr(type(stage.rig.keeper), "busy", True)
    stage.run(20)
    assert FakeWlan.log == []
    monkeypatch.setattr(type(stage.rig.keeper), "busy", False)
    monkeypatch.setattr(type(stage.rig.keeper), "state", 2)
    stage.run(20)
    assert FakeWlan.log == []


def test_the_network_to_join_is_two_lines_of_a_file(tmp_path):
    path = tmp_path / "network"
    assert read_network(str(path)) is None
    for text, expected in (("garden\nsecret\n", ("garden", "secret")), ("garden", None),
                           ("\nx\n", None)):
        path.write_text(text)
        assert read_network(str(path)) == expected
    path.write_bytes(b"\xff\xfe\n\xff")
    assert read_network(str(path)) is None
