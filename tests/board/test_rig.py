"""The rig itself, by small scripts: what it shows of a board is what the board does."""

import hashlib
import sys

import pytest
from littlefs import LittleFSError
from mpremote import main as mpremote

from tests.board import image
from tests.board.clock import following
from tests.board.session import plain_files, prompt, said, wait_usb

BLINK = """
import time
from machine import Pin
pin = Pin(16, Pin.OUT, value=0)
for _ in range(3):
    pin.value(1)
    time.sleep_ms(20)
    pin.value(0)
    time.sleep_ms(30)
"""
# Records of 64 bytes, each synced; a file renamed over another now and then.
RECORDS = """
from machine import Pin
busy = Pin(2, Pin.OUT, value=1)
out = open('/log', 'wb')
for number in range(24):
    out.write(bytes([number]) * 64)
    out.flush()
    if number % 8 == 7:
        with open('/new', 'wb') as file:
            file.write(b'%d' % number)
        import os
        os.rename('/new', '/mark')
out.close()
busy.value(0)
"""
LOG = b"".join(bytes([number]) * 64 for number in range(24))
UNFED = """
from machine import Pin, WDT
pump = Pin(16, Pin.OUT, value=1)
WDT(timeout=500)
while True:
    pass
"""


def test_a_pin_shows_each_change_at_its_time(make_board):
    with make_board({"/main.py": BLINK}, held=True) as board:
        board.run_ms(2000)
        changes = board.history(16)

    ups = [at for at, level in changes if level == "high"]
    assert len(ups) == 3
    for before, after in zip(ups, ups[1:], strict=False):
        assert after - before == pytest.approx(50, abs=2)
    assert changes[-1][1] == "low"


def test_time_stands_still_while_the_board_is_held(make_board):
    with make_board({"/main.py": BLINK}, held=True) as board:
        first = board.state()["ms"]

        assert board.state()["ms"] == first
        board.run_ms(250)
        assert board.state()["ms"] == pytest.approx(first + 250, abs=1)


def test_an_input_reads_its_wire_and_without_one_its_resistor(make_board, board_files):
    with make_board(board_files) as board, prompt(board) as repl:
        said(repl, "from machine import Pin\nup = Pin(8, Pin.IN, Pin.PULL_UP)")
        said(repl, "down = Pin(9, Pin.IN, Pin.PULL_DOWN)")
        assert said(repl, "print(up.value(), down.value())") == "1 0"
        board.drive(8, False)
        board.drive(9, True)
        assert said(repl, "print(up.value(), down.value())") == "0 1"
        board.drive(8, None)
        assert said(repl, "print(up.value())") == "1"


@pytest.mark.parametrize("value", [0, 1, 2048, 4095])
def test_a_converter_reads_what_it_is_given(make_board, board_files, value):
    # 12 bits stretched to 16: the upper 4 are repeated below (ports/rp2/machine_adc.c)
    expected = value << 4 | value >> 8
    with make_board(board_files) as board, prompt(board) as repl:
        board.adc(1, value)
        said(repl, "from machine import ADC, Pin\nconverter = ADC(Pin(27))")

        assert said(repl, "print(converter.read_u16())") == str(expected)


def test_registers_on_the_bus_are_read_and_written_and_an_absent_device_is_an_error(
    make_board, board_files
):
    with make_board(board_files) as board, prompt(board) as repl:
        board.device(0x40, {1: 0x1234, 2: 0xABCD})
        said(repl, "from machine import I2C, Pin")
        said(repl, "bus = I2C(0, sda=Pin(4), scl=Pin(5), freq=400000, timeout=2000)")
        assert said(repl, "print(bus.readfrom_mem(0x40, 1, 2).hex())") == "1234"
        said(repl, "bus.writeto_mem(0x40, 2, b'\\x55\\xaa')")
        assert said(repl, "print(bus.readfrom_mem(0x40, 2, 2).hex())") == "55aa"
        script = "try:\n bus.readfrom_mem(0x41, 1, 2)\nexcept OSError as e:\n print(e.errno)"
        assert said(repl, script) == "5"


