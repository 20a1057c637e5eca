"""A board without a board: any client may ask it, orders must be signed, faults come on."""

import os
import pty
import signal
import socket
import struct
import subprocess
import termios
from fcntl import ioctl
from types import SimpleNamespace

import pytest
from pymodbus.client import ModbusSerialClient, ModbusTcpClient

from forebay import cli, lastused, rig
from forebay.calibrate import work
from forebay.calibrate.sitting import CalibrateError
from forebay.dispatch import keys
from forebay.exits import Exit
from forebay.rehearse import RehearsalError, live, plan
from forebay.shelf import Shelf
from forebay.twin.faults import NAMES
from forebay.wire import Board, WireError, client
from keeper import modes
from keeper.channels import CONTACTS
from keeper.link import layout
from keeper.operation import orders
from keeper.protection.elements import number
from keeper.retained import FORCED_DS, LOOK_DS
from tests.rehearse import serving
from tests.rehearse.serving import served, until
from tests.tools import modbus
from tests.tools.npm import ToolMissingError

ROWS, COLUMNS = 24, 80
FAST = ("--speed", "60")


@pytest.fixture(scope="module")
def at_line(tmp_path_factory):
    """A board on a line of its own, at real time."""
    with served(tmp_path_factory.mktemp("line"), "--serve") as one:
        yield one


@pytest.fixture(scope="module")
def at_tcp(tmp_path_factory):
    """A board at a TCP port, at sixty times the pace."""
    with served(tmp_path_factory.mktemp("tcp"), "--serve", "0", *FAST) as one:
        yield one


@pytest.fixture
def run(capsys):
    """Gives a function that runs a command: returncode, stdout, stderr."""
    def done(*arguments):
        capsys.readouterr()
        code = cli.run(list(map(str, arguments)))
        out, err = capsys.readouterr()
        return SimpleNamespace(returncode=code, stdout=out, stderr=err)

    return done


def live_of(one):
    with Board(one.port) as board:
        return board.live()


def test_what_it_prints_is_left_and_documented(at_line):
    assert (at_line.folder / "rehearsal.json").is_file()
    page = (serving.pathlib.Path(__file__).parents[2] / "host/docs/json.md").read_text()
    section = page.split("## forebay rehearse --serve --json")[1].split("\n## ")[0]
    assert [key for key in at_line.document if f"`{key}`" not in section] == []
    assert at_line.document["local_time"].startswith("10:00")


def test_pymodbus_reads_it_pumping_in_the_morning_sun(at_line):
    other = ModbusSerialClient(at_line.port, baudrate=115200)
    assert other.connect()
    try:
        answer = other.read_input_registers(0, count=20, device_id=1)
        assert not answer.isError()
        assert answer.registers[0] == layout.MAP_VERSION
    finally:
        other.close()
    assert live_of(at_line)["state"] == modes.PUMPING


def test_mbpoll_reads_it_with_no_parity(at_line):
    try:
        program = modbus.mbpoll_path()
    except ToolMissingError as error:
        if os.environ.get("CI"):
            raise
        pytest.skip(f"not run: {error}")
    done = subprocess.run([program, "-1", "-0", "-a", "1", "-m", "rtu", "-b", "115200", "-P",
                           "none", "-t", "3:int", "-B", "-r", "2", "-c", "1", at_line.port],
                          capture_output=True, text=True, timeout=serving.END_S)
    assert f"[2]: \t{at_line.document['rig_id']}" in done.stdout, done.stdout + done.stderr


