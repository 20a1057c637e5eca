"""The two files of what must survive a restart: which counts, which damage is no memory at all.

The files are made here by the standard library's struct and zlib (CRC-32 of
ISO 3309, as zlib has it), and compared byte for byte with those of the board.
"""

import random
import struct
import zlib

import pytest

from keeper import retained_files
from keeper.retained_files import RetainedFiles
from tests.journal.flash import BoardFs, Chip, apply, tear

OLD, NEW, THIRD = [3, -7, 1 << 30], [4, 8, -(1 << 31)], [5, 9, 11]
COUNT = len(OLD)
LAST = 0x3FFFFFFF  # the greatest number of a file: the board's small integers end there
HALF = 0x1FFFFFFF  # half way round
BLOCKS = 16


def file_of(sequence, values, magic=b"fbyr", version=2, count=COUNT):
    """Returns the bytes of a file that is whole."""
    body = magic + struct.pack("<HHI", version, count, sequence)
    body += b"".join(struct.pack("<i", value) for value in values)
    return body + struct.pack("<I", zlib.crc32(body))


@pytest.fixture
def place(tmp_path):
    (tmp_path / "rig").mkdir()
    return tmp_path / "rig"


def load(place, a=None, b=None):
    """Returns what a start finds in two files, None = there is no such file."""
    for name, data in (("state_a", a), ("state_b", b)):
        if data is not None:
            (place / name).write_bytes(data)
    return RetainedFiles(str(place)).load()


def test_files_are_written_in_turns_and_numbered_each_byte_as_documented(place):
    memory = RetainedFiles(str(place))
    for number, values in enumerate((OLD, NEW, THIRD), 1):
        assert memory.save(values) is True
        written = place / ("state_a", "state_b")[(number - 1) % 2]
        assert written.read_bytes() == file_of(number, values)
    assert (place / "state_b").read_bytes() == file_of(2, NEW)


def test_the_folder_is_made_with_what_is_above_it(tmp_path):
    memory = RetainedFiles(str(tmp_path / "deep" / "rig"))
    assert memory.save(OLD)
    assert load(tmp_path / "deep" / "rig") == OLD


@pytest.mark.parametrize(("first", "second", "newest"), [
    (1, 2, NEW), (2, 1, OLD), (LAST, 0, NEW), (0, LAST, OLD), (LAST - 1, 1, NEW),
    (HALF - 1, 0, OLD), (0, HALF - 1, NEW), (LAST - 5, HALF - 7, NEW), (HALF - 7, LAST - 5, OLD)])
def test_of_two_whole_files_the_newer_counts_and_the_older_is_written_over(
        place, first, second, newest):
    assert load(place, file_of(first, OLD), file_of(second, NEW)) == newest
    memory = RetainedFiles(str(place))
    memory.load()
    assert memory.save(THIRD)
    number = (first if newest is OLD else second) + 1 & LAST
    older = "state_b" if newest is OLD else "state_a"
    assert (place / older).read_bytes() == file_of(number, THIRD)
    assert load(place) == THIRD


@pytest.mark.parametrize("rest", [None, b""], ids=["absent", "empty"])
@pytest.mark.parametrize("is_first", [True, False])
def test_of_a_file_whose_writing_was_cut_nothing_is_there_and_the_other_one_counts(
        place, rest, is_first):
    whole = file_of(7, OLD)
    assert load(place, *((whole, rest) if is_first else (rest, whole))) == OLD
    memory = RetainedFiles(str(place))
    memory.load()
    memory.save(NEW)
    cut = "state_b" if is_first else "state_a"
    assert (place / cut).read_bytes() == file_of(8, NEW)


def test_without_any_file_nothing_is_known(place):
    assert load(place) is None
    assert load(place, b"", b"") is None


def damages():
    """Gives (what happened, bytes) of a file that had been whole, and newer than number 1."""
    whole = file_of(2, NEW)
    for length in range(1, len(whole)):
        yield f"cut to {length} bytes", whole[:length]
    for at in range(len(whole)):
        for bit in (1, 0x80):
            yield (f"bit in byte {at}",
                   whole[:at] + bytes([whole[at] ^ bit]) + whole[at + 1:])
    yield "a byte more", whole + b"\x00"
    yield "erased", b"\xff" * len(whole)
    yield "zeros", bytes(len(whole))
    # Whole by their CRC, but not what this program writes.
    yield "another magic", file_of(2, NEW, magic=b"fbyj")
    yield "a version of before", file_of(2, NEW, version=0)
    yield "a later version", file_of(2, NEW, version=3)
    yield "another count in the head", file_of(2, NEW, count=COUNT + 1)
    yield "a number more than the head says", file_of(2, [*NEW, 1])
    yield "a number less than the head says", file_of(2, NEW[:-1])


