"""What the writer packs, the reader of the specification unpacks."""

import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper.blocks import (
    PAYLOAD_BYTES_MOST,
    ROWS_MOST,
    HeldRows,
    Packer,
)
from keeper.records import PAYLOAD_MOST, SUMMARY_RECORD, put_row
from tests.journal import reader

FIELDS = (
    some.integers(1, 65535),  # boot
    some.integers(0, (1 << 30) - 1),  # uptime
    some.integers(0, 65535),  # scans
    some.integers(0, 255),  # state
    some.integers(0, 255),  # contacts
    *[some.integers(-32768, 32767)] * 14,
)
ANY_ROW = some.tuples(*FIELDS)


def pack(seq: int, rows: list[tuple[int, ...]]) -> bytes:
    """Packs rows as the board does, slice by slice, from anywhere in the rings."""
    held = HeldRows(ROWS_MOST + 3)
    held.first = seq % held.most
    for row in rows:
        held.add(list(row))
    packer = Packer()
    packer.begin(seq, len(rows), held.first)
    while not packer.step(held.columns):
        pass
    return bytes(packer.buffer[: packer.size])


def unpack(record: bytes) -> tuple[int, list[tuple[int, ...]]]:
    """Unpacks the only record of `record`."""
    head = b"fbyj" + struct.pack("<BBHI", 1, 0, 1, 5)
    data = head + struct.pack("<I", zlib.crc32(head)) + record
    segment = reader.read_segment(data, "d00001")
    assert segment.damaged == []
    [(kind, seq, payload)] = segment.records
    assert kind == reader.BLOCK
    return seq, reader.decode_block(payload)


@given(some.integers(1, (1 << 32) - 65), some.lists(ANY_ROW, min_size=1, max_size=ROWS_MOST))
def test_any_rows_come_back_from_a_block(seq, rows):
    assert unpack(pack(seq, rows)) == (seq, rows)


def test_the_wildest_rows_fit_the_buffer_and_the_record():
    low = (1, (1 << 30) - 1, 0, 0, 0, *[-32768] * 14)
    high = (65535, 0, 65535, 255, 255, *[32767] * 14)
    rows = [low, high] * (ROWS_MOST // 2)
    record = pack(1, rows)
    assert unpack(record) == (1, rows)
    assert len(record) - 12 <= PAYLOAD_BYTES_MOST <= PAYLOAD_MOST


def test_even_rows_take_next_to_nothing():
    """A column that does not change: mode, width and number; uptime: its one slope.

    By hand, in bits: boot 2+6+2, scans 2+6+8, state 2+6+3, contacts 2+6+6,
    14 channels of 2+6+4; uptime 2+6+8, widest 6, four groups of 3, and 15, 16, 16
    and 16 numbers of which only the first (200, 8 bits) is not 0: its group has
    width 8, the others 1 (narrower by 7 at most): 16*8 + 47*1.
    """
    rows = [(1, 100 * place, 100, 2, 31, *[7] * 14) for place in range(1, 65)]
    bits = 10 + 16 + 11 + 14 + 14 * 12 + 16 + 6 + 12 + 16 * 8 + 47
    assert len(pack(9, rows)) == 12 + 2 + -(-bits // 8)


@pytest.mark.parametrize(
    ("values", "run"),
    [
        # Bits of the last column, the first one last: check by hand.
        ((0, 0), "000000 00"),  # constant 0: width 0
        ((-1, -1), "1 000001 00"),  # constant -1: zigzag 1
        # Steps: first number 0, widest 2, one group none narrower, zigzag(1) = 2.
        ((0, 1, 2), "10 10 000 000010 000000 10"),
        # Levels: least 5 (zigzag 10), widest 1, numbers 1 0 1 0.
        ((6, 5, 6, 5), "0 1 0 1 000 000001 1010 000100 01"),
        ((32767, -32768), "11111111111111101 000 010001 1111111111111110 010000 10"),
    ],
)
def test_the_bits_of_a_column_are_those_of_the_specification(values, run):
    row = (0, 0, 0, 0, 0, *[0] * 13)
    payload = pack(1, [(*row, value) for value in values])[8:-4]
    bits = f"{int.from_bytes(payload[2:], 'little'):b}".zfill(8 * len(payload) - 16)
    run = run.replace(" ", "")
    before = 18 * "00000000"
    assert (run + before).zfill(len(bits)) == bits


LOWEST = (1, 0, 0, 0, 0, *[-32768] * 14)
HIGHEST = (65535, 1 << 29, 65535, 255, 255, *[32767] * 14)
WILD = [LOWEST, HIGHEST] * (ROWS_MOST // 2)


def test_a_block_that_was_given_up_half_packed_leaves_nothing_in_the_next():
    rows = [(3, 700 + 10 * place, 10, 2, 21, *range(place, place + 14)) for place in range(40)]
    held, given_up = HeldRows(ROWS_MOST), HeldRows(ROWS_MOST)
    for row in rows:
        held.add(list(row))
    for row in WILD:
        given_up.add(list(row))
    packer = Packer()
    slices = 0
    complete = False
    while not complete:
        slices += 1
        packer.begin(1, ROWS_MOST)
        for _ in range(slices):
            complete = packer.step(given_up.columns)
        packer.begin(9, len(rows))
        while not packer.step(held.columns):
            pass
        assert unpack(bytes(packer.buffer[:packer.size])) == (9, rows)
    assert slices > 19


def test_the_wildest_rows_are_packed_in_nine_slices_a_column_and_leave_as_they_are_packed():
    """By hand, of 64 rows: steps of 4 groups, one each; levels of 48 rows and 16; the head; the
    numbers of 4 groups, two each. Uptime has no levels. Beside what fills no byte yet a head
    waits at most: mode 2, width 6, base 33, widest 6, four groups of 3 [bits].
    """
    held = HeldRows(ROWS_MOST)
    for row in WILD:
        held.add(list(row))
    packer = Packer()
    packer.begin(1, ROWS_MOST)
    slices = 1
    while not packer.step(held.columns):
        slices += 1
        assert packer.waiting.bit_length() <= 7 + 2 + 6 + 33 + 6 + 4 * 3
    assert slices == 18 * (4 + 2 + 1 + 2) + (4 + 1 + 2)


def test_a_row_and_a_block_say_the_same():
    row = (3, 123456789, 600, 4, 21, *range(-32768, -32754))
    out = bytearray(64)
    end = put_row(out, 2, 77, list(row))
    assert end == 2 + 52
    assert reader.decode_row(bytes(out[10:50])) == row
    assert unpack(pack(77, [row])) == (77, [row])


def test_a_summary_has_the_length_of_the_specification():
    # boot, uptime, seconds, 14 x 3 x i16, 10 x (u32, u32); head 8, CRC 4
    assert SUMMARY_RECORD == 12 + 2 + 4 + 2 + 14 * 3 * 2 + 10 * 8
