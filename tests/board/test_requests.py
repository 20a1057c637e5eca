"""Every kind of request and of order on the running board: none may end in a restart.

What only the start needs is let go afterwards; whatever still wants it would
show here, as a NameError that the loader keeps and a restart.
"""

import struct

import pytest
import serial
from pymodbus import FramerType
from pymodbus.client import ModbusSerialClient

from forebay import rig as rigs
from forebay.dispatch import keys, sending
from forebay.shelf import Shelf
from forebay.wire import pull
from forebay.wire.client import Board as Client
from keeper import modes
from keeper.link import layout, pdu
from keeper.operation import orders, proving
from keeper.protection import elements
from keeper.protection.elements import number
from tests.board import clock, journals, session, states, watched
from tests.link import frames

START_MS = 5000
ANSWER_S = 2.0
# Modbus Application Protocol V1.1b3, section 7.
ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE = 1, 2, 3
EXCEPTION_BYTES = 5  # unit, function, code, CRC
NO_FILE = 16000
ERROR_PATH = "/last_error"
TAIL_ROWS = 20
LEAVE_MS = 30_000
# What an earlier program ended by: it stays as it is while no other error comes.
EARLIER = "\n".join(["an error of an earlier life"] * 20)
UNKNOWN_ORDER = len(orders.ORDERS) + 1


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("keys")


