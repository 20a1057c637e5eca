"""Records of tasks: kept by kind, rig and time, whole, and told when damaged."""

import sqlite3

import pytest

from forebay.shelf import Shelf, ShelfError

FOUND = {"task": "level", "points": [0.1, 0.2], "who": None}


def test_records_come_back_by_kind_and_rig_in_order_of_their_time(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_record("calibration", 7, {"n": 2}, 2000.0)
        shelf.add_record("calibration", 7, FOUND, 1000.0)
        shelf.add_record("proof test", 7, {"n": 3}, 1500.0)
        shelf.add_record("calibration", 8, {"n": 4}, 1500.0)
    with Shelf(tmp_path / "s", create=False) as shelf:
        found = shelf.records("calibration", 7)
        assert [(one.utc_s, one.document) for one in found] == [(1000.0, FOUND),
                                                                (2000.0, {"n": 2})]
        assert [one.document for one in shelf.records("proof test", 7)] == [{"n": 3}]
        assert shelf.records("level", 7) == []


@pytest.mark.parametrize(("kind", "document", "utc_s"), [
    ("", {}, 1e9), ("x" * 41, {}, 1e9), ("x", {"a": float("nan")}, 1e9), ("x", {"a": b""}, 1e9),
    ("x", {}, -1.0), ("x", {}, float("inf")), ("x", {"a": "b" * 4_000_000}, 1e9)])
def test_a_record_that_no_shelf_can_hold_is_refused_and_nothing_is_kept(
        tmp_path, kind, document, utc_s):
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7)
        with pytest.raises(ShelfError):
            shelf.add_record(kind, 7, document, utc_s)
        assert shelf.records(kind, 7) == []


@pytest.mark.parametrize("text", ["", "[]", "{", "3"])
def test_a_record_that_is_no_document_is_told(tmp_path, text):
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_record("calibration", 7, FOUND, 1e9)
        shelf._db.execute("UPDATE records SET document = ?", (text,))
        with pytest.raises(ShelfError, match="record 1 is no document"):
            shelf.records("calibration", 7)


def test_a_shelf_of_the_fourth_form_is_brought_up_to_date(tmp_path):
    path = tmp_path / "s"
    with Shelf(path) as shelf:
        shelf.add_note(7, 1e9, "x")
    with sqlite3.connect(path) as db:
        db.executescript("DROP TABLE records; PRAGMA user_version = 4;")
    db.close()
    with Shelf(path, create=False) as shelf:
        assert [one.text for one in shelf.notes(7)] == ["x"]
        assert shelf.records("calibration", 7) == []
        shelf.add_record("calibration", 7, FOUND)
        assert shelf.faults() == []
