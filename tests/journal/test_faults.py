"""Errors of the filesystem, a full flash, and bits that flip."""

import errno
import random

import pytest

from keeper.events import BOOT, JOURNAL_LOST, STATE
from keeper.opening import open_journal
from tests.journal import reader
from tests.journal.fakes import RIG_ID, FakeKeeper
from tests.journal.memory_fs import ROOT, MemoryFs


def fail_with(number):
    raise OSError(number, "injected")


def keeper_on(fs, patch, budget_bytes=800_000, **settings):
    fs.attach(patch)
    return FakeKeeper(open_journal(ROOT, RIG_ID, 7, budget_bytes), **settings)


def live(keeper, scans):
    for place in range(scans):
        if place % 97 == 0:
            keeper.post(STATE, place % 5, 8)
        keeper.run(1)


@pytest.mark.parametrize("operation", ["open", "write", "flush", "remove"])
def test_an_error_now_and_then_costs_no_row_and_no_event(monkeypatch, operation):
    chance = random.Random(operation)
    fs = MemoryFs()
    failed = []

    def fault(done, name):
        if done == operation and chance.random() < 0.3:
            failed.append(name)
            fail_with(errno.EIO)

    fs.fault = fault
    keeper = keeper_on(fs, monkeypatch, running_s=1, sync_s=6)
    live(keeper, 10_000)
    fs.fault = lambda operation, name: None
    live(keeper, 200)
    content = reader.read_files(fs.files)
    assert failed
    assert sorted(content.rows) == list(range(1, max(content.rows) + 1))
    assert max(content.rows) >= 1000
    posted = [event for event in content.events if event[3] == STATE]
    assert len(posted) + keeper.events.lost >= 106
    assert content.conflicts == []
    assert content.damaged == 0


def test_a_write_that_fails_half_way_is_never_followed_in_the_same_segment(monkeypatch):
    fs = MemoryFs()
    keeper = keeper_on(fs, monkeypatch, running_s=1, sync_s=5)
    live(keeper, 100)
    before = dict(fs.files)

    def tear(operation, name):
        if operation == "flush" and name == "t00001":
            fs.files[name] += b"\xa7\x01\x28"  # what reached flash of a record
            fs.fault = lambda operation, name: None
            fail_with(errno.EIO)

    fs.fault = tear
    live(keeper, 300)
    assert fs.files["t00001"] == before["t00001"] + b"\xa7\x01\x28"
    content = reader.read_files(fs.files)
    assert sorted(content.rows) == list(range(1, max(content.rows) + 1))
    assert max(content.rows) >= 35
    assert keeper.journal.segments.errors == 1
    assert keeper.journal.lost == 0  # the next segment took it


def test_a_full_flash_gives_up_the_oldest_detail_and_goes_on(monkeypatch):
    fs = MemoryFs()
    room = 70_000

    def full(operation, name):
        if operation == "flush" and sum(map(len, fs.files.values())) > room:
            fail_with(errno.ENOSPC)

    fs.fault = full
    keeper = keeper_on(fs, monkeypatch, running_s=1)
    live(keeper, 60_000)
    content = reader.read_files(fs.files)
    assert min(content.rows) > 64
    assert max(content.rows) >= keeper.journal.newest_row - 70
    lost = [event for event in content.events if event[3] == JOURNAL_LOST]
    assert {event[4] for event in lost} >= {0}
    assert keeper.journal.lost >= len(lost) > 0


def test_a_folder_that_cannot_be_listed_is_left_as_it_is(monkeypatch):
    fs = MemoryFs({"d00001": b"older", "e00001": b"older"})
    fs.fault = lambda operation, name: operation == "listdir" and fail_with(errno.EIO)
    keeper = keeper_on(fs, monkeypatch)
    live(keeper, 10_000)
    assert fs.log == []
    assert keeper.journal.lost > 0


