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


def test_even_rows_take_five_bytes_a_column():
    """All differences 0 and an even uptime: first value and width, nothing else.

    By hand: 2 + 19 * 5 = 97, and uptime adds its one slope, 63 codes of 8 bits
    (slope 100 -> zigzag 200): 97 + 63 = 160.
    """
    rows = [(1, 100 * place, 100, 2, 31, *[7] * 14) for place in range(1, 65)]
    assert len(pack(9, rows)) == 12 + 160


@pytest.mark.parametrize(
    ("first", "second", "bits"),
    [
        # Zigzag codes and their widths: check by hand.
        (0, 0, b"\x00"),
        (0, -1, b"\x01\x01"),
        (0, 1, b"\x02\x02"),
        (5, 3, b"\x02\x03"),
        (0, 300, b"\x0a\x58\x02"),
        (32767, -32768, b"\x11\xfd\xff\x01"),
    ],
)
def test_the_bits_of_a_column_are_those_of_the_specification(first, second, bits):
    row = (1, 0, 1, 0, 0, *[0] * 13)
    payload = pack(1, [(*row, first), (*row, second)])[8:-4]
    assert payload.endswith(struct.pack("<i", first) + bits)


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
