"""The life of a journal that is kept as a golden one, told by the writer itself.

Three starts with events, blocks, summaries and their blocks; in the last one
blocks cannot be written for a while, and the power goes in the hand-over, when
the old tail and the new one both hold rows.
"""

import errno

import pytest

import keeper.journal.closing
from keeper.events import STATE
from keeper.journal.opening import open_journal
from tests.journal.fakes import RIG_ID, FakeKeeper
from tests.journal.memory_fs import ROOT, MemoryFs, apply

BUDGET_BYTES = 800_000
SETTINGS_VERSION = 7
QUARTER_DS = 300  # half a minute, so that there are blocks of summaries
STARTS_SCANS = (2400, 2500)
EVENT_EVERY = 70
ROWS_WAITING = 100  # for a block, before one can be written again
NEW_TAIL = ("create", "t")  # the step behind which the power goes


def keeper_on(fs: MemoryFs, patch: pytest.MonkeyPatch, seed: int) -> FakeKeeper:
    """Starts a keeper with rows of a second, a sync every six, short quarter hours."""
    fs.attach(patch)
    patch.setattr(keeper.journal.closing, "QUARTER_DS", QUARTER_DS)
    journal = open_journal(ROOT, RIG_ID, SETTINGS_VERSION, BUDGET_BYTES)
    return FakeKeeper(journal, seed, running_s=1, sync_s=6)


def one_scan(live: FakeKeeper) -> None:
    """Lives on by a scan, with an event now and then."""
    if live.uptime_ds % EVENT_EVERY == 0:
        live.post(STATE, live.uptime_ds // EVENT_EVERY % 5, 8)
    live.run(1)


def tell(patch: pytest.MonkeyPatch) -> dict[str, bytes]:
    """Returns the files of the journal at the end of its life."""
    fs = MemoryFs()
    for seed, scans in enumerate(STARTS_SCANS, 1):
        live = keeper_on(fs, patch, seed)
        for _ in range(scans):
            one_scan(live)
    live = keeper_on(fs, patch, seed=9)

    def no_block(operation, name):
        if operation in ("write", "open") and name[:1] == "d":
            raise OSError(errno.EIO, "injected")

    fs.fault = no_block
    while live.journal.held.count < ROWS_WAITING:
        one_scan(live)
    fs.fault = lambda operation, name: None
    files = dict(fs.files)
    fs.log.clear()
    while NEW_TAIL not in [(operation, name[:1]) for operation, name, _ in fs.log]:
        one_scan(live)
    for step in fs.log:
        apply(files, *step)
        if (step[0], step[1][:1]) == NEW_TAIL:
            break
    return files
