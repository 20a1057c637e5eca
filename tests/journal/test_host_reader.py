"""The host's reader and the plain one say the same of a journal that the writer wrote."""

import random

import numpy as np

from forebay.shelf.decode import decode
from keeper.events import STATE
from tests.journal import reader


def test_the_hosts_reader_agrees_with_the_plain_one_after_cuts_and_boots(start, folder):
    chance = random.Random(4)
    for boot in range(4):
        keeper = start(running_s=2, seed=boot)
        for _ in range(5):
            keeper.state = chance.randrange(5)
            keeper.post(STATE, keeper.state, 8)
            keeper.run(chance.randrange(500, 3000))
    files = reader.folder_files(folder)
    newest = max(name for name in files if name[0] == "t")
    files[newest] = files[newest][:-3]  # a torn end
    content = reader.read_files(files)
    journal = decode(files.values())
    assert journal.rows.seq.tolist() == sorted(content.rows)
    table = np.array([content.rows[seq] for seq in sorted(content.rows)])
    for place, name in enumerate(("boot", "uptime_ds", "scans", "state", "contacts")):
        assert getattr(journal.rows, name).tolist() == table[:, place].tolist()
    assert (journal.rows.stored == table[:, 5:].T).all()
    assert journal.events["seq"].tolist() == [event[0] for event in content.events]
    assert len(journal.summaries) == len(content.summaries)
    assert journal.findings.torn_bytes == content.damaged > 0
    assert journal.findings.conflicting_rows == 0
