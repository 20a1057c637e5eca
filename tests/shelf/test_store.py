"""The shelf's file: idempotent, whole after an interruption, refused when foreign."""

import sqlite3

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.shelf import Anchor, Shelf, ShelfError
from forebay.shelf.index import joined_ranges, ranges_of, size_of
from forebay.shelf.lives import to_try
from forebay.shelf.opening import APPLICATION_ID
from keeper.journal.records import EVENT, ROW
from tests.shelf import encoder
from tests.shelf.test_decode import plain, steady

DETAIL, EVENTS, TAIL = 0, 1, 3


def test_what_was_put_is_there_after_opening_again(tmp_path):
    path = tmp_path / "deep" / "shelf.sqlite"
    data = encoder.header(3, 1) + plain(steady(3))
    with Shelf(path) as shelf:
        shelf.add_rig(7, "hillside")
        shelf.put_segment(7, 0, 3, 1, data)
    with Shelf(path) as shelf:
        assert shelf.segment(7, 0, 3, 1) == data
        assert shelf.rigs() == [(7, "hillside")]
        assert len(shelf.journal(7).rows) == 3


def test_a_rigs_name_survives_a_pull_that_does_not_know_it(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7, "hillside", "text", "digest")
        shelf.add_rig(7)
        shelf.add_rig(7, "hillside", "text", "digest")
        assert shelf.rigs() == [(7, "hillside")]
        assert shelf.rig_toml(7) == "text"


def test_a_board_that_is_flashed_back_has_the_earlier_description_again(tmp_path):
    # It once kept each description a single time: the one given up stayed the newest.
    with Shelf(tmp_path / "s") as shelf:
        for digest in ("a", "b", "b", "a"):
            shelf.add_rig(7, "hillside", f"text of {digest}", digest)
        assert [one.digest for one in shelf.rig_versions(7)] == ["a", "b", "a"]
        assert shelf.rig_toml(7) == "text of a"


def test_a_database_of_another_program_is_refused_and_left_alone(tmp_path):
    path = tmp_path / "other.sqlite"
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE t (a)")
    with pytest.raises(ShelfError, match="not a shelf"):
        Shelf(path)
    assert sqlite3.connect(path).execute("SELECT name FROM sqlite_master").fetchall() == [("t",)]


@pytest.mark.parametrize("content", [b"not a database at all, only text" * 40])
def test_a_file_that_is_no_database_is_one_line(tmp_path, content):
    path = tmp_path / "text"
    path.write_bytes(content)
    with pytest.raises(ShelfError, match="cannot use") as caught:
        Shelf(path)
    assert "\n" not in str(caught.value)
    assert path.read_bytes() == content


def test_a_shelf_of_a_newer_forebay_is_refused(tmp_path):
    path = tmp_path / "s"
    with Shelf(path) as shelf:
        shelf.add_rig(7)
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA user_version = 99")
    with pytest.raises(ShelfError, match="newer forebay"):
        Shelf(path)


def test_a_missing_shelf_is_only_made_when_asked(tmp_path):
    with pytest.raises(ShelfError, match="pull a board first"):
        Shelf(tmp_path / "none", create=False)
    assert not (tmp_path / "none").exists()