@pytest.fixture(scope="module")
def board(make_board, folder):
    """A board that runs the demonstration rig from a tail of some rows, with a key."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(keys, "folder", lambda: folder)
        key = keys.ensure(rigs.load().rig_id)
        files = session.flashed_files(with_rig=True, changed=states.SOON)
        files |= journals.of_tail(TAIL_ROWS) | {keys.BOARD_PATH: key.secret,
                                        ERROR_PATH: EARLIER.encode()}
        with make_board(files, held=True) as found:
            session.fit(found)
            found.run_ms(START_MS)
            watched.assert_real(states.live(found), found, boot=2)
            yield found


@pytest.fixture(autouse=True)
def still_up(board):
    """After each test the same start goes on, and no error was kept."""
    yield
    watched.assert_real(states.live(board), board, boot=2)
    assert board.files()[ERROR_PATH].decode() == EARLIER


@pytest.fixture
def general(board):
    """A Modbus client that is not ours."""
    with clock.following(board):
        client = ModbusSerialClient(
            board.serial_path, framer=FramerType.RTU, baudrate=115200, timeout=ANSWER_S, retries=0
        )
        assert client.connect()
        yield client
        client.close()


def test_every_register_is_read(general):
    for first in range(0, layout.REGISTERS_END, 62):
        count = min(62, layout.REGISTERS_END - first)
        answer = general.read_input_registers(first, count=count, device_id=1)
        assert len(answer.registers) == count
    answer = general.read_holding_registers(0, count=layout.ORDER_WORDS, device_id=1)
    assert len(answer.registers) == layout.ORDER_WORDS


def test_registers_are_written_one_by_one_and_many_at_once(general):
    assert not general.write_register(0, 0, device_id=1).isError()
    assert not general.write_registers(0, [0, 0, 0], device_id=1).isError()


@pytest.mark.parametrize(
    ("ask", "code"),
    [
        (lambda client: client.read_coils(0, count=1, device_id=1), ILLEGAL_FUNCTION),
        (lambda client: client.read_discrete_inputs(0, count=1, device_id=1), ILLEGAL_FUNCTION),
        (lambda client: client.write_coil(0, True, device_id=1), ILLEGAL_FUNCTION),
        (lambda client: client.read_input_registers(60000, count=2, device_id=1),
         ILLEGAL_ADDRESS),
        (lambda client: client.read_holding_registers(60000, count=2, device_id=1),
         ILLEGAL_ADDRESS),
        (lambda client: client.write_register(60000, 1, device_id=1), ILLEGAL_ADDRESS),
        (lambda client: client.write_registers(60000, [1], device_id=1), ILLEGAL_ADDRESS),
    ],
)
def test_what_is_not_there_is_refused(general, ask, code):
    answer = ask(general)
    assert answer.isError()
    assert answer.exception_code == code


def test_a_file_that_is_not_there_and_a_record_behind_the_end_are_refused(board):
    with clock.following(board), Client(board.serial_path) as client:
        for number, word in ((NO_FILE, 0), (layout.DIRECTORY_FILE, pdu.RECORDS - 2)):
            with pytest.raises(Exception, match="no such address or file"):
                client.file(number, word, 1)


def test_the_last_error_is_read_to_its_end(board):
    with clock.following(board), Client(board.serial_path) as client:
        assert client.last_error() == EARLIER


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        (frames.read_registers(0, 0), ILLEGAL_VALUE),
        (frames.read_registers(0, 126), ILLEGAL_VALUE),
        (frames.read_holding(0, 0), ILLEGAL_VALUE),
        # One register, and four bytes for it.
        (struct.pack(">BHHBHH", 16, 0, 1, 4, 0, 0), ILLEGAL_VALUE),
        (frames.read_file((layout.DIRECTORY_FILE, 0, 1), reference=5), ILLEGAL_ADDRESS),
        (frames.read_file((layout.DIRECTORY_FILE, 0, 1), (layout.ERROR_FILE, 9999, 1)),
         ILLEGAL_ADDRESS),
    ],
)
def test_what_is_asked_wrongly_is_refused(board, asked, code):
    with clock.following(board), serial.Serial(board.serial_path, timeout=ANSWER_S,
                                               exclusive=True) as port:
        port.write(frames.frame(asked))
        answer = frames.pdu_of(port.read(EXCEPTION_BYTES))
    assert answer == bytes([asked[0] | 0x80, code])


def test_damaged_frames_are_dropped(board):
    with clock.following(board) as waiting:
        with serial.Serial(board.serial_path, timeout=ANSWER_S, exclusive=True) as port:
            for frame in (b"\x01\x04\x00\x00\x00\x02\x00\x00", bytes(300), b"\xff" * 40, b"\x01"):
                port.write(frame)
                waiting.sleep(0.2)
            port.read(port.in_waiting)


def test_all_that_the_journal_holds_is_pulled(board, tmp_path):
    with clock.following(board), Shelf(tmp_path / "shelf.sqlite") as shelf:
        found = pull(board.serial_path, shelf, lambda *_: None).as_json()
    # Rows that came since the start are new as well.
    assert found["new_rows"] >= TAIL_ROWS
    assert found["new_events"] > 0


def wanted():
    """Every order, at either end of what it takes, and past it."""
    for code, a_low, a_high, b_low, b_high, *_ in orders.ORDERS:
        if code == orders.MAINTAIN:
            yield from ((code, 1, 0), (code, 0, 0), (code, 2, 0), (code, 0, 0))
        else:
            yield from ((code, a_low, b_low), (code, a_high, b_high))
        yield code, a_high + 1, b_low
        yield orders.RELEASE, 0, 0


def test_every_order_is_judged(board):
    judged = set()
    for code, a, b in wanted():
        judged.add(states.order(board, code, a, b).result)
    judged.add(states.order(board, UNKNOWN_ORDER).result)
    # A keeper that remembers nothing begins locked: until here, orders about light were refused.
    states.unlock(board)
    judged.add(states.order(board, orders.RESET, 1).result)
    assert {orders.DONE, orders.RANGE, orders.UNKNOWN, orders.LOCKED,
            orders.NOTHING_LOCKED} <= judged


def test_an_element_acts_sooner_by_order_and_as_set_again(board):
    states.unlock(board)
    asked = proving.ELEMENT + number("26-MOT")
    assert states.order(board, orders.PROVE, asked, 125000).result == orders.NOT_SAFER
    assert states.order(board, orders.PROVE, asked, 30000).result == orders.DONE
    assert states.live(board)["proved_element"] == number("26-MOT")
    assert states.order(board, orders.PROVE, proving.BLINK, 3).result == orders.DONE
    assert states.order(board, orders.PROVE, proving.END).result == orders.DONE
    assert states.live(board)["proved_element"] == 0


def test_an_order_that_nobody_signed_is_refused(board, monkeypatch, tmp_path):
    monkeypatch.setattr(sending, "_key_for", lambda *_: None)
    with pytest.raises(sending.DispatchError):
        states.order(board, orders.RELEASE)


def test_every_state_is_come_through(board):
    seen = []
    states.tour(board, seen.append)
    assert set(seen) == set(range(len(modes.STATES)))


def test_a_lockout_is_kept_and_its_reset_refused_from_afar(board):
    # Current without the pump being switched on: its switch is welded.
    board.device(session.MONITORS["pump"], states.PUMP_1_A)
    board.run_ms(10_000)
    found = states.live(board)
    assert found["lockout_element"] == elements.number("3-SW")
    assert states.order(board, orders.RESET, 1).result == orders.ONLY_AT_RIG
    assert states.order(board, orders.LIGHT, states.SETPOINT_MW, 1).result == orders.LOCKED
    states.rest(board)
    board.drive(session.GPIO["button"], False)
    board.run_ms(8000)
    board.drive(session.GPIO["button"], None)
    board.run_ms(1000)
    assert states.live(board)["lockouts"] == 0


def test_instruments_that_go_and_come_back_are_found_again(board):
    for name in ("panel", "supply"):
        board.device(session.MONITORS[name], None)
    board.thermometer(session.GPIO["one_wire"], session.WATER, None)
    board.run_ms(15_000)
    gone = states.live(board)
    session.fit(board)
    board.run_ms(5000)
    there = states.live(board)
    assert gone["supply_mV"] < 0
    assert gone["water_mdegC"] < 0
    assert there["supply_mV"] == 12_800
    assert there["water_mdegC"] == 12_000


def test_a_keeper_that_is_told_to_leave_restarts_once_and_waits_at_its_prompt(
    make_board, folder, monkeypatch
):
    monkeypatch.setattr(keys, "folder", lambda: folder)
    key = keys.ensure(rigs.load().rig_id)
    files = session.flashed_files(with_rig=True) | {keys.BOARD_PATH: key.secret}
    with make_board(files, held=True) as board:
        session.fit(board)
        board.run_ms(START_MS)
        watched.assert_real(states.live(board), board, boot=1)
        assert states.order(board, orders.MAINTAIN, 1, 1).result == orders.DONE
        board.run_ms(LEAVE_MS)
        with session.prompt(board) as repl:
            assert session.said(repl, "print(6 * 7)") == "42"
        assert board.resets == 1
        assert ERROR_PATH not in board.files()
