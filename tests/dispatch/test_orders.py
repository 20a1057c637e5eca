"""Every order from the command line to the keeper and back, over a real line."""

import json
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from forebay import cli, lastused, zones
from forebay.dispatch import DispatchError, keys, sending, wishes
from forebay.exits import Exit
from forebay.wire import Board
from forebay.wire import client as wire_client
from forebay.words.operation import ORDERS
from keeper.link import layout
from keeper.link.signing import access_password
from keeper.operation import orders
from tests.dispatch.board import Line
from tests.link.orders import signature
from tests.link.rig import KEY, RIG_ID, Rig


def dispatch(capsys, *arguments):
    """Returns (exit code, stdout, stderr)."""
    code = cli.run(["dispatch", *map(str, arguments)])
    return code, *capsys.readouterr()


def light_of(rig):
    return sequence_of(rig).light


def sequence_of(rig):
    """Returns what an order changes of the rest."""
    return rig.keeper.core.sequence


@pytest.mark.parametrize(("arguments", "said", "shows"), [
    (["light", "0.6 W", "--for", "4 h"], "light of 0.6 W for 4 h",
     lambda rig: (
         light_of(rig).wanted_mW == 600 and light_of(rig).ordered_periods > 4 * 36000 - 3000)),
    (["brightness", 3, "--for", "90 min"], "brightness 3 for 1 h 30 min",
     lambda rig: light_of(rig).wanted_mW == 1000),
    (["last"], "the light is to last till dawn", lambda rig: light_of(rig).ends_periods == 0),
    (["last", "--till", "00:00"], "the light is to last till 00:00",
     lambda rig: 0 < light_of(rig).ends_periods <= 1440 * 600),
    (["rest", "--for", "2 h"], "standstill for 2 h",
     lambda rig: light_of(rig).off_periods > 0 and sequence_of(rig).forbidden_periods > 0),
    (["pump", "forbid"], "no pump for 24 h", lambda rig: sequence_of(rig).forbidden_periods > 0),
    (["pump", "allow"], "the pump may run", lambda rig: sequence_of(rig).forbidden_periods == 0),
    (["drain-down", "--for", "1 h"], "pipes run empty for 1 h at most",
     lambda rig: sequence_of(rig).drain_periods > 0),
    (["drain-down", "--end"], "the drain-down is over",
     lambda rig: sequence_of(rig).drain_periods == 0),
    (["maintenance"], "everything stands", lambda rig: sequence_of(rig).maintenance),
    (["maintenance", "--end"], "may run again",
     lambda rig: not sequence_of(rig).maintenance),
    (["clock"], "clock set to", lambda rig: light_of(rig).clock_known),
    (["release"], "all holds are ended", lambda rig: light_of(rig).ordered_periods == 0),
])  # fmt: skip
def test_an_order_reaches_the_keeper_and_is_read_back(rig, line, capsys, arguments, said, shows):
    code, out, err = dispatch(capsys, *arguments, "--port", line.port)
    assert (code, err) == (Exit.DONE, "")
    assert out.startswith("done: ")
    assert said in out
    assert shows(rig)
    assert rig.desk.passed == 1


def test_as_json_it_says_what_was_ordered_and_what_the_board_shows(line, capsys):
    code, out, _ = dispatch(capsys, "light", "600 mW", "--for", "1 h", "--port", line.port,
                            "--json")
    document = json.loads(out)
    assert code == Exit.DONE
    assert document["order"] == "light"
    assert (document["argument_a"], document["argument_b"]) == (600, 60)
    assert document["signed"] is True
    assert document["shown"]["wanted_mW"] == 600


@pytest.mark.parametrize(("arguments", "said"), [
    (["light", "0.1 W", "--for", "4 h"], "below the least useful power"),
    (["brightness", 5, "--for", "1 h"], "there is no such brightness step"),
    (["light", "0.6 W", "--for", "30 h"], "an argument is out of range"),
    (["light", "0.6 V", "--for", "4 h"], "power '0.6 V': V does not fit a power; use W, mW or kW"),
    (["rest", "--for", "4"], "duration '4' is 4 s: at least 1 min"),
    (["light", "0,6 W", "--for", "4 h"], "has a comma"),
    (["light", "0 W", "--for", "4 h"], "at least 1 mW"),
    (["rest", "--for", "10 s"], "at least 1 min"),
    (["last", "--till", "25:00"], "write HH:MM"),
    (["reset", "--seen-on-site"], "nothing is locked out"),
])  # fmt: skip
def test_what_cannot_be_is_one_line_and_exit_code_2(rig, line, capsys, arguments, said):
    code, out, err = dispatch(capsys, *arguments, "--port", line.port)
    assert (code, out) == (Exit.INPUT, "")
    assert said in err
    assert len(err.strip().splitlines()) == 1
    assert light_of(rig).ordered_periods == 0


