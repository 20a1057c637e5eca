"""What a start believes of a segment: its head, its records, and what was torn or damaged."""

import struct
import zlib

import pytest

from keeper.events import JOURNAL_LOST
from keeper.opening import open_journal
from tests.journal import reader, tails
from tests.journal.fakes import RIG_ID
from tests.journal.memory_fs import ROOT, MemoryFs


@pytest.fixture
def opened(monkeypatch):
    """opened(files) starts on these files; returns the journal and the folder."""

    def opened(files):
        fs = MemoryFs(files)
        fs.attach(monkeypatch)
        return open_journal(ROOT, RIG_ID, 7), fs

    return opened


def sealed(head: bytes) -> bytes:
    """The 12 bytes of a head with their CRC."""
    return head + struct.pack("<I", zlib.crc32(head))


@pytest.mark.parametrize("head", [
    tails.head(1, 2),                                            # a copy of e00002
    tails.head(2, 3),                                            # of another stream
    sealed(b"fbyk" + struct.pack("<BBHI", 1, 1, 3, RIG_ID)),     # no journal's
    tails.head(1, 3)[:-1] + bytes([tails.head(1, 3)[-1] ^ 1]),
], ids=["number", "stream", "magic", "crc"])  # fmt: skip
def test_a_segment_whose_head_is_not_its_own_is_told_and_not_written_to(opened, head):
    journal, fs = opened({"e00003": head})
    assert fs.files["e00003"] == head
    events = reader.read_file("e00004", fs.files["e00004"]).events
    assert [event[4:8:3] for event in events if event[3] == JOURNAL_LOST] == [(1, 3)]
    assert journal.lost == 1


def test_a_segment_whose_head_is_its_own_goes_on(opened):
    journal, fs = opened({"e00003": tails.head(1, 3)})
    assert [*fs.files] == ["e00003"]
    assert journal.lost == 0


@pytest.mark.parametrize("left", [1, 7, 8, 30, 51])
@pytest.mark.parametrize("rows", [3, 100])  # less and more than is read at once
def test_a_record_that_a_cut_has_torn_is_no_damage_and_its_number_is_free(opened, rows, left):
    [(name, data)] = tails.tail(1, range(1, rows + 1)).items()
    journal, _ = opened({name: data[: len(data) - tails.ROW_BYTES + left]})
    assert journal.lost == 0
    assert journal.newest_row == rows - 1


# Types of record, and the bytes of their payloads: the specification, section 4.
FIXED = {reader.ROW: 40, reader.EVENT: 122, reader.TOTALS: 86, reader.SUMMARY: 172}


@pytest.mark.parametrize("kind", FIXED)
@pytest.mark.parametrize("more", [-2, 2])
def test_of_a_record_of_another_length_than_its_type_has_only_the_numbers_count(
        opened, kind, more):
    payload = struct.pack("<H", 9) + bytes([1]) * (FIXED[kind] - 2 + more)
    journal, _ = opened({"t00001": tails.head(3, 1) + tails.record(kind, 5, payload)})
    assert journal.boot == 9 + 1
    used = {reader.ROW: journal.newest_row, reader.EVENT: journal.events.seq - 1,
            reader.TOTALS: journal.newest_row, reader.SUMMARY: journal.summary_seq}  # fmt: skip
    assert used[kind] == 5
    assert (journal.held.count, journal.summaries.count) == (0, 0)
    assert journal.restored_low == journal.restored_high == [0] * 10


@pytest.mark.parametrize("payload", [b"", b"\x02"])
@pytest.mark.parametrize(("name", "kind"), [("d00001", reader.BLOCK),
                                            ("s00001", reader.SUMMARY_BLOCK)])
def test_a_block_too_short_to_say_how_much_it_holds_holds_nothing(opened, name, kind, payload):
    stream = reader.STREAM_OF_LETTER[name[0]]
    journal, _ = opened({name: tails.head(stream, 1) + tails.record(kind, 1000, payload)})
    assert (journal.newest_row, journal.summary_seq) == (0, 0)


# The shortest block: head 8, version and count 2, 19 columns of 8 bits, CRC 4.
DAMAGED_DETAIL = {"d00001": tails.head(0, 1) + bytes(10 * 33)}
DAMAGED_TAIL = {"t00001": tails.head(3, 1) + bytes(2 * 52)}


@pytest.mark.parametrize(("files", "newest"), [
    (DAMAGED_DETAIL, 10 * 64),
    (DAMAGED_TAIL, 2),
    (DAMAGED_DETAIL | DAMAGED_TAIL, 10 * 64 + 2),
    (DAMAGED_DETAIL | tails.tail(1, range(1, 6)), 5),
    (DAMAGED_TAIL | tails.tail(2, range(1, 6)), 5 + 2),
])  # fmt: skip
def test_rows_pass_what_damage_can_have_held_unless_a_sound_tail_says_which_was_the_newest(
        opened, files, newest):
    assert opened(files)[0].newest_row == newest
