"""A lack of memory: a start says so and hurts nothing, a run counts it as a failed write."""

import pytest

from keeper.events import JOURNAL_LOST
from keeper.journal.opening import open_journal
from tests.journal import reader
from tests.journal.fakes import RIG_ID, FakeKeeper
from tests.journal.memory_fs import ROOT, MemoryFs
from tests.journal.test_recovery import LARGEST, files_of, must_go_on

OPERATIONS = ("open", "write", "flush", "listdir", "remove")


def lacking_at(fs: MemoryFs, turn: int, operations=OPERATIONS) -> list[str]:
    """Lets the call number `turn` of these operations lack memory; returns what was called."""
    called: list[str] = []

    def fault(operation, name):
        if operation in operations:
            called.append(operation)
            if len(called) == turn:
                raise MemoryError

    fs.fault = fault
    return called


def calls_of_a_start(files, patch) -> int:
    fs = MemoryFs(files)
    fs.attach(patch)
    called = lacking_at(fs, 0)
    open_journal(ROOT, RIG_ID, 7)
    return len(called)


def test_a_start_that_lacks_memory_anywhere_raises_it_and_the_next_finds_all_rows(monkeypatch):
    files = files_of(LARGEST)
    rows = {seq for segment in LARGEST for seq in segment}
    calls = calls_of_a_start(files, monkeypatch)
    assert calls > 10
    for turn in range(1, calls + 1):
        fs = MemoryFs(files)
        fs.attach(monkeypatch)
        lacking_at(fs, turn)
        with pytest.raises(MemoryError):
            open_journal(ROOT, RIG_ID, 7)
        must_go_on(fs.files, monkeypatch, rows)


def test_no_memory_for_the_journal_itself_leaves_the_flash_as_it_was(monkeypatch):
    files = files_of(LARGEST)
    for part in ("HeldRows", "RowPacker", "HeldSummaries", "SummaryPacker", "Tail", "Events"):
        fs = MemoryFs(files)
        fs.attach(monkeypatch)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(f"keeper.journal.journal.{part}", lack)
            with pytest.raises(MemoryError):
                open_journal(ROOT, RIG_ID, 7)
        assert fs.log == []
        assert fs.files == files


def lack(*_):
    raise MemoryError


@pytest.mark.parametrize("operation", ["open", "write"])
def test_a_file_that_cannot_be_opened_for_want_of_memory_costs_no_row_and_is_told(
    monkeypatch, operation
):
    fs = MemoryFs()
    fs.attach(monkeypatch)
    live = FakeKeeper(open_journal(ROOT, RIG_ID, 7), running_s=1, sync_s=6)
    raised = []

    def fault(done, name):
        if done == operation and live.uptime_ds % 500 < 200 and live.uptime_ds % 3:
            raised.append(name)
            raise MemoryError

    fs.fault = fault
    live.run(3000)
    assert len(raised) > 10
    assert live.journal.segments.errors == len(raised)
    assert live.journal.lost > 0
    fs.fault = lambda operation, name: None
    live.run(300)
    content = reader.read_files(fs.files)
    assert sorted(content.rows) == list(range(1, max(content.rows) + 1))
    assert max(content.rows) >= live.journal.newest_row - 7
    assert content.conflicts == []
    assert content.damaged == 0
    told = [event for event in content.events if event[3] == JOURNAL_LOST]
    assert 0 < len(told) <= live.journal.lost
