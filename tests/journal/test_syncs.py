"""When the journal writes: one sync a call, in quiet times, but never much too late."""

import pytest

from keeper.events import ACTED, STATE
from keeper.journal.opening import open_journal
from keeper.journal.outgoing import Tail
from tests.journal import reader
from tests.journal.fakes import RIG_ID, FakeKeeper
from tests.journal.memory_fs import ROOT, MemoryFs

FORCED_DS = 500
MINUTE_DS = 600


@pytest.fixture
def fs(monkeypatch) -> MemoryFs:
    fs = MemoryFs()
    fs.attach(monkeypatch)
    return fs


@pytest.fixture
def live(fs) -> FakeKeeper:
    """A keeper with rows of 10 s and a sync each minute, as on the board."""
    return FakeKeeper(open_journal(ROOT, RIG_ID, 7))


def on_flash_ds(fs: MemoryFs) -> int:
    """Uptime at the end of the newest row on flash [0.1 s]."""
    files = {name: data for name, data in fs.files.items() if name[0] in "dt"}
    return max((row[1] for row in reader.read_files(files).rows.values()), default=0)


def test_a_call_does_one_thing_to_the_flash_at_most(fs, monkeypatch):
    live = FakeKeeper(open_journal(ROOT, RIG_ID, 7, 45_000), running_s=1, sync_s=3)
    most = 0
    for place in range(25_000):
        if place % 40 == 0:
            live.post(STATE, place % 5, 8)
        live.scan()
        for _ in range(6):
            before = len(fs.log)
            live.journal.slack(live, 0)
            most = max(most, len(fs.log) - before)
    done = {operation + name[0] for operation, name, _ in fs.log}
    assert done >= {"removed", "created", "removet"}
    assert most == 1


def test_nothing_is_written_while_something_quick_is_under_way(fs, live):
    live.run(MINUTE_DS + 5)
    assert on_flash_ds(fs) == MINUTE_DS
    live.busy = True
    before = len(fs.log)
    live.post(ACTED, 3)
    live.run(FORCED_DS - 10)
    assert len(fs.log) == before
    assert not live.journal.sync_is_due()
    live.busy = False
    live.run(2)
    assert ACTED in {event[3] for event in reader.read_files(fs.files).events}


def test_what_waits_is_written_when_the_last_sync_is_50_s_ago_whatever_happens(fs, live):
    live.run(MINUTE_DS + 5)
    live.busy = True
    live.post(ACTED, 3)
    live.run(FORCED_DS)
    content = reader.read_files(fs.files)
    assert ACTED in {event[3] for event in content.events}
    assert max(row[1] for row in content.rows.values()) >= MINUTE_DS + FORCED_DS - 100


@pytest.mark.parametrize("chatter", [None, 7, 90])
def test_no_more_than_a_minute_is_at_risk_however_long_it_lasts(fs, live, chatter):
    live.busy = True
    for place in range(6000):
        if chatter and place % chatter == 0:
            live.post(ACTED, place % 30)
        live.run(1)
        assert live.uptime_ds - on_flash_ds(fs) <= MINUTE_DS + 5
    syncs = [name for operation, name, _ in fs.log if name[0] == "t"]
    assert 10 <= len(syncs) <= 13


def test_the_tail_takes_as_much_as_its_buffer_holds_beside_the_totals():
    """By hand: a record of 12 + 4096 bytes at most, of which totals take 12 + 86."""
    assert Tail().has_room(4108 - 98)
    assert not Tail().has_room(4108 - 98 + 1)


def test_rows_that_end_with_every_scan_are_on_flash_before_their_buffer_is_full(fs, live):
    """By hand: room for a row of 52 and a summary of 184 bytes is left behind 72 rows."""
    for place in range(400):
        live.state = place % 2 + 1
        live.run(1)
        rows = reader.read_files(fs.files).rows
        assert sorted(rows) == list(range(1, len(rows) + 1))
        assert live.journal.newest_row - len(rows) <= 72
    assert live.journal.newest_row >= 390


def test_events_without_end_do_not_hold_up_the_rows(fs, live):
    """By hand: twice 8 events of two calls and one write, and the end of a row: 5 scans of 8."""
    for _ in range(3 * MINUTE_DS):
        live.scan()
        for place in range(8):
            live.post(ACTED, place)
            live.journal.slack(live, 0)
        assert live.uptime_ds - on_flash_ds(fs) <= MINUTE_DS + 5


def test_an_event_that_a_segment_refuses_is_in_the_next_one_with_the_next_call(fs, live):
    live.run(2)
    live.post(ACTED, 3)
    refused = []

    def refuse(operation, name):
        if operation == "open":
            refused.append(name)
            fs.fault = lambda operation, name: None
            raise OSError(5, "injected")

    fs.fault = refuse
    while not refused:
        live.journal.slack(live, 0)
    live.journal.slack(live, 0)
    assert refused == ["e00001"]
    assert ACTED in {event[3] for event in reader.read_file("e00002", fs.files["e00002"]).events}


def test_blocks_and_summaries_wait_for_quiet_and_come_then(fs, live):
    live.run(6100)
    live.busy = True
    live.run(3200)
    done = {operation + name[0] for operation, name, _ in fs.log}
    assert "created" not in done
    live.busy = False
    live.run(60)
    assert {operation + name[0] for operation, name, _ in fs.log} >= {"created", "removet"}


def test_short_intervals_are_kept_in_busy_times_too(fs):
    live = FakeKeeper(open_journal(ROOT, RIG_ID, 7), running_s=1, sync_s=10)
    live.busy = True
    for _ in range(3000):
        live.run(1)
        assert live.uptime_ds - on_flash_ds(fs) <= 115
