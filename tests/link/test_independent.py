"""Masters that are not ours and not Python's, over a serial line and over TCP.

mbpoll and libmodbus ask the firmware's own link; both know no FC 20, so the
journal is read by libmodbus's raw request.  A pseudo terminal has no parity
and keeps unread bytes: parity is N here, and each master gets a fresh one.
"""

import ctypes
import os
import select
import subprocess

import pytest

from forebay.wire import registers
from keeper.link import layout
from keeper.operation import orders
from tests.dispatch.board import Line, TcpLine
from tests.link.frames import frame, read_file
from tests.link.orders import order_words
from tests.link.rig import KEY, Rig
from tests.tools import modbus
from tests.tools.npm import ToolMissingError

pytest.importorskip("pty", reason="pseudo-terminals are POSIX only")

BAUD = 115200
TIMEOUT_S = 20


@pytest.fixture(autouse=True)
def masters():
    """On a machine without them these tests say 'not run'; where all must run, they fail."""
    try:
        modbus.mbpoll_path()
        modbus.libmodbus()
    except ToolMissingError as error:
        if os.environ.get("CI"):
            raise
        pytest.skip(f"not run: {error}")


@pytest.fixture
def line(rig):
    """A serial line whose keeper stands still, so that values can be compared."""
    rig.run = lambda scans: None
    line = Line(rig, rig.link())
    yield line
    line.close()


@pytest.fixture
def tcp(rig):
    tcp = TcpLine(rig)
    yield tcp
    tcp.close()


def polled(*arguments):
    """Returns {address: value} as mbpoll prints them."""
    done = subprocess.run([modbus.mbpoll_path(), "-1", "-0", "-a", "1", *map(str, arguments)],
                          capture_output=True, text=True, timeout=TIMEOUT_S)
    assert done.returncode == 0, done.stdout + done.stderr
    found = {}
    for text in done.stdout.splitlines():
        if text.startswith("["):
            address, value = text[1:].split("]:")
            found[int(address)] = int(value.split()[0])
    return found


def test_mbpoll_reads_the_live_values_as_32_bit_numbers(line, keeper):
    found = polled("-m", "rtu", "-b", BAUD, "-P", "none", "-t", "3:int", "-B", "-r",
                   layout.LIVE, "-c", 14, line.port)
    assert list(found.values()) == keeper.values[:14]
    assert list(found) == list(range(layout.LIVE, layout.LIVE + 28, 2))


def test_mbpoll_reads_over_tcp_as_well(tcp, keeper):
    found = polled("-m", "tcp", "-p", tcp.number, "-t", "3:int", "-B", "-r", layout.LIVE,
                   "-c", 14, "127.0.0.1")
    assert list(found.values()) == keeper.values[:14]


def test_mbpoll_reads_and_writes_the_registers_of_an_order(line):
    where = ("-m", "rtu", "-b", BAUD, "-P", "none", "-t", "4")
    assert list(polled(*where, "-r", 0, "-c", 36, line.port).values()) == [0] * 36
    done = subprocess.run([modbus.mbpoll_path(), "-0", "-a", "1", *map(str, where), "-r", "0",
                           line.port, "10", "0", "7"], capture_output=True, text=True,
                          timeout=TIMEOUT_S)
    assert done.returncode == 0, done.stdout + done.stderr
    assert list(polled(*where, "-r", 0, "-c", 4, line.port).values()) == [10, 0, 7, 0]