# Lines and keys that fail

@pytest.fixture
def short_waits(monkeypatch):
    monkeypatch.setattr(wire_client, "TIMEOUT_S", 0.3)
    monkeypatch.setattr(wire_client, "SILENCE_S", 0.05)


def served(rig, mishap):
    return Line(rig, rig.link(), mishap)


def test_an_answer_that_is_lost_does_not_send_the_order_twice(rig, short_waits):
    """The first reply to the writing is lost: the tag shows that it was taken."""
    written = []

    def mishap(number, reply):
        if reply[1] == 16:
            written.append(number)
            return None
        return reply

    line = served(rig, mishap)
    try:
        with Board(line.port) as board:
            outcome = sending.send(board, orders.LIGHT, 600, 30)
    finally:
        line.close()
    assert outcome.result == 0
    assert len(written) == 1
    assert rig.desk.passed == 1


@pytest.mark.parametrize("damaged", [1, sending.TRIES - 1])
def test_an_order_that_is_lost_on_the_way_is_sent_again(rig, line, short_waits, damaged):
    line.damaged = damaged
    with Board(line.port) as board:
        assert sending.send(board, orders.LIGHT, 600, 30).result == 0
    assert line.damaged == 0
    assert rig.desk.passed == 1
    assert sum(rig.desk.counts) == 0


def test_an_order_that_is_lost_every_time_says_that_nobody_knows_of_it(
        rig, line, short_waits, monkeypatch):
    monkeypatch.setattr(sending, "JUDGED_S", 0.1)
    line.damaged = sending.TRIES
    with Board(line.port) as board, pytest.raises(DispatchError, match="does not say"):
        sending.send(board, orders.LIGHT, 600, 30)
    assert rig.desk.passed == 0


def test_an_order_that_a_board_of_another_start_never_saw_is_not_sent_again(
        rig, line, short_waits, monkeypatch):
    """What it did before it started anew nobody knows: the nonce is another one now."""
    monkeypatch.setattr(sending, "JUDGED_S", 0.1)
    line.damaged = 1
    write = Board.write

    def and_start_anew(board, first, words):
        try:
            write(board, first, words)
        finally:
            rig.desk._renew()

    monkeypatch.setattr(Board, "write", and_start_anew)
    with Board(line.port) as board, pytest.raises(DispatchError, match="does not say"):
        sending.send(board, orders.LIGHT, 600, 30)
    assert rig.desk.passed == 0


def test_another_order_in_between_costs_another_try(rig, line, monkeypatch):
    real = sending.block
    spoilt = []

    def block(key, nonce, *rest):
        if not spoilt:
            spoilt.append(nonce)
            rig.desk.passed += 1
            rig.desk._renew()
        return real(key, nonce, *rest)

    monkeypatch.setattr(sending, "block", block)
    with Board(line.port) as board:
        assert sending.send(board, orders.LIGHT, 600, 30).result == 0
    assert len(spoilt) == 1
    assert rig.desk.passed == 2


def test_without_the_rigs_key_it_says_where_to_get_it(rig, line, capsys):
    keys.path(RIG_ID).unlink()
    code, _, err = dispatch(capsys, "release", "--port", line.port)
    assert code == Exit.INPUT
    assert f"no key of rig {RIG_ID}" in err
    assert "copy it from the computer" in err


def test_a_board_that_does_not_know_its_rig_is_ordered_with_the_key_that_it_names(
        rig, line, key):
    keys.path(RIG_ID).rename(keys.path(RIG_ID + 1))
    keys.ensure(RIG_ID)
    with Board(line.port) as board:
        outcome = sending.send(board, orders.LIGHT, 600, 30)
    assert (outcome.result, outcome.signed, rig.desk.passed) == (0, True, 1)


def test_with_another_key_than_the_boards_nothing_is_sent(rig, line, capsys):
    keys.path(RIG_ID).write_bytes(KEY)
    code, _, err = dispatch(capsys, "release", "--port", line.port)
    assert code == Exit.INPUT
    assert "has another key" in err
    assert rig.desk.state() == 0


def test_a_board_without_a_key_obeys_at_its_own_line_and_the_user_is_told(tmp_path, capsys):
    rig = Rig(str(tmp_path / "k"), None)
    rig.run(5)
    line = Line(rig, rig.link(local=True))
    try:
        code, out, _ = dispatch(capsys, "light", "0.6 W", "--for", "1 h", "--port", line.port)
    finally:
        line.close()
    assert code == Exit.DONE
    assert "The board has no key" in out


def test_a_board_without_a_key_refuses_over_other_lines(tmp_path, capsys):
    rig = Rig(str(tmp_path / "k"), None)
    rig.run(5)
    line = Line(rig, rig.link())
    try:
        code, _, err = dispatch(capsys, "light", "0.6 W", "--for", "1 h", "--port", line.port)
    finally:
        line.close()
    assert code == Exit.INPUT
    assert "orders over USB only" in err


