"""The journal's reader, against bytes written from the specification."""

import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.shelf import decode
from forebay.shelf.rows import (
    EVENT_RECORD,
    ROW_RECORD,
    SUMMARY_RECORD,
    TOTALS_RECORD,
    total_values,
)
from keeper.channels import LEVEL_MM, MOTOR_MDEGC
from keeper.journal import records
from keeper.journal.blocks import ROWS_MOST, HeldRows, RowPacker
from tests.shelf import encoder


def wild(count, seed):
    """Returns rows with fields anywhere in their ranges; uptime below 2**30, as in the keeper."""
    draw = np.random.default_rng(seed)
    spans = [(0, 65536), (0, 1 << 30), (0, 65536), (0, 256), (0, 256)]
    heads = np.column_stack([draw.integers(*span, count) for span in spans]).tolist()
    values = draw.integers(-32768, 32768, (count, 14)).tolist()
    return [(*head, tuple(value)) for head, value in zip(heads, values, strict=True)]


def steady(count, start_ds=100, boot=1):
    """Returns rows as they come: every 10 s, with slowly changing values."""
    return [
        (boot, start_ds + 100 * i, 100, 2, 0b11, tuple((i * k) % 50 - 3 for k in range(14)))
        for i in range(count)
    ]


def plain(rows, first_seq=1):
    return b"".join(
        encoder.row(first_seq + i, *row) for i, row in enumerate(rows)
    )


def as_tuples(rows):
    columns = [rows.boot, rows.uptime_ds, rows.scans, rows.state, rows.contacts]
    heads = zip(*[column.tolist() for column in columns], strict=True)
    values = rows.stored.T.tolist()
    return [(*head, tuple(value)) for head, value in zip(heads, values, strict=True)]


@given(st.integers(1, 64), st.integers(0, 2**32))
def test_a_block_of_any_rows_comes_back_as_it_went_in(count, seed):
    rows = wild(count, seed)
    data = encoder.header(0, 1) + encoder.block(5, rows)
    found = decode([data])
    assert as_tuples(found.rows) == rows
    assert found.rows.seq.tolist() == list(range(5, 5 + len(rows)))
    assert found.findings.lines() == []


@given(st.lists(st.integers(1, 64), min_size=1, max_size=12))
def test_blocks_of_unequal_lengths_decode_together(lengths):
    data = encoder.header(0, 1)
    expected = []
    for length in lengths:
        rows = steady(length, start_ds=100 * (len(expected) + 1))
        data += encoder.block(1 + len(expected), rows)
        expected += rows
    assert as_tuples(decode([data]).rows) == expected


def test_the_firmwares_packer_and_the_specification_agree_bit_for_bit():
    rows = steady(64)
    held = HeldRows(ROWS_MOST)
    held.first_seq = 9
    for row in rows:
        held.add([*row[:5], *row[5]])
    packer = RowPacker(held)
    packer.begin(len(rows))
    while not packer.step():
        pass
    assert bytes(packer.buffer[: packer.size]) == encoder.block(9, rows)


@pytest.mark.parametrize(
    ("layout", "firmware"),
    [
        (ROW_RECORD, records.ROW_LAYOUT),
        (EVENT_RECORD, records.EVENT_LAYOUT),
        (TOTALS_RECORD, records.TOTALS_LAYOUT),
        (SUMMARY_RECORD, records.SUMMARY_LAYOUT),
    ],
)
def test_the_layouts_of_plain_records_are_those_of_the_firmware(layout, firmware):
    assert layout.itemsize == struct.calcsize(firmware)


def test_rows_in_a_block_and_in_the_tail_count_once():
    rows = steady(64)
    found = decode([encoder.header(0, 1) + encoder.block(1, rows),
                    encoder.header(3, 1) + plain(rows[:40]),
                    encoder.header(3, 2) + plain(steady(3, 6500), 65)])
    assert found.rows.seq.tolist() == list(range(1, 68))
    assert found.findings.duplicate_rows == 40
    assert found.findings.lines() == []


