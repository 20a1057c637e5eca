"""The pseudo-terminal carries bytes as the board's serial port does."""

import queue

import serial

from tests.board.line import SerialLine

PATIENCE_S = 5
EVERY_BYTE = bytes(range(256))


def test_every_byte_passes_both_ways_unchanged():
    typed: queue.Queue[bytes] = queue.Queue()
    line = SerialLine(typed.put)
    try:
        with serial.Serial(line.path, timeout=PATIENCE_S, exclusive=True) as port:
            port.write(EVERY_BYTE)
            received = b""
            while len(received) < len(EVERY_BYTE):
                received += typed.get(timeout=PATIENCE_S)
            line.send(EVERY_BYTE)

            assert port.read(len(EVERY_BYTE)) == EVERY_BYTE
            assert received == EVERY_BYTE
    finally:
        line.close()


def test_what_nobody_reads_is_dropped_and_counted_instead_of_stopping_the_board():
    line = SerialLine(lambda data: None)
    try:
        for _ in range(300):
            line.send(bytes(1000))
            if line.dropped:
                break

        assert line.dropped > 0
    finally:
        line.close()
