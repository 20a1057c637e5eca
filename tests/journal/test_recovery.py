"""What a start makes of any tail: all of it is kept, in bounded memory, whatever cuts it."""

import random
import tracemalloc

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as some

from keeper.events import JOURNAL_LOST
from keeper.journal.journal import HELD_MOST
from keeper.journal.opening import open_journal
from tests.journal import reader, tails
from tests.journal.fakes import RIG_ID, FakeKeeper
from tests.journal.memory_fs import ROOT, MemoryFs, states

POINTER_BYTES = 4  # of the board, the least that anything kept of a row takes
PHASES = (Phase.explicit, Phase.reuse, Phase.generate)
# All that was held when the block was given up or written, and the new tail behind it.
LARGEST = (range(1, HELD_MOST + 1), range(65, 127))
TAILS = {
    "none": (),
    "1 row": (range(1, 2),),
    "20 rows": (range(1, 21),),
    "40 rows": (range(1, 41),),
    "50 rows": (range(1, 51),),
    "63 rows": (range(1, 64),),
    "64 rows": (range(1, 65),),
    "65 rows": (range(1, 66),),
    "old and new, 174 rows": LARGEST,
    "new one empty": (range(1, 64), range(0)),
}


def files_of(segments) -> dict[str, bytes]:
    files: dict[str, bytes] = {}
    for number, rows in enumerate(segments, 1):
        files |= tails.tail(number, rows)
    return files


def keeper_on(fs: MemoryFs, patch) -> FakeKeeper:
    fs.attach(patch)
    return FakeKeeper(open_journal(ROOT, RIG_ID, 7), seed=3, running_s=1, sync_s=2)


def must_go_on(files, patch, rows: set[int], damaged: int = 0) -> MemoryFs:
    """Starts on files, lives on; every row is there, once, and the numbers go on."""
    fs = MemoryFs(files)
    live = keeper_on(fs, patch)
    steps = len(fs.log)
    assert live.journal.newest_row == max(rows, default=0)
    live.run(400)
    after = reader.read_files(fs.files)
    assert after.conflicts == []
    assert after.damaged <= damaged
    assert live.journal.lost == 0
    assert {seq: after.rows.get(seq) for seq in rows} == {
        seq: tuple(tails.row(seq)) for seq in rows}  # fmt: skip
    assert sorted(after.rows) == list(range(1, max(after.rows) + 1))
    assert max(after.rows) >= max(rows, default=0) + 38
    fs.log = fs.log[:steps]
    return fs


@pytest.mark.parametrize("segments", TAILS.values(), ids=TAILS)
def test_every_row_of_a_tail_is_kept_whatever_cuts_the_start_on_it(monkeypatch, segments):
    files = files_of(segments)
    rows = {seq for segment in segments for seq in segment}
    log = must_go_on(files, monkeypatch, rows).log
    cuts = list(states(log, files))
    assert cuts
    for place, (_, count, left) in enumerate(cuts):
        if count == 0 or place % 61 == 0:
            must_go_on(left, monkeypatch, rows, damaged=count)


ROW_NUMBERS = some.lists(
    some.one_of(
        some.builds(range, some.integers(1, 260), some.integers(1, 300)),
        some.builds(lambda first, count: range(first, first + count),
                    some.integers(1, 5000), some.integers(0, 150)),
    ),
    max_size=5,
)  # fmt: skip


def shuffled(parts, seed: int) -> list[int]:
    """The numbers of ranges, as they come or in no order at all."""
    numbers = [number for part in parts for number in part]
    if seed:
        random.Random(seed).shuffle(numbers)
    return numbers


