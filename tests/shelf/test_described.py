"""By which description records are read, after the board was flashed by another."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from forebay.described import Descriptions, described
from forebay.rig import load, load_text
from forebay.shelf import Anchor, Rehearsed, Shelf, store
from tests.export import shelves

DEMO = load()


def changed(head_m):
    """Returns the demo's rig with another shut-off head of its pump."""
    return load_text(re.sub(r"(?m)^shut_off_head = .*$", f'shut_off_head = "{head_m} m"',
                            DEMO.toml_text, count=1), "anew")


NEW, NEWER = changed(19), changed(21)
BEGIN = datetime(2026, 3, 1, tzinfo=UTC)
DAYS = 6
MARK = Rehearsed("2016-01-01", "sun", "", 1)


def day_s(number):
    """Returns when a day of the shelf begins [s since 1970 UTC]."""
    return (BEGIN + timedelta(days=number)).timestamp()


def flash(shelf, monkeypatch, rig, day):
    """Lets a description come to a shelf at the begin of a day, a fraction."""
    when = (BEGIN + timedelta(days=day)).isoformat()
    monkeypatch.setattr(store, "_now", lambda: when)
    shelf.add_rig(DEMO.rig_id, DEMO.rig.name, rig.toml_text, rig.digest)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    """A shelf of six days without a description."""
    return shelves.fill(tmp_path_factory.mktemp("shelf") / "s", BEGIN, DAYS * 1440, DEMO.rig_id)


@pytest.fixture
def shelf(path, tmp_path, monkeypatch):
    """The same, flashed two days before its first row, and in its third day at noon."""
    (tmp_path / "s").write_bytes(path.read_bytes())
    with Shelf(tmp_path / "s") as one:
        flash(one, monkeypatch, DEMO, -2)
        flash(one, monkeypatch, NEW, 2.5)
        yield one


def text_of(rig):
    return rig.toml_text


@pytest.mark.parametrize(("days", "wanted", "is_mixed"), [
    ((0, 1), DEMO, False), ((3, 4), NEW, False), ((2.2, 2.6), DEMO, True), ((2.4, 3), NEW, True),
    ((0, 6), NEW, True), ((0, 4), DEMO, True), ((2, 2.5), DEMO, False), ((2.5, 3), NEW, False)])
def test_a_time_is_read_by_what_stood_for_most_of_it(shelf, days, wanted, is_mixed):
    then = described(shelf).of((day_s(days[0]), day_s(days[1])))
    assert then.rig.toml_text == wanted.toml_text
    assert bool(then.others_s) == is_mixed
    assert then.came_s == (day_s(-2) if wanted is DEMO else day_s(2.5))
    said = " ".join(then.said())
    assert ("for most of this time" in said) == is_mixed
    assert bool(said) == (is_mixed or wanted is DEMO)
    assert "2026-02-27 00:00" in said or not said


def test_a_flash_itself_makes_no_time_a_mixed_one(shelf):
    # The board's new start is older than the moment at which the flash was done.
    then = described(shelf).of((day_s(2.5) - 120.0, day_s(3)))
    assert (then.rig.toml_text, then.others_s, then.said()) == (NEW.toml_text, (), [])


def test_without_a_time_all_that_is_held_counts_and_no_more(shelf, monkeypatch):
    # It once was the newest that read whatever reached beyond its flash.
    assert described(shelf).of(None).rig.toml_text == NEW.toml_text
    flash(shelf, monkeypatch, NEWER, 5.9)
    rigs = described(shelf)
    assert rigs.newest.toml_text == NEWER.toml_text
    assert rigs.of(None).rig.toml_text == NEW.toml_text
    assert rigs.of((day_s(-900), float("inf"))).others_s == (day_s(-2), day_s(5.9))
    assert "of 2026-02-27 00:00, 2026-03-03 12:00 and 2026-03-06 21:36" in " ".join(
        rigs.said_of_parts(None, UTC))
    assert "the newest is of" in " ".join(rigs.said_of_parts((day_s(0), day_s(1)), UTC))


def test_a_board_that_is_flashed_back_is_read_by_the_earlier_one_again(shelf, monkeypatch):
    flash(shelf, monkeypatch, DEMO, 4)
    rigs = described(shelf)
    read = [rigs.rig_of((day_s(number), day_s(number + 1))).toml_text for number in range(DAYS)]
    wanted = [DEMO, DEMO, NEW, NEW, DEMO, DEMO]
    assert rigs.rig_of((day_s(0), day_s(1))) is rigs.rig_of((day_s(5), day_s(6))) is rigs.newest
    assert [*read[:2], *read[3:]] == [*map(text_of, wanted[:2]), *map(text_of, wanted[3:])]