class Counts(list):
    """Counts of a firmware that knows a reason more."""

    def __getitem__(self, place):
        return 0 if place == 99 else super().__getitem__(place)

    def __setitem__(self, place, value):
        if place != 99:
            super().__setitem__(place, value)


def test_a_reason_of_a_newer_firmware_is_named_by_its_number(rig, line, capsys, monkeypatch):
    monkeypatch.setattr(rig.desk, "_gate", lambda: 99)
    monkeypatch.setattr(rig.desk, "counts", Counts(rig.desk.counts))
    code, _, err = dispatch(capsys, "light", "0.6 W", "--for", "1 h", "--port", line.port)
    assert code == Exit.INPUT
    assert err.endswith("refuses the order: an unknown reason (99)\n")


def test_a_port_that_is_not_there_is_one_line(capsys):
    code, _, err = dispatch(capsys, "release", "--port", "/dev/not-there")
    assert code == Exit.INPUT
    assert "there is no port /dev/not-there" in err


def test_no_message_holds_the_key(line, key, capsys):
    said = "".join(map(str, dispatch(capsys, "release", "--port", line.port)))
    keys.path(RIG_ID).write_bytes(KEY)
    said += "".join(map(str, dispatch(capsys, "release", "--port", line.port)))
    for secret in (key.secret, KEY):
        assert secret.hex() not in said


def test_a_block_is_what_the_map_says(key):
    nonce = bytes(range(16))
    words = sending.block(key, nonce, 5, 6, orders.CLOCK, 20000, 86399)
    data = b"".join(word.to_bytes(2) for word in words)
    at = 2 * layout.BLOCK_SIGNATURE
    assert data[at : at + 32] == signature(key.secret, nonce, 5, 6, orders.CLOCK, 20000, 86399)
    with pytest.raises(DispatchError, match="does not fit"):
        sending.block(key, nonce, 5, 6, orders.CLOCK, 1 << 31, 0)


def test_every_order_of_the_keeper_can_be_dispatched():
    from forebay.cli.dispatch import command

    assert set(command.commands) - {"access"} == {said.name for said in ORDERS.values()}


@pytest.mark.parametrize("name", [said.name for said in ORDERS.values()] + ["access"])
def test_every_order_has_help_with_an_example(name, capsys):
    code, out, _ = dispatch(capsys, name, "--help")
    assert code == Exit.DONE
    assert f"forebay dispatch {name}" in out.split("Example:")[1]
    assert max(map(len, out.splitlines())) <= 80


def test_the_access_point_is_shown_with_the_password_that_the_board_works_out(capsys):
    from forebay import rig as rigs
    from forebay.dispatch import access

    demo = str(Path(rigs.__file__).parents[1] / "demo" / "hillside.toml")
    rig_id = rigs.load(demo).rig_id
    _, out, _ = dispatch(capsys, "access", "--rig", demo)
    assert "It is open" in out
    made = keys.ensure(rig_id)
    code, out, _ = dispatch(capsys, "access", "--rig", demo)
    assert code == Exit.DONE
    assert f"network: forebay-{rig_id}\npassword: {access_password(made.secret)}\n" in out
    _, out, _ = dispatch(capsys, "access", "--rig", demo, "--json")
    assert json.loads(out) == access.access_of(demo).as_json()
    code, _, _ = dispatch(capsys, "access")
    assert code == Exit.INPUT


def test_a_till_is_of_the_rigs_zone_not_of_this_computers(tmp_path):
    path = tmp_path / "rig.toml"
    demo = Path(cli.__file__).parents[1] / "demo" / "hillside.toml"
    path.write_text(demo.read_text().replace(
        "[site]\n", '[site]\nzone = "Pacific/Kiritimati"\n'))
    lastused.note(rig=path)
    assert zones.now_at_rig().utcoffset() == timedelta(hours=14)
    path.unlink()
    assert zones.now_at_rig().utcoffset() == datetime.now().astimezone().utcoffset()


def test_a_till_is_the_next_such_time():
    now = datetime(2026, 1, 5, 22, 30)
    assert wishes.minutes_till("23:15", now) == 45
    assert wishes.minutes_till("06:00", now) == 450
    assert wishes.minutes_till("22:30", now) == 1440
    # In the night to 29 March 2026 Madrid's clocks skip an hour (Directive 2000/84/EC).
    spring = datetime(2026, 3, 28, 23, 0, tzinfo=ZoneInfo("Europe/Madrid"))
    assert wishes.minutes_till("06:00", spring) == 360
    autumn = datetime(2026, 10, 24, 23, 0, tzinfo=ZoneInfo("Europe/Madrid"))
    assert wishes.minutes_till("06:00", autumn) == 480
    assert wishes.minutes_till("23:00", autumn) == 1440