@settings(max_examples=150, phases=PHASES, deadline=None)
@given(some.lists(some.tuples(ROW_NUMBERS, some.integers(0, 3)), max_size=3))
def test_rows_of_any_tails_become_blocks_without_a_gap_and_the_newest_are_held(segments):
    with pytest.MonkeyPatch.context() as patch:
        held_lists = [shuffled(parts, seed) for parts, seed in segments]
        fs = MemoryFs(files_of(held_lists))
        fs.attach(patch)
        journal = open_journal(ROOT, RIG_ID, 7)
        numbers = {number for held in held_lists for number in held}
        expected = tails.runs(numbers, tails.ROWS_OF_BLOCK)
        held = expected.pop() if expected else (1, 0)
        assert (journal.held.first_seq, journal.held.count) == held
        content = reader.read_files({n: d for n, d in fs.files.items() if n[0] == "d"})
        blocks = [(seq, len(reader.decode_block(payload)))
                  for segment in content.segments for _, seq, payload in segment.records]
        assert blocks == expected
        assert content.rows == {seq: tuple(tails.row(seq))
                                for seq in numbers if not held[0] <= seq < sum(held)}
        row = [0] * 19
        for place in range(held[1]):
            journal.held.copy(place, row)
            assert row == tails.row(held[0] + place)
        assert journal.lost == 0


@settings(max_examples=100, phases=PHASES, deadline=None)
@given(some.lists(some.lists(some.integers(1, 40), max_size=14), max_size=3))
def test_summaries_of_any_tails_become_blocks_or_are_held(segments):
    with pytest.MonkeyPatch.context() as patch:
        files: dict[str, bytes] = {}
        for number, summaries in enumerate(segments, 1):
            files |= tails.tail(number, (), summaries)
        fs = MemoryFs(files)
        fs.attach(patch)
        journal = open_journal(ROOT, RIG_ID, 7)
        numbers = {number for summaries in segments for number in summaries}
        expected = tails.runs(numbers, tails.SUMMARIES_OF_BLOCK)
        first, count = expected.pop() if expected else (1, 0)
        if count == tails.SUMMARIES_OF_BLOCK:
            expected.append((first, count))
            first, count = first + count, 0
        held = journal.summaries
        assert (held.first_seq, held.count) == (first, count)
        assert bytes(held.records[: held.bytes_held()]) == b"".join(
            tails.summary_record(seq) for seq in range(first, first + count))
        content = reader.read_files({n: d for n, d in fs.files.items() if n[0] == "s"})
        blocks = [(seq, len(reader.decode_summary_block(payload)))
                  for segment in content.segments for _, seq, payload in segment.records]
        assert blocks == expected
        whole = reader.read_files(files)
        assert content.by_summary == {
            seq: whole.by_summary[seq] for seq in numbers if not first <= seq < first + count}


def test_a_tail_that_cannot_be_read_again_is_told_and_left_aside(monkeypatch):
    """Its first reading went well; rows beyond the first window of places need a second."""
    files = files_of([range(1, 300)])
    fs = MemoryFs(files)
    opened = []

    def fault(operation, name):
        if operation == "open" and name == "t00001":
            opened.append(name)
            if len(opened) == 2:
                raise OSError(5, "injected")

    fs.fault = fault
    live = keeper_on(fs, monkeypatch)
    live.run(800)
    assert len(opened) == 2
    assert fs.files["t00001"] == files["t00001"]
    after = reader.read_files(fs.files)
    told = [event[4:8:3] for event in after.events if event[3] == JOURNAL_LOST]
    assert told == [(3, 1)]
    assert live.journal.lost == 1
    assert after.rows.keys() >= set(range(1, 300))
    assert after.conflicts == []


def peak_bytes(folder, segments) -> int:
    """The most memory that a start on these tails takes, what it leaves included [B]."""
    for path in folder.iterdir():
        path.unlink()
    for name, data in files_of(segments).items():
        (folder / name).write_bytes(data)
    tracemalloc.start()
    journal = open_journal(str(folder), RIG_ID, 7)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert journal.lost == 0
    return peak


def test_the_peak_of_a_start_does_not_grow_with_the_tail(tmp_path):
    """Not by a pointer a row; from 65 rows on a block is packed, whose memory is its own."""
    peak_bytes(tmp_path, LARGEST)  # what the first use of anything leaves
    sizes = {name: peak_bytes(tmp_path, TAILS[name])
             for name in ("1 row", "63 rows", "65 rows", "old and new, 174 rows")}
    assert sizes["63 rows"] - sizes["1 row"] < 62 * POINTER_BYTES
    assert sizes["old and new, 174 rows"] - sizes["65 rows"] < 109 * POINTER_BYTES