def test_what_is_named_reads_all_and_the_demos_stands_in_where_none_is_kept(shelf, tmp_path, path):
    (tmp_path / "rig.toml").write_text(NEWER.toml_text)
    rigs = described(shelf, tmp_path / "rig.toml")
    for period in (None, (day_s(0), day_s(1)), (day_s(0), day_s(4))):
        then = rigs.of(period)
        assert (then.rig, then.came_s, then.said()) == (rigs.newest, None, [])
        assert rigs.said_of_parts(period, UTC) == []
    assert rigs.known is rigs.newest
    with Shelf(path, create=False) as other:
        bare = described(other)
    assert (bare.known, bare.of(None).rig) == (None, bare.newest)
    assert "the demo's stands in" in bare.notes[0]


def test_one_description_alone_reads_all_and_tells_when_it_came(path, tmp_path, monkeypatch):
    (tmp_path / "s").write_bytes(path.read_bytes())
    with Shelf(tmp_path / "s") as shelf:
        flash(shelf, monkeypatch, NEW, 4)   # pulled by a laptop that flashed it late
        then = described(shelf).of((day_s(0), day_s(1)))
    assert (then.rig.toml_text, then.came_s, then.said()) == (NEW.toml_text, day_s(4), [])


def rehearsals(shelf, *digests):
    """Marks the first life as played by one description, and adds another day by another."""
    for stream, number, data in shelves.journal_of(1440, DEMO.rig_id):
        shelf.put_segment(DEMO.rig_id, 1, stream, number, data)
    shelf.add_anchor(DEMO.rig_id, Anchor(1, 1, 0, day_s(10), 0.0))
    for life, digest in enumerate(digests):
        shelf.note_rehearsal(DEMO.rig_id, replace(MARK, digest=digest), life)


def test_what_was_rehearsed_is_read_by_what_it_was_played_by(shelf):
    # Its days are of long ago: by them the oldest would have read it, or the newest all of it.
    rehearsals(shelf, NEW.digest, DEMO.digest)
    rigs = described(shelf)
    first, second = rigs.of((day_s(0), day_s(1))), rigs.of((day_s(10), day_s(11)))
    assert (first.rig.toml_text, first.said()) == (NEW.toml_text, [])
    assert second.rig.toml_text == DEMO.toml_text
    assert "with which it was recorded" in second.said()[0]
    assert rigs.of(None).others_s == (day_s(-2),)


def test_a_rehearsal_that_does_not_tell_is_read_by_the_newest_and_that_is_said(shelf):
    rehearsals(shelf, "", "of no description that is kept")
    for period in ((day_s(0), day_s(1)), (day_s(10), day_s(11)), None):
        then = described(shelf).of(period)
        assert then.rig.toml_text == NEW.toml_text
        assert "does not tell which description it was played by" in then.said()[0]


def test_a_real_boards_days_beside_a_rehearsal_are_read_by_their_flashes(shelf):
    rehearsals(shelf, NEW.digest)
    rigs = described(shelf)
    assert rigs.of((day_s(0), day_s(1))).rig.toml_text == NEW.toml_text
    assert rigs.of((day_s(10), day_s(11))).rig.toml_text == NEW.toml_text
    shelf.note_rehearsal(DEMO.rig_id, replace(MARK, digest=DEMO.digest), 0)
    assert described(shelf).of((day_s(3), day_s(4))).rig.toml_text == DEMO.toml_text


def test_records_whose_times_nobody_knows_are_read_by_the_newest(tmp_path, monkeypatch):
    path = shelves.fill(tmp_path / "s", None, 1440, DEMO.rig_id)
    with Shelf(path) as shelf:
        flash(shelf, monkeypatch, DEMO, 0)
        flash(shelf, monkeypatch, NEW, 1)
        assert described(shelf).of(None).rig.toml_text == NEW.toml_text


def test_one_that_stands_alone_needs_no_shelf():
    rigs = Descriptions(7, DEMO)
    assert rigs.of((0.0, 1.0)).rig is rigs.rig_of(None) is rigs.known is DEMO