def test_a_dead_flash_costs_old_rows_and_nothing_else(monkeypatch):
    fs = MemoryFs()
    keeper = keeper_on(fs, monkeypatch, running_s=1)
    live(keeper, 1000)
    fs.fault = lambda operation, name: fail_with(errno.EIO)
    live(keeper, 5000)
    assert keeper.events.count == keeper.events.size
    assert keeper.journal.lost > 5
    fs.fault = lambda operation, name: None
    live(keeper, 1000)
    content = reader.read_files(fs.files)
    assert content.conflicts == []
    assert keeper.journal.newest_row - max(content.rows) <= 60
    missing = set(range(1, max(content.rows) + 1)) - set(content.rows)
    assert missing
    assert max(missing) - min(missing) < 500


def test_an_event_that_cannot_be_written_is_counted_but_makes_no_event_of_its_own(monkeypatch):
    fs = MemoryFs()
    keeper = keeper_on(fs, monkeypatch)
    keeper.run(5)
    fs.fault = lambda operation, name: operation == "open" and fail_with(errno.EIO)
    keeper.post(STATE, 3, 8)
    keeper.run(2 * 50 + 1)  # tried at once, after 5 s and after 10 s
    assert keeper.journal.lost == 3
    fs.fault = lambda operation, name: None
    keeper.run(60)
    assert [event[3] for event in reader.read_files(fs.files).events] == [BOOT, STATE]


@pytest.fixture(scope="module")
def healthy():
    """(files, content) of a journal with all four streams."""
    with pytest.MonkeyPatch.context() as patch:
        fs = MemoryFs()
        keeper = keeper_on(fs, patch, running_s=5)
        live(keeper, 11_500)
        return fs.files, reader.read_files(fs.files)


def test_a_flipped_bit_never_reads_as_other_data(healthy):
    files, content = healthy
    chance = random.Random(9)
    for name in sorted(files):
        for _ in range(150):
            data = bytearray(files[name])
            data[chance.randrange(16, len(data))] ^= 1 << chance.randrange(8)
            damaged = reader.read_files({**files, name: bytes(data)})
            assert damaged.damaged > 0
            assert damaged.conflicts == []
            assert damaged.rows.items() <= content.rows.items()
            assert set(damaged.events) < set(content.events) or name[0] != "e"
            assert set(damaged.events) <= set(content.events)
            assert set(damaged.summaries) <= set(content.summaries)
            assert set(damaged.totals) <= set(content.totals)


def test_one_flipped_bit_costs_one_record(healthy):
    files, content = healthy
    name = max(files)
    assert name[0] == "t"
    offset = 16
    hit = 0
    for kind, seq, payload in reader.read_segment(files[name], name).records:
        size = 12 + len(payload)
        for at in range(offset, offset + size) if kind == reader.ROW else ():
            data = bytearray(files[name])
            data[at] ^= 0x10
            damaged = reader.read_files({**files, name: bytes(data)})
            assert set(content.rows) - set(damaged.rows) == {seq}
            assert damaged.damaged == size
            hit += 1
        offset += size
        if hit > 100:
            return
    raise AssertionError("the tail holds too few rows to try")


def test_the_keeper_starts_on_any_damage_and_never_contradicts_itself(healthy, monkeypatch):
    files, content = healthy
    chance = random.Random(10)
    for _ in range(120):
        hurt = {name: bytearray(data) for name, data in files.items()}
        for _ in range(chance.randint(1, 4)):
            data = hurt[chance.choice(sorted(hurt))]
            at = chance.randrange(len(data))
            kind = chance.randrange(3)
            if kind == 0:
                data[at] ^= 1 << chance.randrange(8)
            elif kind == 1:
                data[at : at + 700] = b"\xff" * len(data[at : at + 700])  # erased
            else:
                data[at : at + 700] = b"\0" * len(data[at : at + 700])
        fs = MemoryFs({name: bytes(data) for name, data in hurt.items()})
        keeper = keeper_on(fs, monkeypatch, running_s=1, sync_s=2)
        live(keeper, 700)
        after = reader.read_files(fs.files)
        new = {seq: row for seq, row in after.rows.items() if row[0] == keeper.journal.boot}
        assert len(new) >= 60
        told = [e for e in after.events if e[3] == JOURNAL_LOST and e[1] == keeper.journal.boot]
        assert keeper.journal.lost == len(told)
        if keeper.journal.boot > 1:
            old = {seq: row for seq, row in after.rows.items() if seq not in new}
            assert old.items() <= content.rows.items()