def test_a_file_of_another_program_is_read_whatever_its_length(place):
    for values in ([*NEW, 1], NEW[:-1]):
        assert load(place, file_of(2, values, count=len(values))) == values


def test_a_file_of_the_first_version_is_read_with_the_eleven_fixed_numbers_that_it_had(place):
    assert load(place, file_of(2, NEW, version=1)) == [11, *NEW]


@pytest.mark.parametrize("names", [("state_a", "state_b"), ("state_b", "state_a")])
def test_a_damaged_file_is_never_passed_over_for_an_older_one(place, names):
    """An older file may know nothing of a lockout that came since."""
    older, newest = (place / name for name in names)
    older.write_bytes(file_of(1, OLD))
    trusted = []
    for what, data in damages():
        newest.write_bytes(data)
        if load(place) is not None:
            trusted.append(what)
    assert trusted == []


@pytest.mark.parametrize("names", [("state_a", "state_b"), ("state_b", "state_a")])
def test_nor_is_a_damaged_older_file_a_reason_to_trust_the_other(place, names):
    """Which one is older, nobody can tell of a damaged file."""
    newest, damaged = (place / name for name in names)
    newest.write_bytes(file_of(3, OLD))
    trusted = []
    for what, data in damages():
        damaged.write_bytes(data)
        if load(place) is not None:
            trusted.append(what)
    assert trusted == []


def test_a_file_that_cannot_be_written_is_counted_and_the_same_one_is_tried_again(
        place, monkeypatch):
    memory = RetainedFiles(str(place))
    memory.save(OLD)
    assert memory.failed == 0
    with monkeypatch.context() as patch:
        patch.setattr(retained_files, "open", _fail, raising=False)
        assert [memory.save(NEW), memory.save(NEW)] == [False, False]
    assert memory.failed == 2
    assert load(place) == OLD
    assert memory.save(THIRD) is True
    assert (place / "state_b").read_bytes() == file_of(2, THIRD)
    assert memory.failed == 2


def _fail(*_):
    raise OSError(28, "no space")


# Power fails while a file is written, on real littlefs

class Flash:
    """A memory on littlefs, as in a board's flash."""

    def __init__(self, patch, image=None):
        self.chip = Chip(BLOCKS, image)
        self.fs = BoardFs(self.chip, fresh=image is None)
        patch.setattr(retained_files, "open", self.fs.open, raising=False)
        patch.setattr(retained_files, "os", self.fs)
        self.memory = RetainedFiles("/rig")


@pytest.mark.parametrize("before", range(4))
def test_a_cut_at_any_step_of_the_flash_leaves_what_was_saved_before_or_what_is_saved_now(
        monkeypatch, before):
    """Of the first file ever there is nothing before: then nothing is known, or the new one."""
    flash = Flash(monkeypatch)
    saved = [[number] * COUNT for number in range(before + 1)]
    for values in saved[:-1]:
        assert flash.memory.save(values)
    image = bytearray(flash.chip.image)
    flash.chip.log = steps = []
    assert flash.memory.save(saved[-1])
    allowed = [saved[-2] if before else None, saved[-1]]
    chance = random.Random(7)
    seen = []
    for step in steps:
        for _ in range(8):  # a torn step has many forms
            torn = bytearray(image)
            tear(torn, step, chance)
            seen.append(Flash(monkeypatch, torn).memory.load())
        apply(image, step)
        seen.append(Flash(monkeypatch, image).memory.load())

    assert [found for found in seen if found not in allowed] == []
    assert seen[-1] == saved[-1]
    assert allowed[0] in seen  # the cuts were early enough to matter


def test_after_a_cut_the_next_save_is_found_by_the_next_start(monkeypatch):
    flash = Flash(monkeypatch)
    for values in (OLD, NEW):
        flash.memory.save(values)
    image = bytearray(flash.chip.image)
    flash.chip.log = steps = []
    flash.memory.save(THIRD)
    for step in steps:
        again = Flash(monkeypatch, image)
        again.memory.load()
        assert again.memory.save([0] * COUNT)
        assert Flash(monkeypatch, again.chip.image).memory.load() == [0] * COUNT
        apply(image, step)


def test_a_folder_that_cannot_be_made_is_seen_at_the_first_write(tmp_path):
    (tmp_path / "rig").write_text("a file where the folder should be")
    memory = RetainedFiles(str(tmp_path / "rig"))
    assert memory.load() is None
    assert not memory.save(OLD)
    assert memory.failed == 1