def test_watch_shows_it_whole_lines_in_a_terminal_of_80_by_24(at_line):
    near, far = pty.openpty()
    ioctl(near, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
    process = subprocess.Popen(
        serving.forebay_command("watch", "--port", at_line.port), stdin=far, stdout=far,
        stderr=far, env=serving.environment(TERM="xterm"), start_new_session=True)
    os.close(far)
    said = b""
    try:
        while b"\x1b[J" not in said:
            said += os.read(near, 65536)
    finally:
        process.terminate()
        process.wait(serving.END_S)
        os.close(near)
    page = said.split(b"\x1b[H")[1].split(b"\x1b[J")[0].decode().replace("\x1b[K", "")
    lines = page.replace("\r", "").split("\n")
    assert len(lines) <= ROWS
    assert max(map(len, lines)) <= COLUMNS
    assert str(at_line.document["rig_id"]) in lines[0]
    assert any(line.startswith("PUMPING") for line in lines)
    assert lines[-1].startswith("started: ")  # nothing is cut off below
    assert any("last events" in line for line in lines)


def test_watch_and_dispatch_find_it_without_a_port(at_line, run):
    done = run("dispatch", "light", "0.6W", "--for", "1 h")
    assert (done.returncode, done.stdout) == (Exit.DONE, "done: light of 0.6 W for 1 h\n")
    assert live_of(at_line)["wanted_mW"] == 600
    assert run("watch", "--once").stdout.startswith(f"forebay watch  {at_line.port}  ")


def test_it_takes_no_order_that_is_not_signed_with_its_key(at_line, monkeypatch):
    from forebay.dispatch.sending import block

    with Board(at_line.port) as board:
        before = board.live()
        words = block(None, before["order_nonce"].to_bytes(16), before["orders_passed"] + 1, 5,
                      orders.REST, 60, 0)
        board.write(0, words)
        until(lambda: board.values("refused_tag")["refused_tag"] == 5)
        assert board.values("rest_ds")["rest_ds"] == 0
        assert board.values("orders_passed")["orders_passed"] == before["orders_passed"]


def test_its_identity_and_key_are_not_those_of_the_rig_that_it_plays(at_line):
    played = rig.load().rig_id
    assert at_line.document["rig_id"] != played
    assert keys.maybe_key(at_line.document["rig_id"]) is not None
    assert not keys.path(played).exists()


def test_what_is_pulled_from_it_is_whole_and_described(at_line, run):
    shelf = at_line.document["shelf"]
    assert run("pull", "--shelf", shelf).returncode == Exit.DONE
    checked = run("check", "--shelf", shelf)
    assert (checked.returncode, "NOT sound" in checked.stdout) == (Exit.DONE, False)
    balance = run("balance", "--shelf", shelf)
    assert (balance.returncode, balance.stdout[:18]) == (Exit.DONE, "hillside allotment")
    assert run("pull", "--port", at_line.port, "--shelf", shelf).returncode == Exit.DONE


def test_a_client_that_reads_nothing_holds_nobody_up(at_line):
    far = os.open(at_line.port, os.O_RDWR | os.O_NOCTTY)
    request = bytes.fromhex("01040000007d") + b"\x31\xeb"  # 125 registers
    try:
        for _ in range(200):
            os.write(far, request)
    finally:
        os.close(far)
    before = live_of(at_line)["scans"]
    until(lambda: live_of(at_line)["scans"] > before + 10)


def test_another_tcp_client_reads_it(at_tcp):
    host, port = at_tcp.port.split(":")
    other = ModbusTcpClient(host, port=int(port))
    assert other.connect()
    try:
        answer = other.read_input_registers(0, count=2, device_id=1)
        assert answer.registers[0] == layout.MAP_VERSION
    finally:
        other.close()


def test_a_cut_of_its_power_is_a_new_start_that_remembers(at_tcp, run, monkeypatch):
    # While it is off nothing answers: no use to ask again and again.
    monkeypatch.setattr(client, "TRIES", 1)
    monkeypatch.setattr(client, "TIMEOUT_S", 1.0)
    run("dispatch", "pump", "forbid", "--for", "20 h", "--port", at_tcp.port)
    until(lambda: live_of(at_tcp)["pump_forbidden_ds"])
    before = live_of(at_tcp)
    boot = before["boot"]
    # What bars the pump is saved after a look each second and a wait of 5 s for a quiet moment.
    until(lambda: live_of(at_tcp)["uptime_ds"] > before["uptime_ds"] + LOOK_DS + FORCED_DS)
    at_tcp.type("power-cut")

    def started_anew():
        try:
            return live_of(at_tcp)["boot"] == boot + 1
        except WireError:
            return False

    until(started_anew, 120)
    found = live_of(at_tcp)
    assert found["pump_forbidden_ds"] > 0
    assert found["lockouts"] == 0


def test_faults_and_the_button_work_while_it_runs(at_tcp):
    element = 1 << number("71HH-UP") - 1
    assert not live_of(at_tcp)["acting"] & element
    at_tcp.type("over-full-cut")
    until(lambda: live_of(at_tcp)["acting"] & element)
    button = 1 << list(CONTACTS).index("button")
    assert not live_of(at_tcp)["contacts"] & button
    at_tcp.type("button 60 s")
    until(lambda: live_of(at_tcp)["contacts"] & button)
    until(lambda: not live_of(at_tcp)["contacts"] & button)
    at_tcp.type("over-ful-cut")
    until(lambda: "did you mean over-full-cut" in at_tcp.said())


def test_its_day_comes_again(tmp_path):
    with served(tmp_path, "--serve", "0", "--speed", "1000", "--at", "05:59") as one:
        def lit():
            found = live_of(one)
            return found["uptime_ds"] > 864000 and found["panel_mV"] > 20000
        until(lit, 240)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_ended_by_a_signal_it_leaves_the_port_of_before(tmp_path, number):
    lastused.note(port="/dev/of-before")
    with served(tmp_path, "--serve", "0", "--at", "06:00", "--python", "here") as one:
        assert lastused.port() == one.port
        assert one.end(number) == Exit.DONE
        assert "late by more than a period" in one.said()
    assert lastused.port() == "/dev/of-before"
    with pytest.raises(WireError, match="nothing answers"):
        live_of(one)


def test_a_port_that_is_taken_is_one_line(tmp_path, run):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        done = run("rehearse", "--serve", taken.getsockname()[1], "--out", tmp_path / "out")
    assert (done.returncode, done.stdout) == (Exit.INPUT, "")
    assert "the port cannot be opened (Address already in use); name another" in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize(("arguments", "said"), [
    (["--serve", "my-rig.toml"], "RIG.toml stands ahead of --serve"),
    (["--serve", "65536"], "0 (any that is free) to 65535"),
    (["--serve", "--at", "noon"], "--at noon: must be HH:MM"),
    (["--serve", "--at", "24:00"], "--at 24:00: the time must be 00:00 to 23:59"),
    (["--serve", "--speed", "0"], "Invalid value for '--speed'"),
    (["--speed", "2"], "--speed and --at go with --serve"),
    (["--at", "10:00"], "--speed and --at go with --serve"),
])  # fmt: skip
def test_what_cannot_be_served_is_said(tmp_path, run, arguments, said):
    done = run("rehearse", "--out", tmp_path / "out", *arguments)
    assert (done.returncode, done.stdout) == (Exit.INPUT, "")
    assert said in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(("text", "what"), [
    ("", None), ("  ", None), (" cloud-edge ", {"fault": "cloud-edge"}),
    ("button", {"button_s": 2.0}), ("button 12 s", {"button_s": 12.0}),
    ("button 500ms", {"button_s": 0.5}), ("button 3", {"button_s": 3.0}),
])  # fmt: skip
def test_a_line_that_is_typed_means(text, what):
    assert live.asked(text) == what


@pytest.mark.parametrize("text", ["nonsense", "button 0", "button 2 h", "button x", "\x1b[2J"])
def test_a_line_that_means_nothing_is_answered_in_one_line(text):
    with pytest.raises(RehearsalError) as caught:
        live.asked(text)
    assert str(caught.value).isprintable()


def test_what_is_served_in_two_folders_is_two_rigs_and_neither_the_real_one(tmp_path):
    """Their records and unfinished sittings once were each other's."""
    one, other = (plan(None, out=tmp_path / name) for name in ("one", "other"))
    ids = {live.own_identity(one), live.own_identity(other), one.rig.rig_id}
    assert len(ids) == 3
    assert live.own_identity(plan(None, out=tmp_path / "other" / ".." / "one")) in ids
    # Who calibrates at one of them knows it for practice, and no other rig for that.
    for rig_id in ids - {one.rig.rig_id}:
        assert work.whose(one.rig, rig_id) == work.Whose(rig_id, True)
    assert work.whose(one.rig, one.rig.rig_id) == work.Whose(one.rig.rig_id, False)
    with pytest.raises(CalibrateError, match="runs for another rig"):
        work.whose(rig.load(demo="orchard"), min(ids))


def test_what_it_says_fits_80_columns_but_for_commands(tmp_path):
    planned = plan(None, out=tmp_path / "out")
    for port in ("/dev/pts/123", "127.0.0.1:65535"):
        lines = live.Live(planned, 1, 60.0, port, "CPython", "").opening_lines()
        assert [one for one in lines if len(one) > COLUMNS and not one.startswith("  ")] == []


def test_what_is_assumed_of_the_rig_is_said_before_anything_is_tried(tmp_path):
    file = tmp_path / "rig.toml"
    file.write_text(rig.load(demo="orchard").toml_text + '\n[assumed]\npump = ["rated_head"]\n')
    planned = plan(file, out=tmp_path / "out")
    text = " ".join(live.Live(planned, 1, 60.0, "p", "CPython", "").opening_lines())
    assert text.startswith(planned.rig.assumed_line())
    assert " figures of the rig are assumed, not measured " in text


def test_every_fault_can_be_typed():
    assert [name for name in NAMES if live.asked(str(name)) != {"fault": str(name)}] == []


def test_whatever_shelf_it_is_pulled_to_knows_that_it_is_made_up(at_line, run, tmp_path):
    at_line.type("cloud-edge")
    rig_id = at_line.document["rig_id"]

    def faults(path):
        with Shelf(path, create=False) as shelf:
            told, = shelf.rehearsed(rig_id)
            return [name for _, name in told.faults]

    until(lambda: faults(at_line.document["shelf"]) == ["cloud-edge"])
    other = tmp_path / "other.sqlite"
    assert run("pull", "--port", at_line.port, "--shelf", other).returncode == Exit.DONE
    assert faults(other) == ["cloud-edge"]


# Lines on the standard input

@pytest.mark.parametrize(("line", "what"), [
    ("", None), ("  ", None),
    ("lift LSH-UP", {"hands": ("lift", "LSH-UP", 0.0, 0.0)}),
    ("warm TI-MOT 35 degC for 2 min", {"hands": ("warm", "TI-MOT", 35.0, 120.0)}),
    ("warm TI-WTR 95 degF", {"hands": ("warm", "TI-WTR", 35.0, 60.0)}),
    ("press HS-1 2 s", {"hands": ("press", "HS-1", 2.0, 0.0)}),
    ("bucket up 10 L", {"hands": ("bucket", "up", 10.0, 0.0)}),
    ("dip", {"hands": ("dip", "", 0.0, 0.0)}),
    ("wait 5 s", {"wait": 5.0}), ("meter TP3", {"meter": "TP3"}), ("help", {"help": ""}),
    ("pump-lead-open", {"fault": "pump-lead-open"}), ("button 3 s", {"button_s": 3.0}),
])
def test_a_line_is_a_fault_a_hand_or_a_wait(line, what):
    found = live.asked(line)
    assert found == what or found == pytest.approx(what) or (
        found and found["hands"][:2] == what["hands"][:2]
        and found["hands"][2:] == pytest.approx(what["hands"][2:]))


def test_the_meter_knows_the_newest_fault_or_mistake_of_the_wiring(tmp_path):
    planned = plan(None, out=tmp_path / "out")
    one = live.Live(planned, 1, 1.0, "p", "CPython", "")
    assert live._metered_V(one, "TP41") > 11.0
    for line, knows in (("miswire full-floats-swapped", "full-floats-swapped"),
                        ("cloud-edge", "full-floats-swapped"),
                        ("miswire pump-shunt-reversed", "pump-shunt-reversed"),
                        ("lift LSH-UP", "pump-shunt-reversed"),
                        ("panel-lead-open", "panel-lead-open")):
        asked = live.asked(line)
        assert asked
        one.note(asked)
        assert one.wired == knows
    # Behind an open panel's lead there is nothing; it once stayed so whatever was done.
    assert abs(live._metered_V(one, "TP2")) < 0.1


@pytest.mark.parametrize(("line", "said"), [
    ("lft LSH-UP", "lift"), ("lift LSH", "LSH-UP"), ("warm TI-MOT 300 degC", "-20 to 100"),
    ("warm TI-MOT 3 bar", "bar"), ("wait 2 h", "3600"), ("wait x", "wait"),
    ("miswire floats", "full-floats-swapped"), ("wave", "help")])
def test_a_line_that_is_none_is_told_with_what_is_near(line, said):
    with pytest.raises(RehearsalError, match=said):
        live.asked(line)


def test_the_words_of_the_help_fit_a_terminal():
    lines = live.help_lines()
    assert max(map(len, lines)) <= COLUMNS
    assert any("lift FLOAT" in line for line in lines)


def test_what_a_hand_does_shows_at_the_served_board(at_tcp):
    contact = 1 << list(CONTACTS).index("contact_71h_up")
    at_tcp.type("leave LSH-UP")
    until(lambda: live_of(at_tcp)["contacts"] & contact)
    at_tcp.type("lift LSH-UP")
    until(lambda: not live_of(at_tcp)["contacts"] & contact)
    at_tcp.type("leave LSH-UP")
    until(lambda: live_of(at_tcp)["contacts"] & contact)
    at_tcp.type("dip")
    until(lambda: "dip: " in at_tcp.said())
