"""The check of a journal that the firmware wrote: cuts, removals and nothing else are found."""

import pytest

from forebay.shelf import Anchor, Shelf
from forebay.shelf.checking import check
from forebay.shelf.checking.losses import BEFORE, REMOVED
from keeper.journal.opening import open_journal
from keeper.journal.records import ROW
from tests.journal.fakes import RIG_ID, FakeKeeper

BUDGET_B = 36_000
SCANS = 12_000
ROW_S = 1


def take_over(shelf, keeper, utc_s):
    """Puts on the shelf what a pull would bring, byte for byte."""
    shelf.add_anchor(RIG_ID, Anchor(0, keeper.journal.boot, keeper.uptime_ds, utc_s, 0.1))
    files = []
    for number, size in keeper.journal.files():
        stream, segment = divmod(number, 16384)
        with open(keeper.journal.segments.path(stream, segment), "rb") as file:
            shelf.put_segment(RIG_ID, 0, stream, segment, file.read(size))
        files.append((stream, segment, size))
    shelf.put_listing(RIG_ID, 0, utc_s, files)


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """A shelf of three starts: pulled in the first, not in the second, again in the third.

    In between the board's space runs full and it removes what nobody pulled.
    """
    folder = tmp_path_factory.mktemp("board")
    with Shelf(folder / "s") as shelf:
        for start, pulled in enumerate((True, False, True)):
            journal = open_journal(str(folder / "j"), RIG_ID, 1, BUDGET_B)
            # A seed of its own, and the power goes in the middle of a row.
            keeper = FakeKeeper(journal, seed=start, running_s=ROW_S)
            keeper.run(SCANS + 5)
            if pulled:
                take_over(shelf, keeper, 1.5e9 + 10_000 * start + keeper.uptime_ds / 10)
        yield shelf


def test_nothing_is_damaged_doubled_or_unreadable(shelf):
    found = check(shelf, RIG_ID)
    assert found.database == []
    assert found.segments.damage == []
    assert (found.conflicts, found.conflicting_records, found.unreadable_records) == ([], 0, 0)
    assert found.unknown_records == 0
    assert found.segments.not_pulled == []
    assert (found.boots, found.restarts) == (3, 2)


def test_all_that_is_missing_was_removed_by_the_board_and_is_told_so(shelf):
    found = check(shelf, RIG_ID)
    rows = [loss for loss in found.losses if loss.kind == ROW]
    assert rows
    assert {loss.why for loss in found.losses} <= {REMOVED, BEFORE}
    newest = shelf.journal(RIG_ID).rows.seq.max()
    assert found.rows + sum(loss.count for loss in rows) == newest


def test_no_total_falls_over_the_cuts(shelf):
    # The values of this keeper wander apart from its totals: only the order is tried here.
    assert [one for one in check(shelf, RIG_ID).disagreements if "falls" in one.text] == []


def test_the_start_that_no_pull_met_lies_between_the_others(shelf):
    rows = shelf.journal(RIG_ID).rows
    times = shelf.clock(RIG_ID).times(rows.generation, rows.boot, rows.uptime_ds)
    assert (times.utc_s[1:] >= times.utc_s[:-1]).all()
    middle = rows.boot == 2
    # The first start was seen until 1 200.5 s, the third began 20 000 s after the first.
    assert (times.earliest_s[middle] >= 1.5e9 + 1200).all()
    assert (times.latest_s[middle] <= 1.5e9 + 20_001).all()
