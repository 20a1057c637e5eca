"""A full flash and errors, on real littlefs: protection goes on, losses are counted and told."""

import contextlib
import errno
import random

import pytest

from keeper.events import JOURNAL_LOST, STATE
from keeper.journal.opening import open_journal
from tests.journal import reader
from tests.journal.fakes import RIG_ID, FakeKeeper
from tests.journal.flash import BLOCK_BYTES, ROOT, BoardFs, Chip


def live_on(fs: BoardFs, budget_bytes=800_000, seed=1) -> FakeKeeper:
    """Starts a keeper; `fs` must be attached."""
    return FakeKeeper(open_journal(ROOT, RIG_ID, 7, budget_bytes), seed, running_s=1, sync_s=4)


def fill(fs: BoardFs, blocks_left: int) -> None:
    """Copies a file, as one does with code, until so many blocks are left."""
    with contextlib.suppress(OSError), fs.open("/code", "ab") as file:
        while fs.statvfs("/")[3] > blocks_left:
            file.write(bytes(BLOCK_BYTES // 2))
            file.flush()


def live(keeper: FakeKeeper, scans: int, event_every: int = 97) -> None:
    for place in range(scans):
        if place % event_every == 0:
            keeper.post(STATE, place % 5, 8)
        keeper.run(1)


def told(content: reader.Content) -> list[tuple[int, int]]:
    return [(event[4], event[7]) for event in content.events if event[3] == JOURNAL_LOST]


def test_the_budget_is_no_more_than_the_filesystem_has_left():
    chip = Chip(64)
    fs = BoardFs(chip, fresh=True)
    with fs.attached():
        fill(fs, 20)
        keeper = live_on(fs)
        live(keeper, 100_000, event_every=970)
        assert fs.statvfs("/")[3] >= 4
        assert keeper.journal.segments.errors == 0
        content = reader.read_files(fs.files())
    assert min(content.rows) > 1
    # So small a budget gives up events as well, and with them what they told.
    assert keeper.journal.lost > len(told(content)) > 0


def test_a_flash_that_fills_up_costs_the_oldest_detail_and_nothing_else():
    chip = Chip(64)
    fs = BoardFs(chip, fresh=True)
    with fs.attached():
        keeper = live_on(fs)
        live(keeper, 40_000, event_every=970)
        before = reader.read_files(fs.files())
        fill(fs, 1)  # somebody copies files while the journal runs
        live(keeper, 8000, event_every=970)
        content = reader.read_files(fs.files())
        assert keeper.journal.segments.errors > 0
        assert fs.statvfs("/")[3] >= 4
        assert content.conflicts == []
        assert content.damaged == 0
        assert max(content.rows) >= keeper.journal.newest_row - 64
        gone = set(before.rows) - set(content.rows)
        assert gone
        assert max(gone) < min(content.rows)
        assert before.by_event.items() <= content.by_event.items()
        assert (0, 1) in told(content)
        again = live_on(fs, seed=2)
        live(again, 500)
        assert reader.read_files(fs.files()).conflicts == []


def test_a_start_on_a_full_flash_makes_room_before_anything_is_armed():
    chip = Chip(64)
    fs = BoardFs(chip, fresh=True)
    with fs.attached():
        live(live_on(fs), 40_000)
        fill(fs, 0)
        keeper = live_on(fs, seed=2)
        assert fs.statvfs("/")[3] >= 4
        assert keeper.journal.lost > 0
        live(keeper, 500)
        content = reader.read_files(fs.files())
    assert keeper.journal.lost == len(told(content))
    assert max(content.rows) >= keeper.journal.newest_row - 4


@pytest.mark.parametrize("operation", ["open", "write", "flush", "remove"])
def test_an_error_now_and_then_costs_no_row_and_no_event(operation):
    chance = random.Random(operation)
    fs = BoardFs(Chip(128), fresh=True)
    failed = 0

    def fault(done, path):
        nonlocal failed
        if done == operation and chance.random() < 0.2:
            failed += 1
            raise OSError(errno.EIO, "injected")

    with fs.attached():
        fs.fault = fault
        keeper = live_on(fs)
        live(keeper, 8000)
        fs.fault = lambda operation, path: None
        live(keeper, 300)
        content = reader.read_files(fs.files())
    assert failed >= 1
    assert content.conflicts == []
    assert content.damaged == 0
    assert sorted(content.rows) == list(range(1, max(content.rows) + 1))
    assert max(content.rows) >= keeper.journal.newest_row - 4
    posted = [event for event in content.events if event[3] == STATE]
    assert len(posted) + keeper.events.lost >= 86


def test_a_dead_flash_stops_no_scan_and_is_told_when_it_lives_again():
    fs = BoardFs(Chip(128), fresh=True)
    with fs.attached():
        keeper = live_on(fs)
        live(keeper, 1000)

        def dead(operation, path):
            raise OSError(errno.EIO, "injected")

        fs.fault = dead
        live(keeper, 6000)
        assert keeper.scans == 7000
        fs.fault = lambda operation, path: None
        live(keeper, 1000)
        content = reader.read_files(fs.files())
    assert content.conflicts == []
    assert told(content)
    assert keeper.journal.lost >= len(told(content))
    assert max(content.rows) >= keeper.journal.newest_row - 4


def test_the_first_allocation_after_a_mount_is_over_before_the_start_returns():
    """It searches the whole filesystem for free blocks, which nothing armed should wait for."""
    chip = Chip(128)
    fs = BoardFs(chip, fresh=True)
    with fs.attached():
        live(live_on(fs), 20_000)
    fs = BoardFs(Chip(128, chip.image))
    with fs.attached():
        before = fs.statvfs("/")[3]
        seen = []
        fs.fault = lambda operation, path: seen.append((operation, path.rsplit("/", 1)[-1]))
        live_on(fs, seed=2)
        first = [step for step in seen if step[0] in ("flush", "remove")][:2]
        assert first == [("flush", "scratch"), ("remove", "scratch")]
        assert sum(fs.chip.erases) > 0  # a block was taken
        assert before - fs.statvfs("/")[3] <= 1  # and given back
        assert "scratch" not in fs.files()
