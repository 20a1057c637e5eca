"""A start on what an earlier one left: its number, its first event, the room that it makes."""

import pytest

from keeper.channels import ALL_FITTED, COLUMNS, CONTACTS, INVALID, TOTALS
from keeper.events import BOOT, JOURNAL_LOST, NOT_FITTED
from keeper.journal import opening
from keeper.journal.opening import make_room, open_journal, warm_up
from keeper.journal.records import DETAIL, EVENT_RECORD, EVENTS, SUMMARY, put_event, segment_head
from keeper.journal.segments import Segments
from tests.journal import reader

RIG_ID, SETTINGS_VERSION = 12345, 7
BOOT_MOST = 65535
ZERO = [0] * len(TOTALS)


def open_at(folder, budget_bytes=400_000):
    return open_journal(str(folder), RIG_ID, SETTINGS_VERSION, budget_bytes)


def left_by_start(folder, boot, seq):
    """Leaves an event of a start."""
    record = bytearray(EVENT_RECORD)
    values = [INVALID] * COLUMNS + [0] * len(CONTACTS)
    put_event(record, 0, seq, boot, [BOOT, 0, SETTINGS_VERSION, 0, 0, values], ZERO, ZERO)
    (folder / "e00001").write_bytes(segment_head(EVENTS, 1, RIG_ID) + record)


def events_of(folder):
    """Returns (boot, code, argument, argument 2) of each event, oldest first."""
    # Number, boot, uptime, code, argument, state, contacts, argument 2, and what was measured.
    return [(event[1], event[3], event[4], event[7])
            for event in reader.read_folder(folder).events]


@pytest.mark.parametrize(("before", "after"), [(1, 2), (BOOT_MOST - 1, BOOT_MOST),
                                               (BOOT_MOST, BOOT_MOST)])
def test_a_start_has_the_next_number_which_stays_within_its_field(tmp_path, before, after):
    left_by_start(tmp_path, before, 9)
    journal = open_at(tmp_path)
    assert journal.boot == journal.events.boot == after
    assert journal.events.seq == 10  # its own event has the next number too
    assert events_of(tmp_path)[-1] == (after, BOOT, 0, SETTINGS_VERSION)


def test_nothing_is_left_of_the_search_for_free_blocks(tmp_path):
    open_at(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["e00001"]


def failing(number):
    def fail(*_):
        raise OSError(number, "no")

    return fail


def test_a_search_that_finds_no_room_says_so_and_one_that_cannot_be_made_is_none(
        tmp_path, monkeypatch):
    segments = Segments(str(tmp_path), RIG_ID, 400_000)
    assert warm_up(segments)
    assert segments.errors == 0
    with monkeypatch.context() as patch:
        patch.setattr(opening, "open", failing(28), raising=False)
        assert not warm_up(segments)
    assert (segments.errors, segments.full) == (1, True)
    segments.usable = False
    assert not warm_up(segments)
    assert segments.errors == 1


def some(folder, letter, count):
    for number in range(1, count + 1):
        (folder / f"{letter}{number:05}").write_bytes(bytes(4096))


def test_room_is_made_oldest_first_until_the_budget_holds_and_no_further(tmp_path):
    some(tmp_path, "d", 10)
    segments = Segments(str(tmp_path), RIG_ID, 7 * 4096)
    assert make_room(segments) == [(DETAIL, 1), (DETAIL, 2), (DETAIL, 3)]
    assert len(list(tmp_path.glob("d*"))) == 7


def test_on_a_full_flash_more_goes_until_a_block_is_free(tmp_path, monkeypatch):
    some(tmp_path, "d", 3)
    some(tmp_path, "s", 2)
    segments = Segments(str(tmp_path), RIG_ID, 400_000)
    real = open

    def full(path, mode):
        if len(list(tmp_path.iterdir())) > 2:
            raise OSError(28, "no space")
        return real(path, mode)

    monkeypatch.setattr(opening, "open", full, raising=False)
    assert make_room(segments) == [(DETAIL, 1), (DETAIL, 2), (SUMMARY, 1)]


@pytest.mark.parametrize("number", [28, 5])
def test_where_nothing_can_be_given_up_or_room_is_not_what_lacks_the_start_goes_on(
        tmp_path, monkeypatch, number):
    some(tmp_path, "d", 1 if number == 28 else 5)
    segments = Segments(str(tmp_path), RIG_ID, 400_000)
    monkeypatch.setattr(opening, "open", failing(number), raising=False)
    assert make_room(segments) == []


def test_what_goes_at_a_start_is_counted_and_told(tmp_path):
    some(tmp_path, "d", 5)  # without a head: damaged, and more than the budget
    journal = open_at(tmp_path, 4 * 4096)
    told = [event[2:] for event in events_of(tmp_path) if event[1] == JOURNAL_LOST]
    assert (DETAIL, 1) in told
    assert len(told) == journal.lost


def test_an_event_that_cannot_be_written_at_the_start_waits_for_the_first_quiet_moment(
        tmp_path, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(opening, "append_at_start", lambda *_: False)
        journal = open_at(tmp_path)
    assert events_of(tmp_path) == []
    assert journal.events.used == EVENT_RECORD
    assert open_at(tmp_path / "other").events.used == 0


def test_a_rig_that_lacks_instruments_says_so_at_each_start(tmp_path):
    lacks = 1 << 3 | 1 << 20
    for _ in range(2):
        open_journal(str(tmp_path), RIG_ID, SETTINGS_VERSION, fitted=ALL_FITTED & ~lacks)
    assert [event for event in events_of(tmp_path) if event[1] == NOT_FITTED] == [
        (boot, NOT_FITTED, 0, lacks) for boot in (1, 2)]


def test_a_rig_that_lacks_nothing_says_nothing(tmp_path):
    open_journal(str(tmp_path), RIG_ID, SETTINGS_VERSION, fitted=ALL_FITTED)
    assert [event[1] for event in events_of(tmp_path)] == [BOOT]
