"""Notes of a person and marks of rehearsals: kept, found by time, and never of another rig."""

import sqlite3
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.errors import InputError
from forebay.shelf import Anchor, Rehearsed, Shelf, ShelfError
from forebay.shelf.noting import note_time
from forebay.shelf.told import TEXT_MOST, rehearsal_said, rehearsed_of
from tests.balance import rig as plant
from tests.shelf import encoder
from tests.shelf.test_decode import plain, steady

TAIL = 3
TOLD = Rehearsed("2016-01-01", "sun.csv", "hillside", 1, ((1.45e9, "jet-blocked"),),
                 setpoint_W=0.6, assumed=("The night is assumed dark.",), hours=24.0)


def test_notes_are_kept_in_order_of_their_time_and_removed_by_number(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        later = shelf.add_note(7, 2000.0, "strainer\n cleaned")
        shelf.add_note(7, 1000.0, "nozzle looked at")
        shelf.add_note(8, 1500.0, "of another rig")
    with Shelf(tmp_path / "s", create=False) as shelf:
        assert [one.text for one in shelf.notes(7)] == ["nozzle looked at", "strainer cleaned"]
        assert shelf.remove_note(7, later.note_id) == later
        assert [one.utc_s for one in shelf.notes(7)] == [1000.0]
        with pytest.raises(ShelfError, match="no note 2"):
            shelf.remove_note(8, 2)


def test_a_period_holds_the_notes_from_its_begin_to_before_its_end(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        for utc_s in (10.0, 20.0, 30.0):
            shelf.add_note(7, utc_s, "x")
        assert [one.utc_s for one in shelf.notes(7, (10.0, 30.0))] == [10.0, 20.0]


@pytest.mark.parametrize(("utc_s", "text"), [
    (1e9, " "), (1e9, "x" * (TEXT_MOST + 1)), (-1.0, "x"), (float("inf"), "x"),
    (float("nan"), "x")])
def test_a_note_that_no_shelf_can_hold_is_refused_and_the_shelf_stays_sound(
        tmp_path, utc_s, text):
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7)
        with pytest.raises(ShelfError):
            shelf.add_note(7, utc_s, text)
    with Shelf(tmp_path / "s", create=False) as shelf:
        assert shelf.notes(7) == []


def test_a_note_of_what_is_yet_to_come_is_refused(tmp_path):
    tomorrow = (datetime.now(UTC) + timedelta(days=1)).isoformat()
    with Shelf(tmp_path / "s") as shelf:
        shelf.add_rig(7)
        with pytest.raises(InputError, match="yet to come.*from 1970 to .*leave --at out"):
            note_time(shelf, 7, tomorrow, UTC)
        assert note_time(shelf, 7, "1970-01-01T01:00", UTC) == 3600.0
        # A watch that is not right to the minute.
        soon = datetime.now(UTC) + timedelta(seconds=45)
        assert note_time(shelf, 7, soon.isoformat(), UTC) == pytest.approx(soon.timestamp())


def test_a_rehearsal_of_a_day_to_come_takes_notes_up_to_its_end_and_no_later(tmp_path):
    """Of any rehearsal a note of the year 2035 was kept without a word."""
    ahead_s = datetime.now(UTC).timestamp() + 40 * 86400.0
    with Shelf(tmp_path / "s") as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(1)))
        shelf.note_rehearsal(7, TOLD)
        with pytest.raises(InputError, match="yet to come"):
            note_time(shelf, 7, datetime.fromtimestamp(ahead_s, UTC).isoformat(), UTC)
    with Shelf(tmp_path / "b") as shelf:
        shelf.add_rig(7)
        for number, data in plant.files_of(plant.journal_of(plant.Errors(1))).items():
            shelf.put_segment(7, 0, number // 16384, number % 16384, data)
        shelf.add_anchor(7, Anchor(0, 1, 0, ahead_s, 0.05))
        shelf.note_rehearsal(7, TOLD)
        hour_s = ahead_s + 3600.0
        said = datetime.fromtimestamp(hour_s, UTC).isoformat()
        assert note_time(shelf, 7, said, UTC) == pytest.approx(hour_s)
        with pytest.raises(InputError, match="yet to come"):
            note_time(shelf, 7, datetime.fromtimestamp(ahead_s + 86400.0, UTC).isoformat(), UTC)


def test_only_the_life_that_a_rehearsal_wrote_is_marked(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        shelf.put_segment(7, 0, TAIL, 1, encoder.header(TAIL, 1) + plain(steady(3)))
        shelf.note_life(7, 0, "a" * 16, None)
        shelf.note_rehearsal(7, TOLD, 0)
        assert shelf.rehearsed(7) == [TOLD]
        assert shelf.rehearsed(8) == []
        shelf.put_segment(7, 1, TAIL, 1, encoder.header(TAIL, 1) + plain(steady(3)))
        shelf.note_life(7, 1, "b" * 16, None)
        shelf.board = "b" * 16
        assert shelf.rehearsed(7) == []


def test_a_rig_that_is_made_up_is_marked_before_anything_was_pulled(tmp_path):
    with Shelf(tmp_path / "s") as shelf:
        shelf.note_rehearsal(7, TOLD)
        shelf.note_rehearsal(7, TOLD.with_fault(1.46e9, "drain-opened"))
        told, = shelf.rehearsed(7)
        assert told.faults == ((1.45e9, "jet-blocked"), (1.46e9, "drain-opened"))
        said, = rehearsal_said(shelf, 7)
        assert "nobody measured" in said
        assert "drain-opened, jet-blocked" in said
        assert rehearsal_said(shelf, 8) == []


@given(st.builds(
    Rehearsed, st.text(), st.text(), st.text(), st.integers(),
    st.lists(st.tuples(st.floats(0, 2**32), st.text())).map(tuple),
    st.lists(st.floats(0, 2**32)).map(tuple), st.none() | st.floats(0, 9),
    st.lists(st.text()).map(tuple), st.none() | st.floats(0, 24)))
def test_what_was_told_is_read_back_as_it_was(told):
    assert rehearsed_of(told.as_text()) == told


@pytest.mark.parametrize("text", ["", "x", "null", "[]", "{}", '{"day": 1}',
                                  '{"day": "", "sun": "", "demo": "", "seed": 1, "faults": [1]}',
                                  '{"day": "", "sun": "", "demo": "", "seed": [], "faults": []}'])
def test_any_other_text_is_no_rehearsal_and_no_fault_of_ours(tmp_path, text):
    with pytest.raises(ValueError, match="."):
        rehearsed_of(text)
    with Shelf(tmp_path / "s") as shelf:
        shelf.note_rehearsal(7, TOLD)
        shelf._db.execute("UPDATE rehearsals SET told = ?", (text,))
        with pytest.raises(ShelfError, match="damaged"):
            shelf.rehearsed(7)


def test_a_shelf_of_the_third_form_is_brought_up_to_date(tmp_path):
    path = tmp_path / "s"
    with Shelf(path) as shelf:
        shelf.put_segment(7, 0, TAIL, 1, encoder.header(TAIL, 1) + plain(steady(3)))
    with sqlite3.connect(path) as db:
        db.executescript("DROP TABLE notes; DROP TABLE rehearsals; DROP TABLE records;"
                         " PRAGMA user_version = 3;")
    db.close()
    with Shelf(path, create=False) as shelf:
        assert shelf.counts(7) == (3, 0)
        assert (shelf.notes(7), shelf.rehearsed(7)) == ([], [])
        shelf.add_note(7, 1e9, "x")
        assert shelf.faults() == []
