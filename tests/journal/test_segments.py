"""The journal's folder: what is listed in which order, what is given up, and what fits."""

import os

import pytest

from keeper import segments as sg
from keeper.records import DETAIL, EVENTS, SUMMARY, TAIL, segment_head
from keeper.segments import Segments, bytes_of, entry, number_of

RIG_ID = 5
HEAD_BYTES = 16
BUDGET_BLOCKS = 100
BLOCK_BYTES = 4096
LETTER = {DETAIL: "d", EVENTS: "e", SUMMARY: "s", TAIL: "t"}
# The specification: one Modbus file, and what two blocks of flash hold for the small ones.
MOST_BYTES = {DETAIL: 20000, TAIL: 20000, EVENTS: 8188, SUMMARY: 8188}


def opened(folder, budget_bytes=BUDGET_BLOCKS * BLOCK_BYTES):
    return Segments(str(folder), RIG_ID, budget_bytes)


def put(folder, stream, number, count=100):
    (folder / f"{LETTER[stream]}{number:05}").write_bytes(bytes(count))


# Which there are


@pytest.mark.parametrize(("there", "ordered"), [
    ([3, 1, 2], [1, 2, 3]),
    ([16383, 1, 2, 16382], [16382, 16383, 1, 2]),
    ([1, 8192], [1, 8192]),          # half way round is no turn
    ([1, 8193], [8193, 1]),
    ([8192, 16383], [8192, 16383]),
    ([8190, 8192, 16383], [8192, 16383, 8190]),
    ([8191, 16383], [16383, 8191]),  # the last of the lower half
    ([7], [7]),
])
def test_segments_are_listed_oldest_first_although_their_numbers_begin_anew(
        tmp_path, there, ordered):
    for number in there:
        put(tmp_path, DETAIL, number)
    found = opened(tmp_path)
    assert [number_of(one) for one in found.table[DETAIL]] == ordered
    assert found.next_number(DETAIL) == ordered[-1] % 16383 + 1
    assert [number for number, _ in found.files()] == ordered


def test_only_names_of_segments_count(tmp_path):
    for name in ("d00001", "x00001", "d1", "d000001", "d0000a", "da0001", "d00000", "d16384",
                 "d99999", "scratch", "e00002"):
        (tmp_path / name).write_bytes(bytes(10))
    found = opened(tmp_path)
    assert found.files() == [(1, 10), (EVENTS * 16384 + 2, 10)]
    assert found.errors == 0
    assert found.usable


def test_every_stream_has_its_files_and_its_blocks(tmp_path):
    sizes = {DETAIL: 1, EVENTS: 4096, SUMMARY: 4097, TAIL: 20000}
    for stream, size in sizes.items():
        put(tmp_path, stream, 9, size)
    found = opened(tmp_path)
    assert found.files() == [(stream * 16384 + 9, size) for stream, size in sizes.items()]
    assert found.blocks == [1, 1, 2, 5]
    for stream, size in sizes.items():
        assert found.size_of(stream * 16384 + 9) == size
        assert found.size_of(stream * 16384 + 8) == -1
    assert found.size_of(4 * 16384 + 9) == -1


# Appending


