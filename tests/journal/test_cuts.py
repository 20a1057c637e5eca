"""Power cuts: whatever was on flash before the cut is there after it, and writing goes on."""

import random

import pytest

from keeper.events import STATE
from keeper.journal.opening import open_journal
from tests.journal import reader
from tests.journal.fakes import RIG_ID, FakeKeeper
from tests.journal.memory_fs import ROOT, MemoryFs, apply, states


def keeper_on(fs: MemoryFs, patch, seed=1, budget_bytes=800_000, **settings) -> FakeKeeper:
    """Starts a keeper with its journal on `fs`."""
    fs.attach(patch)
    return FakeKeeper(open_journal(ROOT, RIG_ID, 7, budget_bytes), seed, **settings)


def live(keeper: FakeKeeper, scans: int, event_every: int) -> None:
    for place in range(scans):
        if place % event_every == 0:
            keeper.post(STATE, place % 5, 8)
        keeper.run(1)


def newest_totals(content: reader.Content) -> int:
    """The first total, of the record with the highest (boot, uptime)."""
    kept = [(t[1], t[2], t[3] + 10**9 * t[4]) for t in content.totals]
    kept += [(e[1], e[2], e[22] + 10**9 * e[23]) for e in content.events]
    return max(kept, default=(0, 0, 0))[2]


def must_survive(before: reader.Content, after: reader.Content) -> None:
    """Every committed row and event reads as before; nothing contradicts itself."""
    assert after.conflicts == []
    assert {seq: after.rows.get(seq) for seq in before.rows} == before.rows
    assert set(before.events) <= set(after.events)
    assert set(before.summaries) <= set(after.summaries)
    assert sorted(after.rows) == list(range(1, len(after.rows) + 1))  # no gap
    assert [event[0] for event in after.events] == list(range(1, len(after.events) + 1))


def go_on(files, patch, committed: reader.Content, torn_bytes: int) -> MemoryFs:
    """Starts again on what a cut left, checks the promises, lives on a little."""
    fs = MemoryFs(files)
    keeper = keeper_on(fs, patch, seed=2, running_s=1, sync_s=2)
    boots = [event[1] for event in committed.events]
    assert keeper.journal.boot in (max(boots, default=0) + 1, max(boots, default=0) + 2)
    restored = keeper.journal.restored_low[0] + 10**9 * keeper.journal.restored_high[0]
    assert restored >= newest_totals(committed)
    assert keeper.journal.newest_row >= max(committed.rows, default=0)
    live(keeper, 45, event_every=20)
    after = reader.read_files(fs.files)
    must_survive(committed, after)
    assert len(after.rows) >= len(committed.rows) + 2  # at most 2 s wait
    assert after.damaged <= torn_bytes
    assert keeper.journal.lost == 0
    return fs


@pytest.fixture(scope="module")
def handed_over():
    """(files before, log) of a run that syncs, notes events, hands a block over and boots."""
    with pytest.MonkeyPatch.context() as patch:
        fs = MemoryFs()
        keeper = keeper_on(fs, patch, running_s=1, sync_s=2)
        live(keeper, 615, event_every=600)  # 61 rows
        before = dict(fs.files)
        fs.log.clear()
        live(keeper, 60, event_every=30)
        keeper_on(fs, patch, seed=3)
        return before, list(fs.log)


def test_the_run_that_is_cut_contains_every_step_of_a_hand_over(handed_over):
    _, log = handed_over
    steps = [(operation, name[0]) for operation, name, _ in log]
    block = steps.index(("create", "d"))
    hand_over = [step for step in steps[block + 1 :] if step[1] == "t"]
    assert hand_over[:2] == [("create", "t"), ("remove", "t")]
    assert ("append", "e") in steps
    assert steps.count(("append", "t")) >= 2


def test_after_a_cut_at_any_byte_all_that_was_on_flash_is_read_back(handed_over, monkeypatch):
    before, log = handed_over
    at = -1
    committed = reader.read_files({})
    cuts = 0
    for index, count, files in states(log, before):
        if index != at:
            committed, at = reader.read_files(files), index
        go_on(files, monkeypatch, committed, torn_bytes=count)
        cuts += 1
    assert cuts > 2000


def test_a_cut_in_the_first_start_of_all_leaves_a_journal(monkeypatch):
    fs = MemoryFs()
    keeper_on(fs, monkeypatch)
    for _, count, files in list(states(fs.log)):
        go_on(files, monkeypatch, reader.read_files({}), torn_bytes=count)


def test_cuts_upon_cuts_lose_nothing_either(handed_over, monkeypatch):
    """Cut while the start after a cut, or what follows it, writes; three times in a row."""
    before, log = handed_over
    chance = random.Random(11)
    for _ in range(150):
        base, done, torn = before, log, 0
        for _ in range(3):
            index, count, files = pick(chance, base, done)
            committed = reader.read_files(whole(base, done, index))
            torn += count
            fs = go_on(files, monkeypatch, committed, torn)
            base, done = files, fs.log


def pick(chance, files, log):
    """A random cut of a log: (operation, bytes of it, files)."""
    index = chance.randrange(len(log))
    operation, name, data = log[index]
    count = chance.randrange(len(data)) if data else 0
    left = whole(files, log, index)
    if count:
        start = left.get(name, b"") if operation == "append" else b""
        left[name] = start + data[:count]
    return index, count, left


def whole(files, log, operations):
    """The files after the first `operations` of a log."""
    left = dict(files)
    for step in log[:operations]:
        apply(left, *step)
    return left


def test_cuts_through_rotation_and_retention_keep_what_was_not_given_up(monkeypatch):
    fs = MemoryFs()
    settings = {"budget_bytes": 36_000, "running_s": 1, "sync_s": 2}
    keeper = keeper_on(fs, monkeypatch, **settings)
    live(keeper, 30_000, event_every=29)
    assert {name for operation, name, _ in fs.log if operation == "remove" and name[0] == "d"}
    chance = random.Random(5)
    removals = [at for at, step in enumerate(fs.log) if step[0] == "remove" and step[1][0] != "t"]
    for at in removals + [chance.randrange(len(fs.log)) for _ in range(30)]:
        for index in (at, at + 1):
            files = whole({}, fs.log, index)
            committed = reader.read_files(files)
            again_fs = MemoryFs(files)
            again = keeper_on(again_fs, monkeypatch, seed=4, **settings)
            live(again, 100, event_every=50)
            after = reader.read_files(again_fs.files)
            assert after.conflicts == []
            assert after.damaged == 0
            gone = set(committed.rows) - set(after.rows)
            kept = set(committed.rows) - gone
            assert not gone or max(gone) < min(kept)  # the oldest went
            assert again.journal.newest_row > max(committed.rows, default=0)