def test_floats_are_the_boards_own_of_32_bits(make_board, board_files):
    with make_board(board_files) as board, prompt(board) as repl:
        assert said(repl, "print(2.0 ** 24 + 1 == 2.0 ** 24)") == "True"


def test_a_flash_operation_takes_its_time(make_board):
    with make_board({"/main.py": RECORDS}, held=True, sector_ms=300) as board:
        assert board.wait_pin(2, "high", 2000)
        begun = board.state()
        assert board.wait_pin(2, "low", 60000)
        ended = board.state()

    erased = ended["erased"] - begun["erased"]
    assert erased > 0
    assert ended["ms"] - begun["ms"] > 300 * erased


def test_what_was_synced_is_in_flash_when_the_power_goes(make_board):
    with make_board({"/main.py": RECORDS}, held=True) as board:
        assert board.wait_pin(2, "high", 2000)
        assert board.wait_pin(2, "low", 60000)
        board.power_off()
        assert board.pin(2) == "off"
        found = board.files()

    assert found["/log"] == LOG
    assert found["/mark"] == b"23"


def test_a_power_cut_inside_any_flash_operation_leaves_a_file_system_that_mounts(make_board):
    with make_board({"/main.py": RECORDS}, held=True) as board:
        board.wait_pin(2, "high", 2000)
        begun = board.state()["operations"]
        board.wait_pin(2, "low", 60000)
        operations = board.state()["operations"] - begun
    assert operations > 30

    for number in range(1, operations, 7):
        fraction = (0.0, 0.3, 0.9)[number % 3]
        with make_board({"/main.py": RECORDS}, held=True) as board:
            board.wait_pin(2, "high", 2000)
            board.cut_power(number, fraction)
            assert not board.run_ms(60000)
            found = board.files()
            # The board starts again from it and does the whole of its work.
            board.power_on()
            board.wait_pin(2, "high", 2000)
            assert board.wait_pin(2, "low", 60000)
            again = board.files()
        log = found.get("/log", b"")
        assert LOG.startswith(log)
        assert len(log) % 64 == 0
        assert found.get("/mark", b"7") in (b"7", b"15", b"23")
        assert again["/log"] == LOG


def test_a_board_whose_file_system_does_not_mount_formats_it(make_board):
    # The stock start code does so; a rig that hid it would hide the loss of the journal.
    with make_board({"/main.py": BLINK}, held=True, powered=False) as board:
        broken = bytearray(board.flash())
    broken[image.STORAGE_OFFSET : image.STORAGE_OFFSET + 2 * image.BLOCK_BYTES] = bytes(8192)
    with pytest.raises(LittleFSError):
        image.read_storage(bytes(broken))

    with make_board({}, flash=bytes(broken), held=True) as board:
        board.run_ms(2000)

        assert "/main.py" not in board.files()


def test_a_watchdog_that_nobody_feeds_restarts_the_board_and_lets_go_of_its_pins(make_board):
    with make_board({"/main.py": UNFED}, held=True) as board:
        assert board.wait_pin(16, "high", 2000)
        board.run_ms(520)
        resets = board.resets
        board.run_ms(10)
        levels = [level for _, level in board.history(16)]

    assert resets == 1
    after = levels[levels.index("reset") + 1 :]
    assert after[0] == "pull-down"


def test_the_transfer_tool_copies_and_checks_files(
    make_board, board_files, tmp_path, monkeypatch, capsysbinary
):
    source = max(plain_files().values(), key=len)
    path = tmp_path / "sent.py"
    path.write_bytes(source)
    with make_board(board_files, held=True) as board:
        wait_usb(board)
        command = ["mpremote", "connect", board.serial_path]
        copy = ["fs", "cp", str(path), ":sent.py", "+", "fs", "sha256sum", ":sent.py"]
        monkeypatch.setattr(sys, "argv", [*command, *copy])
        with following(board):
            failed = mpremote.main()
        found = board.files()

    assert not failed
    assert hashlib.sha256(source).hexdigest() in capsysbinary.readouterr().out.decode()
    assert found["/sent.py"] == source
