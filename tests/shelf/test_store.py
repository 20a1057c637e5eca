"""The shelf's file: idempotent, whole after an interruption, refused when foreign."""

import sqlite3

import pytest

from forebay.shelf import Shelf, ShelfError
from tests.shelf import encoder
from tests.shelf.test_decode import plain, steady


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
    Shelf(path).close()
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