class Master:
    """libmodbus, connected."""

    def __init__(self, context):
        self.library = modbus.libmodbus()
        self.context = context(self.library)
        assert self.library.modbus_set_slave(self.context, 1) == 0
        assert self.library.modbus_connect(self.context) == 0, self.error()

    def error(self):
        return self.library.modbus_strerror(ctypes.get_errno()).decode()

    def read(self, first, count, function="modbus_read_input_registers"):
        """Returns registers, or the error's text."""
        words = (ctypes.c_uint16 * count)()
        done = getattr(self.library, function)(self.context, first, count, words)
        return list(words) if done == count else self.error()

    def write(self, first, values):
        words = (ctypes.c_uint16 * len(values))(*values)
        done = self.library.modbus_write_registers(self.context, first, len(values), words)
        return done if done == len(values) else self.error()

    def file(self, number, record, words):
        """Returns words of a file by a raw request: 7 + 2n bytes come back."""
        request = bytes([1]) + read_file((number, record, words))
        sent = self.library.modbus_send_raw_request(self.context, request, len(request))
        assert sent == len(request) + 2  # it adds the CRC
        return self._reply(7 + 2 * words)

    def _reply(self, size):
        line, got = self.library.modbus_get_socket(self.context), b""
        while len(got) < size and select.select([line], [], [], TIMEOUT_S)[0]:
            got += os.read(line, size - len(got))
        return got

    def close(self):
        self.library.modbus_close(self.context)
        self.library.modbus_free(self.context)


@pytest.fixture
def serial_master(line):
    master = Master(lambda library: library.modbus_new_rtu(line.port.encode(), BAUD, b"N", 8, 1))
    yield master
    master.close()


@pytest.fixture
def tcp_master(tcp):
    master = Master(lambda library: library.modbus_new_tcp(b"127.0.0.1", tcp.number))
    yield master
    master.close()


def signed(words):
    pairs = zip(words[::2], words[1::2], strict=True)
    return [int.from_bytes(high.to_bytes(2) + low.to_bytes(2), signed=True)
            for high, low in pairs]


@pytest.mark.parametrize("how", ["serial_master", "tcp_master"])
def test_libmodbus_reads_the_live_values(how, request, keeper):
    master = request.getfixturevalue(how)
    assert signed(master.read(layout.LIVE, 28)) == keeper.values[:14]


@pytest.mark.parametrize("how", ["serial_master", "tcp_master"])
def test_libmodbus_understands_the_refusals(how, request):
    master = request.getfixturevalue(how)
    assert master.read(9000, 1) == "Illegal data address"
    assert master.read(36, 1, "modbus_read_registers") == "Illegal data address"
    assert master.write(layout.BLOCK_GO, [2]) == "Illegal data value"
    assert master.read(0, 1, "modbus_read_bits") == "Illegal function"


def test_libmodbus_reads_a_file_of_the_journal_by_raw_requests(serial_master, rig):
    for number, size in rig.journal.files():
        got = b""
        while len(got) < size:
            words = min(121, (size - len(got) + 1) // 2)
            reply = serial_master.file(number, len(got) // 2, words)
            assert reply[:5] == bytes([1, 20, 2 + 2 * words, 1 + 2 * words, 6])
            assert frame(reply[1:-2]) == reply
            got += reply[5:-2]
        path = rig.journal.segments.path(number // 16384, number % 16384)
        with open(path, "rb") as file:
            assert got[:size] == file.read()


def test_libmodbus_carries_a_signed_order(tmp_path):
    """Written from the page of the map: no code of ours on its side but the HMAC's arguments."""
    rig = Rig(str(tmp_path / "k"), KEY)
    rig.run(5)
    line = Line(rig, rig.link())
    try:
        master = Master(
            lambda library: library.modbus_new_rtu(line.port.encode(), BAUD, b"N", 8, 1))
        words = master.read(layout.DESK, 10)
        nonce = b"".join(word.to_bytes(2) for word in words[:8])
        number = (words[8] << 16 | words[9]) + 1
        assert master.write(0, order_words(nonce, number, 99, orders.LIGHT, 600, 30, KEY)) == 36
        [row] = [row for row in registers.INPUT_REGISTERS if row[1] == "order_state"]
        state = 1
        while state == 1:
            state, high, low, code, result, gate = master.read(row[0], 6)
        assert (state, high << 16 | low, code, result, gate) == (2, 99, orders.LIGHT, 0, 0)
        master.close()
    finally:
        line.close()
    assert rig.keeper.core.sequence.light.wanted_mW == 600
