"""Which description a period is read by, after the board was flashed by another."""

import re

import pytest

from forebay.review import described
from forebay.review.described import described_rig, of_then
from forebay.rig import load, load_text
from forebay.shelf import Rehearsed, Shelf, store

DEMO = load()
NEW = load_text(re.sub(r"(?m)^shut_off_head = .*$", 'shut_off_head = "19 m"', DEMO.toml_text,
                       count=1), "anew")
FLASHED = ("2026-03-01T12:00:00+00:00", "2026-04-01T12:00:00+00:00")
MARCH, MAY, ACROSS = (1.7725e9, 1.774e9), (1.778e9, 1.779e9), (1.774e9, 1.776e9)


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    """A shelf that knows two descriptions of a rig, a month apart."""
    with Shelf(tmp_path / "shelf.sqlite") as one:
        for rig, when in zip((DEMO, NEW), FLASHED, strict=True):
            monkeypatch.setattr(store, "_now", lambda when=when: when)
            one.add_rig(DEMO.rig_id, DEMO.rig.name, rig.toml_text, rig.digest)
        yield one


def test_a_time_before_the_newest_flash_is_read_by_the_description_of_then(shelf):
    rig_id, rig, _ = described_rig(shelf)
    then, notes = of_then(shelf, rig_id, rig, MARCH)
    assert then.toml_text == DEMO.toml_text
    assert "of 2026-03-01, with which it was recorded" in notes[0]
    # What was recorded before any flash that this shelf knows has the oldest.
    assert of_then(shelf, rig_id, rig, (1.0e9, 1.1e9))[0].toml_text == DEMO.toml_text


@pytest.mark.parametrize("held", [None, MARCH, MAY])
def test_without_a_period_it_is_that_of_the_rows_that_are_there(shelf, monkeypatch, held):
    """What ended before the newest flash was once read by it if no time was named."""
    monkeypatch.setattr(described, "reach", lambda *_: held)
    rig_id, rig, _ = described_rig(shelf)
    wanted = DEMO if held == MARCH else NEW
    assert of_then(shelf, rig_id, rig, None)[0].toml_text == wanted.toml_text


@pytest.mark.parametrize("period", [None, MAY, ACROSS])
def test_a_time_that_reaches_beyond_it_is_read_by_the_newest_and_it_says_so(shelf, period):
    rig_id, rig, _ = described_rig(shelf)
    then, notes = of_then(shelf, rig_id, rig, period)
    assert then is rig
    assert rig.toml_text == NEW.toml_text
    assert "of 2026-04-01, the newest of 2" in notes[0]


def test_a_rehearsal_and_a_rig_of_one_description_are_as_before(shelf, tmp_path):
    rig_id, rig, _ = described_rig(shelf)
    shelf.note_rehearsal(rig_id, Rehearsed("2016-01-01", "sun", "", 1))
    assert of_then(shelf, rig_id, rig, MARCH) == (rig, [])
    with Shelf(tmp_path / "other.sqlite") as other:
        other.add_rig(DEMO.rig_id, "", DEMO.toml_text, DEMO.digest)
        assert of_then(other, DEMO.rig_id, DEMO, MARCH) == (DEMO, [])