@pytest.mark.parametrize("stream", [DETAIL, EVENTS, SUMMARY, TAIL])
def test_a_segment_takes_what_fits_to_the_last_byte_and_the_next_begins_with_a_head(
        tmp_path, stream):
    most = MOST_BYTES[stream]
    found = opened(tmp_path)
    data = bytes(range(256)) * 100
    assert found.append(stream, data, most - HEAD_BYTES - 10)
    assert found.fresh
    assert not found.has_room(stream, 11)
    assert found.append(stream, data, 10)
    assert not found.fresh
    assert [bytes_of(one) for one in found.table[stream]] == [most]
    assert found.append(stream, data, 1)
    assert found.fresh
    written = [(tmp_path / f"{LETTER[stream]}0000{number}").read_bytes() for number in (1, 2)]
    assert written[0] == (segment_head(stream, 1, RIG_ID) + data[:most - HEAD_BYTES - 10]
                          + data[:10])
    assert written[1] == segment_head(stream, 2, RIG_ID) + data[:1]
    assert found.blocks[stream] == -(-most // BLOCK_BYTES) + 1


def test_a_stream_begins_a_new_segment_on_demand_though_the_old_one_has_room(tmp_path):
    found = opened(tmp_path)
    found.append(TAIL, b"abc", 3)
    assert found.append_new(TAIL, b"de", 2)
    assert [bytes_of(one) for one in found.table[TAIL]] == [19, 18]


def test_a_segment_of_an_earlier_start_is_not_written_to_unless_recovery_says_so(tmp_path):
    opened(tmp_path).append(EVENTS, b"abc", 3)
    found = opened(tmp_path)
    assert found.append(EVENTS, b"de", 2)
    assert [number_of(one) for one in found.table[EVENTS]] == [1, 2]
    again = opened(tmp_path)
    again.open[EVENTS] = True
    assert again.append(EVENTS, b"fg", 2)
    assert (tmp_path / "e00002").read_bytes()[HEAD_BYTES:] == b"defg"


def test_what_failed_is_measured_counted_and_never_written_to_again(tmp_path, monkeypatch):
    found = opened(tmp_path)
    found.append(DETAIL, b"abc", 3)

    class Half:
        """A file that takes its bytes, but cannot be synced."""

        def __init__(self, path, mode):
            self.file = open(path, mode)

        def __enter__(self):
            return self

        def __exit__(self, *_):
            self.file.close()

        def write(self, data):
            return self.file.write(data)

        def flush(self):
            raise OSError(28, "no space")

    with monkeypatch.context() as patch:
        patch.setattr(sg, "open", Half, raising=False)
        assert not found.append(DETAIL, b"defg", 4)
    assert (found.errors, found.full, found.fresh) == (1, True, False)
    assert [bytes_of(one) for one in found.table[DETAIL]] == [23]  # as much as is there
    assert found.append(DETAIL, b"hi", 2)
    assert [number_of(one) for one in found.table[DETAIL]] == [1, 2]


def test_another_error_than_want_of_space_says_that_it_is_not_full(tmp_path):
    found = opened(tmp_path)
    found.count(OSError(28, "no space"))
    assert found.full
    found.count(OSError(5, "i/o"))
    assert (found.errors, found.full) == (2, False)


def test_a_new_segment_of_which_nothing_was_written_is_forgotten(tmp_path, monkeypatch):
    found = opened(tmp_path)

    def fail(*_):
        raise OSError(5, "i/o")

    with monkeypatch.context() as patch:
        patch.setattr(sg, "open", fail, raising=False)
        assert not found.append(DETAIL, b"abc", 3)
    assert found.table[DETAIL] == []
    assert found.blocks == [0] * 4
    assert found.append(DETAIL, b"abc", 3)
    assert found.next_number(DETAIL) == 2


def test_a_number_of_the_tail_that_was_left_aside_is_not_taken(tmp_path):
    for number in (1, 2, 3):
        put(tmp_path, TAIL, number)
    found = opened(tmp_path)
    found.set_aside(3)
    assert [number_of(one) for one in found.table[TAIL]] == [1, 2]
    assert found.next_number(TAIL) == 4
    assert found.size_of(TAIL * 16384 + 3) == 100
    assert len(found.files()) == 3


# Giving up


def holding(folder, **blocks):
    """Returns segments that hold so many blocks a stream, one a segment."""
    found = opened(folder)
    for stream, name in enumerate(("detail", "events", "summary", "tail")):
        count = blocks.get(name, 0)
        found.table[stream] = [entry(number + 1, 4096) for number in range(count)]
        found.blocks[stream] = count
    return found


@pytest.mark.parametrize(("blocks", "goes"), [
    ({"detail": 60, "events": 10, "summary": 25, "tail": 5}, None),    # just the budget
    ({"detail": 61, "events": 10, "summary": 25, "tail": 5}, DETAIL),
    ({"detail": 50, "events": 11, "summary": 41, "tail": 5}, DETAIL),  # within their shares
    ({"detail": 50, "events": 12, "summary": 41, "tail": 5}, EVENTS),
    ({"detail": 50, "events": 11, "summary": 42, "tail": 5}, SUMMARY),
    ({"detail": 50, "events": 12, "summary": 42, "tail": 5}, EVENTS),
    ({"detail": 1, "events": 11, "summary": 41, "tail": 60}, SUMMARY),  # the newest stays
    ({"detail": 1, "events": 11, "summary": 1, "tail": 90}, EVENTS),
    ({"detail": 1, "events": 1, "summary": 1, "tail": 99}, None),
])
def test_detail_is_given_up_first_unless_events_or_summaries_hold_more_than_their_share(
        tmp_path, blocks, goes):
    found = holding(tmp_path, **blocks)
    assert found.surplus_stream() == (-1 if goes is None else goes)


def test_the_oldest_is_removed_with_its_blocks(tmp_path):
    for number, count in ((1, 5000), (2, 100)):
        put(tmp_path, DETAIL, number, count)
    found = opened(tmp_path)
    assert found.remove_oldest(DETAIL) == 1
    assert os.listdir(tmp_path) == ["d00002"]
    assert (found.blocks[DETAIL], found.errors) == (1, 0)
    (tmp_path / "d00002").unlink()
    assert found.remove_oldest(DETAIL) == 2
    assert (found.blocks[DETAIL], found.errors) == (0, 1)


# Reading


def test_a_file_is_read_from_where_it_is_asked_and_no_further_than_it_is_long(tmp_path):
    found = opened(tmp_path)
    found.append(EVENTS, b"abcdefgh", 8)
    number = EVENTS * 16384 + 1
    for offset, length, expected in ((16, 4, b"abcd"), (20, 8, b"efgh"), (23, 1, b"h"),
                                     (24, 8, b""), (30, 8, b"")):
        buffer = bytearray(b"." * length)
        assert found.read_file(number, offset, buffer) == len(expected)
        assert bytes(buffer) == expected + b"." * (length - len(expected))
    assert found.read_file(number + 1, 0, bytearray(8)) == 0


# Room, and want of it


def test_the_budget_is_no_more_than_what_it_has_and_what_is_left_but_for_eight_blocks(
        tmp_path, monkeypatch):
    for number in (1, 2, 3):
        put(tmp_path, DETAIL, number)
    left_kib = [80]
    monkeypatch.setattr(sg.os, "statvfs", lambda path: (1024, 4096, 0, left_kib[0]))
    found = opened(tmp_path)
    assert found.budget_blocks == 3 + 20 - 8
    left_kib[0] = 40
    found.count(OSError(5, "i/o"))
    assert found.budget_blocks == 15
    found.count(OSError(28, "no space"))  # something else has taken of the room
    assert found.budget_blocks == 3 + 10 - 8
    left_kib[0] = 400
    found.count(OSError(28, "no space"))
    assert found.budget_blocks == 5
    assert opened(tmp_path, 6 * BLOCK_BYTES).budget_blocks == 6


def test_a_tail_that_was_left_aside_does_not_grow(tmp_path):
    put(tmp_path, TAIL, 1)
    found = opened(tmp_path)
    found.open[TAIL] = True
    found.set_aside(1)
    assert found.append(TAIL, b"abc", 3)
    assert (tmp_path / "t00001").stat().st_size == 100
    assert number_of(found.table[TAIL][-1]) == 2


def test_a_folder_that_cannot_be_used_is_not_tried_again_and_again(tmp_path):
    (tmp_path / "journal").write_text("a file in its place")
    found = opened(tmp_path / "journal")
    assert (found.usable, found.errors) == (False, 1)
    assert not found.append(EVENTS, b"abc", 3)
    assert found.fresh  # so that whoever writes holds off
    assert found.errors == 1
    assert found.blocks == [0] * 4


def test_want_of_memory_for_a_file_is_counted_and_raised_with_nothing_written(
        tmp_path, monkeypatch):
    found = opened(tmp_path)

    def fail(*_):
        raise MemoryError

    with monkeypatch.context() as patch:
        patch.setattr(sg, "open", fail, raising=False)
        with pytest.raises(MemoryError):
            found.append(EVENTS, b"abc", 3)
    assert (found.errors, found.full) == (1, False)
    assert found.table[EVENTS] == []


def test_a_segment_of_its_head_alone_is_whole(tmp_path):
    found = opened(tmp_path)
    assert found.append_new(EVENTS, b"", 0)
    assert (tmp_path / "e00001").read_bytes() == segment_head(EVENTS, 1, RIG_ID)