def test_a_row_that_differs_from_its_twin_is_reported():
    one, other = steady(1), [(1, 100, 100, 2, 0, (9,) * 14)]
    found = decode([encoder.header(0, 1) + encoder.block(1, one),
                    encoder.header(3, 1) + plain(other)])
    assert found.findings.conflicting_rows == 1
    assert as_tuples(found.rows) == one


def test_missing_numbers_are_named():
    found = decode([encoder.header(3, 1) + plain(steady(3), 1) + plain(steady(2, 900), 9)])
    assert found.findings.missing_rows == [(4, 8)]
    assert found.findings.lines() == ["5 rows are missing in 1 places"]


def test_untrusted_values_are_not_numbers_and_the_others_carry_their_step():
    values = [0] * 14
    values[LEVEL_MM] = encoder.INVALID
    values[MOTOR_MDEGC] = 320
    rows = decode([encoder.header(3, 1) + encoder.row(1, 1, 100, values=values)]).rows
    assert np.isnan(rows.si(LEVEL_MM)[0])
    # 320 sixteenths of a degree, the resolution of the sensor: 20 degC.
    assert rows.si(MOTOR_MDEGC)[0] == pytest.approx(20.0, abs=1e-12)


def test_totals_above_a_thousand_million_keep_every_digit():
    totals = tuple(7 * 10**9 * (i + 1) + i for i in range(10))
    found = decode([encoder.header(1, 1) + encoder.event(1, 2, 5, 2, 1, -7, totals=totals)])
    assert total_values(found.events["totals"])[0].tolist() == list(totals)
    assert found.events["argument2"].tolist() == [-7]


@given(st.integers(0, 400))
def test_a_segment_cut_at_any_byte_gives_its_whole_records_and_a_torn_end(cut):
    data = encoder.header(3, 1) + plain(steady(7))
    found = decode([data[:cut]])
    whole = max(0, (cut - 16) // 52)
    assert len(found.rows) == min(whole, 7)
    assert found.findings.damaged_bytes == 0


@given(st.integers(16, 16 + 7 * 52 - 1), st.integers(1, 255))
def test_one_changed_byte_costs_one_record_and_never_gives_a_wrong_one(place, change):
    rows = steady(7)
    data = bytearray(encoder.header(3, 1) + plain(rows))
    data[place] ^= change
    found = decode([bytes(data)])
    assert len(found.rows) == 6
    assert set(as_tuples(found.rows)) < set(rows)
    lost = found.findings.damaged_bytes + found.findings.torn_bytes
    assert lost == 52


@given(st.binary(max_size=600))
def test_rubbish_is_never_an_exception_and_never_a_row(rubbish):
    found = decode([encoder.header(3, 1) + rubbish, rubbish])
    assert len(found.rows) == 0


def test_a_newer_segment_is_left_alone_and_said():
    found = decode([encoder.header(0, 1, version=2) + encoder.block(1, steady(2))])
    assert len(found.rows) == 0
    assert "newer version" in found.findings.lines()[0]


def test_a_block_that_lies_about_its_length_is_refused():
    good = encoder.block(1, steady(5))
    body = good[8:-4]
    forged = [encoder.record(2, 1, body + b"\0"), encoder.record(2, 9, body[:-1]),
              encoder.record(2, 20, bytes([2, 65]) + body[2:]),
              encoder.record(2, 30, bytes([1]) + body[1:]), encoder.record(2, 40, b"")]
    found = decode([encoder.header(0, 1) + b"".join(forged) + encoder.block(50, steady(5))])
    assert found.rows.seq.tolist() == list(range(50, 55))
    assert found.findings.unreadable_records == 5


def test_unknown_records_are_passed_by():
    found = decode([encoder.header(1, 1) + encoder.record(99, 1, b"later")
                    + encoder.event(1, 1, 1, 1)])
    assert len(found.events) == 1
    assert found.findings.unknown_records == 1
