"""What an older tree wrote is read whole, and the same life is still written the same way."""

import json
import zipfile

import pytest

from forebay.shelf import Shelf
from forebay.shelf.decode import decode
from tests.golden import story
from tests.golden.write import EXPECTED, JOURNAL, SHELF, SHELF_NAME, said_of
from tests.journal import reader
from tests.journal.memory_fs import MemoryFs


def unzipped(path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.fixture(scope="module")
def journal() -> dict[str, bytes]:
    return unzipped(JOURNAL)


@pytest.fixture(scope="module")
def expected() -> dict:
    return json.loads(EXPECTED.read_text())


def test_the_golden_journal_holds_all_kinds_of_records_and_both_tails(journal):
    segments = [reader.read_segment(data, name) for name, data in journal.items()]
    assert {kind for segment in segments for kind, _, _ in segment.records} == {1, 2, 3, 4, 5, 6}
    tails = [{seq for kind, seq, _ in segment.records if kind == reader.ROW}
             for segment in segments if segment.stream == 3]  # fmt: skip
    assert len(tails) == 2
    assert tails[0] & tails[1]


def test_the_host_reads_the_golden_journal_whole(journal, expected):
    assert said_of(decode(journal.values())) == expected["journal"]
    content = reader.read_files(journal)
    assert len(content.rows) == expected["journal"]["rows"]
    assert content.conflicts == []
    assert content.damaged == 0


def test_the_host_reads_the_golden_shelf_whole(tmp_path, expected):
    path = tmp_path / SHELF_NAME
    path.write_bytes(unzipped(SHELF)[SHELF_NAME])
    with Shelf(path, create=False) as shelf:
        assert said_of(shelf.journal(shelf.only_rig())) == expected["shelf"]


def test_the_same_life_is_written_to_the_last_byte_as_before(journal, monkeypatch):
    assert story.tell(monkeypatch) == journal


def test_a_start_on_the_golden_journal_loses_nothing_and_goes_on(journal, monkeypatch):
    before = reader.read_files(journal)
    fs = MemoryFs(journal)
    live = story.keeper_on(fs, monkeypatch, seed=5)
    assert live.journal.newest_row == max(before.rows)
    assert live.journal.boot == max(fields[0] for fields in before.by_event.values()) + 1
    newest = max(before.totals, key=lambda kept: kept[1:3])
    assert live.journal.restored_low[0] >= newest[3]
    for _ in range(1000):
        story.one_scan(live)
    after = reader.read_files(fs.files)
    assert live.journal.lost == 0
    assert after.conflicts == []
    assert after.rows.items() >= before.rows.items()
    assert after.by_event.items() >= before.by_event.items()
    assert after.by_summary.items() >= before.by_summary.items()
    assert sorted(after.rows) == list(range(1, max(after.rows) + 1))
    assert max(after.rows) > max(before.rows) + 90
