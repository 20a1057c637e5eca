"""The whole firmware as it is flashed, on the real interpreter with its own flash and port."""

import contextlib

import pytest
from pymodbus import FramerType
from pymodbus.client import ModbusSerialClient

from forebay.wire.client import Board as Client
from keeper import modes, settings
from keeper.clock import PERIOD_MS
from tests.board.clock import following
from tests.board.session import GPIO, MONITORS, OUTPUTS, fit, flashed_files, rig_path, wait_usb

START_MS = 6000  # a start takes less: the watchdog ends it after 8 s
START_STEP_MS = 500
BAD_SETTINGS = 1  # safe_reason, as keeper.health.SAFE_REASONS counts
ANSWER_S = 2.0  # on the board's clock, as forebay.wire.client waits
# Driven by the keeper itself once it runs: pulses and supply of the servo.
SERVO = (GPIO["valve_pwm"], GPIO["valve_open"])
LOADS = [GPIO[name] for name in ("pump_switch", "lamps_off", "dump_switch", "valve_close")]


def started(board) -> None:
    """Lets a fitted board start; fails with the error that it kept if it restarts."""
    fit(board)
    wait_usb(board)
    for _ in range(START_MS // START_STEP_MS):
        board.run_ms(START_STEP_MS)
        assert board.resets == 0, board.files().get("/last_error", b"no error was kept")


def levels(board, gpio: int) -> list[str]:
    return [level for _, level in board.history(gpio)]


@pytest.fixture(scope="module")
def safe(make_board):
    """A board that runs without settings and wiring; nobody started it before."""
    with make_board(flashed_files(with_rig=False), held=True) as board:
        started(board)
        yield board


@pytest.fixture(scope="module")
def resting(make_board):
    """A board that runs the demonstration rig at rest."""
    with make_board(flashed_files(with_rig=True), held=True) as board:
        started(board)
        yield board


def live(board) -> dict[str, int]:
    with following(board), Client(board.serial_path) as client:
        return client.live()


@contextlib.contextmanager
def general_client(board):
    """A Modbus client that is not ours, at the board's port."""
    with following(board):
        client = ModbusSerialClient(
            board.serial_path, framer=FramerType.RTU, baudrate=115200, timeout=ANSWER_S
        )
        assert client.connect()
        try:
            yield client
        finally:
            client.close()


def test_outputs_are_low_from_the_first_instant_until_the_keeper_decides(safe):
    for gpio in OUTPUTS:
        assert "low" in levels(safe, gpio)
        assert gpio in SERVO or "high" not in levels(safe, gpio)


def test_a_board_without_settings_stays_safe_and_answers(safe):
    # Sun, and the button pressed: nothing may start.
    safe.device(MONITORS["panel"], {1: 3000, 2: 20000})
    safe.drive(GPIO["button"], False)
    safe.run_ms(1000)
    safe.drive(GPIO["button"], None)
    safe.run_ms(20000)
    found = live(safe)

    assert found["state"] == modes.MAINTENANCE
    assert found["safe_reason"] == BAD_SETTINGS
    for gpio in LOADS:
        assert "high" not in levels(safe, gpio)


def test_a_valve_that_nobody_described_is_not_driven(safe):
    # One pin drives a motor open or supplies a servo: without a wiring file
    # nobody knows which is there.
    assert "high" not in levels(safe, GPIO["valve_open"])


def test_a_general_client_reads_the_registers_and_is_refused_what_is_not_there(resting):
    with general_client(resting) as client:
        right = client.read_input_registers(0, count=2, device_id=1)
        wrong = client.read_input_registers(60000, count=2, device_id=1)

    assert not right.isError()
    assert len(right.registers) == 2
    # Modbus Application Protocol V1.1b3, section 7: 2 = illegal data address.
    assert wrong.isError()
    assert wrong.exception_code == 2


def test_a_rig_at_rest_scans_in_time_and_knows_its_settings(resting, record_property):
    first = live(resting)
    begun_ms = resting.state()["ms"]
    resting.run_ms(10000)
    passed_ms = resting.state()["ms"] - begun_ms
    then = live(resting)

    record_property(
        "measured",
        f"emulated board: scans late by at most {then['late_ms']} ms, "
        f"longest flash write {then['stall_ms']} ms, awake {then['awake_permille']} permille",
    )
    # Board time also passes while the two answers travel.
    assert then["scans"] - first["scans"] == pytest.approx(passed_ms / PERIOD_MS, abs=10)
    assert then["safe_reason"] == 0
    assert then["state"] == modes.STANDSTILL
    assert then["supply_mV"] == 12800
    assert then["bus_errors"] == 0


def test_an_order_to_interrupt_in_a_frame_does_not_stop_the_keeper(resting):
    before = live(resting)["scans"]
    with general_client(resting) as client:
        # Function 3 is the byte that ends a program at the prompt.
        client.read_holding_registers(3, count=3, device_id=1)
    resting.run_ms(1000)

    assert live(resting)["scans"] > before
    assert resting.resets == 0


def test_settings_that_are_damaged_are_refused_and_the_board_stays_safe(make_board):
    files = flashed_files(with_rig=True)
    damaged = bytearray(files[rig_path("settings")])
    damaged[len(damaged) // 2] ^= 1
    files[rig_path("settings")] = bytes(damaged)
    with pytest.raises(ValueError, match="CRC"):
        settings.unpack(bytes(damaged))
    with make_board(files, held=True) as board:
        started(board)
        found = live(board)

    assert found["safe_reason"] == BAD_SETTINGS
    assert found["state"] == modes.MAINTENANCE
