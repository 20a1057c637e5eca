"""A client that is not ours (pymodbus) over a real serial line: a pseudo-terminal."""

import os
import select
import threading

import pytest

pty = pytest.importorskip("pty", reason="pseudo-terminals are POSIX only")

import tty  # noqa: E402

from pymodbus import FramerType  # noqa: E402
from pymodbus.client import ModbusSerialClient  # noqa: E402
from pymodbus.pdu.file_message import FileRecord  # noqa: E402

from keeper.link import layout  # noqa: E402

POLL_MS = 5


@pytest.fixture
def client(link):
    """A client at one end of a raw pseudo-terminal; the link serves the other."""
    board_end, host_end = pty.openpty()
    tty.setraw(host_end)
    stop = threading.Event()
    board = threading.Thread(target=serve, args=(link, board_end, stop))
    board.start()
    client = ModbusSerialClient(
        os.ttyname(host_end), framer=FramerType.RTU, baudrate=115200, timeout=2, retries=0
    )
    try:
        assert client.connect()
        yield client
    finally:
        client.close()
        stop.set()
        board.join()
        os.close(host_end)
        os.close(board_end)


def serve(link, port: int, stop: threading.Event) -> None:
    """The board's slack loop: bytes in, replies out."""
    now_ms = 0
    while not stop.is_set():
        if select.select([port], [], [], POLL_MS / 1000)[0]:
            link.feed(os.read(port, 64), now_ms)
        while (reply := link.poll(now_ms)) is not None:
            os.write(port, reply)
        now_ms += POLL_MS


def test_a_foreign_client_reads_live_registers(client, keeper):
    answer = client.read_input_registers(layout.LIVE, count=28, device_id=1)
    assert not answer.isError()
    got = [
        client.convert_from_registers(answer.registers[at : at + 2], client.DATATYPE.INT32)
        for at in range(0, 28, 2)
    ]
    assert got == keeper.values[:14]


def test_a_foreign_client_reads_totals_as_64_bit_numbers(client, keeper):
    answer = client.read_input_registers(layout.SUMS, count=40, device_id=1)
    got = [
        client.convert_from_registers(answer.registers[at : at + 4], client.DATATYPE.UINT64)
        for at in range(0, 40, 4)
    ]
    totals = keeper.totals
    assert got == [high * 10**9 + low for high, low in zip(totals.high, totals.low, strict=True)]


def test_a_foreign_client_reads_a_journal_file_byte_for_byte(client, keeper):
    for number, size in keeper.journal.files():
        data = b""
        while len(data) < size:
            # pymodbus counts the length of a record in bytes.
            count = min(240, size - len(data) + size % 2)
            record = FileRecord(
                file_number=number, record_number=len(data) // 2, record_length=count
            )
            answer = client.read_file_record([record], device_id=1)
            assert not answer.isError()
            data += answer.records[0].record_data
        path = keeper.journal.segments.path(number // 16384, number % 16384)
        with open(path, "rb") as file:
            assert data[:size] == file.read()


def test_a_foreign_client_understands_the_refusals(client):
    assert client.read_input_registers(9000, count=1, device_id=1).exception_code == 2
    assert client.read_coils(0, count=1, device_id=1).exception_code == 1
    assert client.read_holding_registers(36, count=1, device_id=1).exception_code == 2
    record = FileRecord(file_number=77, record_number=0, record_length=2)
    assert client.read_file_record([record], device_id=1).exception_code == 2
