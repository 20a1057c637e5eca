"""Questions by time: the same rows as decoding everything, in parts, each once."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.errors import InputError
from forebay.shelf import Anchor, Shelf, decode, query
from tests.shelf import encoder
from tests.shelf.test_decode import plain

DETAIL, EVENTS, TAIL = 0, 1, 3


def rows_of(first, count, boot=1, begin_ds=0):
    """Returns rows every 10 s; row `first` ends 10 s behind `begin_ds` of a boot."""
    return [(boot, begin_ds + 100 * (i + 1), 100, 2, 3, (first + i,) * 14) for i in range(count)]


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """A shelf of two boots and two generations: 12 detail segments of 128 rows, and tails."""
    path = tmp_path_factory.mktemp("query") / "s"
    with Shelf(path) as shelf:
        seq = 1
        for number in range(1, 13):
            boot = 1 if number <= 6 else 2
            begin_ds = (number - 1) % 6 * 12800
            table = rows_of(seq, 128, boot, begin_ds)
            data = encoder.header(DETAIL, number)
            data += encoder.block(seq, table[:64]) + encoder.block(seq + 64, table[64:])
            shelf.put_segment(7, 0, DETAIL, number, data)
            tail = encoder.header(TAIL, number) + plain(table[70:], seq + 70)
            shelf.put_segment(7, 0, TAIL, number, tail)
            seq += 128
        shelf.put_segment(7, 0, EVENTS, 1, encoder.header(EVENTS, 1) + b"".join(
            encoder.event(1 + i, 1 + i // 5, 10000 * (i % 5), 1 + i % 3) for i in range(10)))
        shelf.put_segment(7, 1, TAIL, 1, encoder.header(TAIL, 1) + plain(rows_of(1, 20), 1))
        shelf.add_anchor(7, Anchor(0, 1, 0, 1.5e9, 0.0))
        shelf.add_anchor(7, Anchor(0, 2, 0, 1.5e9 + 10_000, 0.0))
        shelf.add_anchor(7, Anchor(1, 1, 0, 1.5e9 + 50_000, 0.0))
        yield shelf


def all_rows(shelf, period=None):
    """Returns (generation, seq, value) of every row of parts, and how many parts there were."""
    found = list(query.parts(shelf, 7, period))
    rows = [(generation, seq, value) for part in found for generation, seq, value in zip(
        part.rows.generation.tolist(), part.rows.seq.tolist(), part.rows.stored[0].tolist(),
        strict=True)]
    return rows, len(found)


def test_all_rows_come_in_order_and_once_in_parts_of_any_size(shelf, monkeypatch):
    expected = [(0, seq, seq) for seq in range(1, 1537)] + [(1, seq, seq) for seq in range(1, 21)]
    for size in (1, 3, 5, 99):
        monkeypatch.setattr(query, "PART_SEGMENTS", size)
        rows, count = all_rows(shelf)
        assert rows == expected
        assert count >= 26 // (size + 2)


@given(st.floats(-100, 20_000), st.floats(0, 20_000))
def test_a_period_brings_just_its_rows(shelf, begin_s, length_s):
    period = (1.5e9 + begin_s, 1.5e9 + begin_s + length_s)
    whole = decode(row[0] for row in shelf.read(
        "SELECT data FROM segments WHERE life = 0 ORDER BY stream, number"))
    rows = whole.rows
    utc_s = shelf.clock(7).utc(rows.generation, rows.boot, rows.uptime_ds)
    expected = rows.seq[(utc_s >= period[0]) & (utc_s < period[1])].tolist()
    assert [seq for _, seq, _ in all_rows(shelf, period)[0]] == expected


def test_a_period_reads_only_the_segments_that_reach_into_it(shelf):
    # Segment 8 holds 1280 s to 2560 s of the second boot.
    period = (1.5e9 + 10_000 + 1500, 1.5e9 + 10_000 + 1600)
    part, = query.parts(shelf, 7, period)
    assert part.total == 1
    assert part.rows.seq.tolist() == list(range(896 + 22, 896 + 32))
    assert np.diff(part.times.utc_s).tolist() == pytest.approx([10] * 9, abs=1e-2)


def test_columns_are_asked_for_by_name_and_come_in_si_units(shelf):
    period = (1.5e9 + 95, 1.5e9 + 125)
    found = query.series(shelf, 7, "panel_V,level_m,state,utc", period)
    assert list(found) == ["panel_V", "level_m", "state", "utc"]
    # Rows 10 to 12; a step is 10 mV and 1 mm (the nomenclature).
    assert found["panel_V"].tolist() == [0.1, 0.11, 0.12]
    assert found["level_m"].tolist() == [0.01, 0.011, 0.012]
    assert found["state"].tolist() == ["pumping"] * 3
    assert found["utc"][0] == np.datetime64("2017-07-14T02:41:40")
    assert len(query.series(shelf, 7, "utc,state,button", (0.0, 1.0))["button"]) == 0
    with pytest.raises(InputError, match="no column 'volts'"):
        query.series(shelf, 7, "volts")


def test_events_are_found_by_time_and_code(shelf):
    table, times = query.events_between(shelf, 7, (1.5e9 + 1000, 1.5e9 + 10_001))
    assert table["seq"].tolist() == [2, 3, 4, 5, 6]
    assert times.utc_s[0] == pytest.approx(1.5e9 + 1000)
    table, _ = query.events_between(shelf, 7, codes=(2,))
    assert table["seq"].tolist() == [2, 5, 8]


def test_the_journal_of_a_period_holds_all_of_it_and_not_everything(shelf):
    found = query.journal_between(shelf, 7, (1.5e9 + 10_000, 1.5e9 + 10_100))
    assert set(range(769, 778)) <= set(found.rows.seq.tolist())
    assert len(found.rows) < 400
    assert len(query.journal_between(shelf, 7).rows) == 1556


def test_an_empty_shelf_answers_with_nothing(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7)
        assert list(query.parts(shelf, 7)) == []
        assert len(query.events_between(shelf, 7)[0]) == 0
        assert len(query.journal_between(shelf, 7, (0.0, 1.0)).rows) == 0
