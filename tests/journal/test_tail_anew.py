"""The tail begins anew with all that is held, in as many parts as its buffer needs."""

import errno

import pytest

from keeper.journal.journal import NEW_TAIL, OLD_TAIL, SYNC
from tests.journal import reader, tails
from tests.journal.memory_fs import MemoryFs, states
from tests.journal.test_recovery import keeper_on

ROWS, SUMMARIES = range(1, 65), range(1, 8)  # 4616 bytes, more than the buffer takes


@pytest.fixture
def fs() -> MemoryFs:
    """A flash whose tail holds more than one buffer of the tail takes."""
    return MemoryFs(tails.tail(1, ROWS, SUMMARIES))


def test_a_tail_of_two_parts_is_whole_at_every_cut(fs, monkeypatch):
    live = keeper_on(fs, monkeypatch)
    before = dict(fs.files)
    fs.log.clear()
    live.journal.jobs |= NEW_TAIL
    live.run(12)
    steps = [(operation, name) for operation, name, _ in fs.log]
    assert steps[:3] == [("create", "t00002"), ("append", "t00002"), ("remove", "t00001")]
    anew = reader.read_files({"t00002": fs.files["t00002"]})
    assert set(anew.rows) >= set(ROWS)
    assert set(anew.by_summary) == set(SUMMARIES)
    assert anew.totals
    for _, _, files in states(fs.log, before):
        content = reader.read_files(files)
        assert set(content.rows) >= set(ROWS)
        assert set(content.by_summary) == set(SUMMARIES)
        assert content.conflicts == []


@pytest.mark.parametrize("failing", range(1, 5))
def test_a_part_that_fails_is_written_with_all_of_it_again(fs, monkeypatch, failing):
    live = keeper_on(fs, monkeypatch)
    live.journal.jobs |= NEW_TAIL
    turns = []

    def fault(operation, name):
        if operation in ("open", "flush") and name[0] == "t":
            turns.append(name)
            if len(turns) == failing:
                raise OSError(errno.EIO, "injected")

    fs.fault = fault
    for _ in range(120):
        live.run(1)
        assert set(reader.read_files(fs.files).rows) >= set(ROWS)
    content = reader.read_files(fs.files)
    assert "t00001" not in fs.files
    assert content.conflicts == []
    assert sorted(content.rows) == list(range(1, max(content.rows) + 1))
    assert max(content.rows) >= 64 + 10
    assert set(content.by_summary) == set(SUMMARIES)


def test_a_sync_that_fails_behind_a_new_tail_does_not_take_it_for_an_old_one(monkeypatch):
    """Old tails go up to the segment with which it began anew, not up to the newest."""
    fs = MemoryFs(tails.tail(1, range(1, 31)))  # too few for a block
    live = keeper_on(fs, monkeypatch)
    live.journal.jobs |= NEW_TAIL
    while not live.journal.jobs & OLD_TAIL:
        live.scan()
        live.journal.slack(live, 0)
    live.busy = True  # rows come, nothing is written
    while not live.journal.jobs & SYNC:
        live.run(1)

    def once(operation, name):
        if operation == "open":
            fs.fault = lambda operation, name: None
            raise OSError(errno.EIO, "injected")

    fs.fault = once
    live.busy = False
    while live.journal.jobs & OLD_TAIL:
        live.run(1)
    assert {"t00002", "t00003"} <= fs.files.keys()
    assert "t00001" not in fs.files
    assert set(reader.read_files(fs.files).rows) >= set(range(1, 31))