def test_two_rigs_need_a_choice(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        with pytest.raises(ShelfError, match="empty"):
            shelf.only_rig()
        shelf.add_rig(7, "one")
        assert shelf.only_rig() == 7
        shelf.add_rig(8, "two")
        with pytest.raises(ShelfError, match="one, two"):
            shelf.only_rig()


def test_a_shelf_is_made_by_the_first_thing_that_is_kept(tmp_path):
    # Used to be left behind, empty, by a pull that found no board.
    path = tmp_path / "deep" / "s"
    with Shelf(path) as shelf:
        assert shelf.rigs() == []
        assert len(shelf.journal(7).rows) == 0
        assert not path.parent.exists()
        shelf.add_anchor(7, Anchor(0, 1, 0, 1e9, 0.1))
        assert shelf.rigs() == [(7, "")]
    assert path.exists()


def test_a_place_where_nothing_can_be_written_is_refused_at_once(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(ShelfError, match="cannot be written to"):
        Shelf(tmp_path / "file" / "s")


@pytest.mark.parametrize("content", [b"", b"notes, no database"])
def test_reading_never_makes_a_shelf_of_another_file(tmp_path, content):
    # An empty file used to become a database.
    path = tmp_path / "f"
    path.write_bytes(content)
    with pytest.raises(ShelfError) as caught:
        Shelf(path, create=False)
    assert "\n" not in str(caught.value)
    assert path.read_bytes() == content
    assert [each.name for each in tmp_path.iterdir()] == ["f"]


def test_an_empty_file_may_become_the_shelf_of_a_pull(tmp_path):
    path = tmp_path / "f"
    path.write_bytes(b"")
    with Shelf(path) as shelf:
        shelf.add_rig(7, "one")
    with Shelf(path, create=False) as shelf:
        assert shelf.rigs() == [(7, "one")]


def test_bytes_that_are_held_are_not_kept_twice_and_a_part_replaces_no_whole(tmp_path):
    data = encoder.header(DETAIL, 1) + encoder.block(1, steady(64))
    with Shelf(tmp_path / "s") as shelf:
        assert shelf.put_segment(7, 0, DETAIL, 1, data[:200]) == (0, 0, 0)
        assert shelf.put_segment(7, 0, DETAIL, 1, data) == (64, 0, 0)
        assert shelf.put_segment(7, 0, DETAIL, 1, data) == (0, 0, 0)
        assert shelf.put_segment(7, 0, DETAIL, 1, data[:-9]) == (0, 0, 0)
        assert shelf.segment(7, 0, DETAIL, 1) == data
        with pytest.raises(ShelfError, match="two boards"):
            shelf.put_segment(7, 0, DETAIL, 1, data[:-9] + b"other")
        assert shelf.segment(7, 0, DETAIL, 1) == data


def test_rows_that_a_tail_brought_are_not_new_in_their_block(tmp_path):
    rows = steady(64)
    events = encoder.header(EVENTS, 1) + encoder.event(1, 1, 5, 1) + encoder.event(2, 1, 6, 1)
    with Shelf(tmp_path / "s") as shelf:
        tail = encoder.header(TAIL, 1) + plain(rows[:40])
        assert shelf.put_segment(7, 0, TAIL, 1, tail).rows == 40
        block = encoder.header(DETAIL, 1) + encoder.block(1, rows)
        assert shelf.put_segment(7, 0, DETAIL, 1, block).rows == 24
        assert shelf.put_segment(7, 0, EVENTS, 1, events).events == 2
        assert shelf.counts(7) == (64, 2)
        assert shelf.held(7, 0, ROW) == [(1, 64)]
        assert shelf.held(7, 0, EVENT) == [(1, 2)]


def test_a_tail_whose_number_comes_round_again_is_kept_beside_the_old_one(tmp_path):
    # The old one used to be lost, and with it rows that no block brought.
    with Shelf(tmp_path / "s") as shelf:
        shelf.put_segment(7, 0, TAIL, 1, encoder.header(TAIL, 1) + plain(steady(3)))
        new = encoder.header(TAIL, 1) + plain(steady(2, 9000), 500)
        shelf.put_segment(7, 0, TAIL, 1, new)
        assert shelf.segment(7, 0, TAIL, 1) == new
        assert shelf.journal(7).rows.seq.tolist() == [1, 2, 3, 500, 501]


def test_a_segment_of_a_newer_version_is_kept_byte_for_byte_and_counted(tmp_path):
    data = encoder.header(DETAIL, 1, version=9) + b"whatever comes later"
    with Shelf(tmp_path / "s") as shelf:
        assert shelf.put_segment(7, 0, DETAIL, 1, data).newer_segments == 1
        assert shelf.segment(7, 0, DETAIL, 1) == data


def test_the_clock_needs_no_decoding_to_know_how_long_each_boot_was(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        shelf.put_segment(7, 0, TAIL, 1, encoder.header(TAIL, 1) + plain(steady(3, 100, 1)))
        shelf.put_segment(7, 0, EVENTS, 1, encoder.header(EVENTS, 1)
                          + encoder.event(1, 1, 777, 1) + encoder.event(2, 2, 5, 1))
        assert shelf.clock(7).ends == {(0, 1): 77.7, (0, 2): 0.5}


def test_a_tail_is_found_by_its_rows_although_it_holds_summaries_too(tmp_path):
    summary = encoder.summary(2, 1, 9000, 900, [(0, 0, 0)] * 14)
    with Shelf(tmp_path / "s") as shelf:
        shelf.put_segment(7, 0, TAIL, 1, encoder.header(TAIL, 1) + summary
                          + plain(steady(3), 500))
        assert shelf.read("SELECT first_seq, last_seq FROM segments") == [(500, 502)]
        assert shelf.held(7, 0, ROW) == [(500, 502)]


def test_a_lower_uptime_that_was_read_earlier_is_no_new_journal(tmp_path):
    # Two pulls at once: the one that asked first may be the second to look here.
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_anchor(7, Anchor(0, 3, 1000, 1e9, 0.1))
        for now, own in ((Anchor(0, 3, 990, 1e9 - 1, 0.1), [0]),
                         (Anchor(0, 3, 990, 1e9 + 1, 0.1), []),
                         (Anchor(0, 2, 5000, 1e9 + 1, 0.1), []),
                         (Anchor(0, 4, 0, 1e9 + 1, 0.1), [0])):
            assert to_try(shelf, 7, "", now) == (own, None, 1)


def test_a_shelf_of_the_first_form_is_brought_up_to_date_with_every_byte(tmp_path):
    path = tmp_path / "s"
    data = encoder.header(TAIL, 1) + plain(steady(3))
    with sqlite3.connect(path) as db:
        db.executescript(f"""
            CREATE TABLE rigs (rig_id INTEGER PRIMARY KEY, name TEXT, first_seen_utc TEXT);
            CREATE TABLE segments (rig_id INTEGER, life INTEGER, stream INTEGER, number INTEGER,
                data BLOB, size INTEGER, first_seen_utc TEXT,
                PRIMARY KEY (rig_id, life, stream, number));
            CREATE TABLE anchors (rig_id INTEGER, life INTEGER, boot INTEGER, uptime_ds INTEGER,
                utc_s REAL, uncertainty_s REAL, PRIMARY KEY (rig_id, life, boot, uptime_ds));
            CREATE TABLE rig_versions (rig_id INTEGER, digest TEXT, toml TEXT,
                first_seen_utc TEXT, PRIMARY KEY (rig_id, digest));
            PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = 1;""")
        db.execute("INSERT INTO rigs VALUES (7, 'old', '')")
        db.execute("INSERT INTO rig_versions VALUES (7, 'd', 'text', '2026-03-01T12:00:00+00:00')")
        db.execute("INSERT INTO segments VALUES (7, 0, 3, 1, ?, ?, '')", (data, len(data)))
    db.close()
    with Shelf(path, create=False) as shelf:
        assert shelf.segment(7, 0, TAIL, 1) == data
        assert shelf.counts(7) == (3, 0)
        assert shelf.rig_versions(7) == [(1772366400.0, "text", "d")]
        assert shelf.faults() == []


def test_damage_to_the_file_itself_is_found_and_never_a_traceback(tmp_path):
    path = tmp_path / "s"
    with Shelf(path) as shelf:
        for number in range(1, 9):
            shelf.put_segment(7, 0, DETAIL, number, encoder.header(DETAIL, number) + bytes(9000))
        assert shelf.faults() == []
    content = bytearray(path.read_bytes())
    content[-6000:-2000] = b"\xa5" * 4000
    path.write_bytes(content)
    said = told(path)
    assert said
    assert not any("\n" in line for line in said)


def told(path):
    """Returns what is said of a damaged shelf, by itself or by its refusal."""
    try:
        with Shelf(path, create=False) as shelf:
            return shelf.faults()
    except ShelfError as error:
        return [str(error)]


@given(st.lists(st.integers(0, 60)), st.lists(st.integers(0, 60)))
def test_ranges_hold_the_numbers_that_were_put_in_and_no_others(one, other):
    joined = joined_ranges(ranges_of(np.array(one)) + ranges_of(np.array(other)))
    held = [number for first, last in joined for number in range(first, last + 1)]
    assert held == sorted({*one, *other})
    assert size_of(joined) == len(held)
    assert all(a[1] + 1 < b[0] for a, b in zip(joined, joined[1:], strict=False))
