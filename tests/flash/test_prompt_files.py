"""What the prompt does to files, by the scripts that a board executes, on real littlefs."""

import hashlib
import random

import pytest

from forebay.flash import looking, scripts, slots
from forebay.flash.prompt import PIECE_BYTES
from tests.flash import old_board
from tests.flash.littlefs_board import LittleFsPrompt
from tests.flash.wanted import put_on, wanted
from tests.journal.flash import BLOCK_BYTES, PICO_BLOCKS, Chip

OLD, NEW = 1, 2


@pytest.fixture
def board():
    """A board without any file."""
    return LittleFsPrompt(Chip(PICO_BLOCKS), fresh=True)


def some_bytes(count):
    return random.Random(count).randbytes(count)


@pytest.mark.parametrize("count", [0, 1, PIECE_BYTES - 1, PIECE_BYTES, PIECE_BYTES + 1,
                                   2 * PIECE_BYTES, 3 * PIECE_BYTES + 5])
def test_a_file_is_written_whole_whatever_its_length_and_takes_the_place_of_a_longer_one(
        board, count):
    board.write("/x", bytes(20000))
    board.write("/x", some_bytes(count))
    assert board.files()[0] == {"/x": some_bytes(count)}


def test_what_fits_into_a_piece_is_opened_and_closed_in_one_command(board):
    """So that nothing but the board itself can leave it half open."""
    before = board.executed
    board.write("/x", bytes(PIECE_BYTES))
    assert board.executed == before + 1
    board.replace("/slot", b"a")
    assert board.executed == before + 3


# Base64 and its command take a third more; the board's line for a command is a heap's piece.
def test_no_command_is_longer_than_a_few_kilobytes_of_the_boards_heap(board, monkeypatch):
    sent = []
    run = board.run
    monkeypatch.setattr(board, "run", lambda script: (sent.append(script), run(script))[1])
    board.write("/x", some_bytes(50000))
    assert max(map(len, sent)) <= 4096


@pytest.mark.parametrize("count", [0, 1, 1023, 1024, 1025, 4096, 5000])
def test_a_file_is_copied_on_the_board_whole_and_stays_where_it_was(board, count):
    board.write("/x", some_bytes(count))
    board.copy("/x", "/y")
    assert board.files()[0] == {"/x": some_bytes(count), "/y": some_bytes(count)}


def test_a_small_file_is_read_an_empty_one_too_and_none_is_none(board):
    board.put({"/x": some_bytes(1024), "/empty": b"", "/long": some_bytes(3000)})
    assert board.maybe_read("/x") == some_bytes(1024)
    assert board.maybe_read("/empty") == b""
    assert board.maybe_read("/none") is None
    assert board.maybe_read("/long") == some_bytes(3000)[:1024]


def test_hashes_are_those_of_the_standard_library_and_what_is_absent_has_none(board):
    files = {f"/{count}": some_bytes(count) for count in (0, 511, 512, 513, 5000)}
    board.put(files)
    assert board.hashes([*files, "/none"]) == {
        path: hashlib.sha256(data).hexdigest() for path, data in files.items()}


def test_of_nothing_no_hash_is_asked_for(board):
    """To a board an empty command is a restart."""
    before = board.executed
    assert board.hashes([]) == {}
    assert board.executed == before


def test_a_tree_is_all_below_a_folder_with_folders_that_are_empty(board):
    board.put({"/a/x": b"1", "/a/deep/y": b"2", "/ab": b"3"})
    board.make_folder("/a/empty")
    tree = board.tree("/a")
    assert sorted(tree.files) == ["/a/deep/y", "/a/x"]
    assert sorted(tree.folders) == ["/a/deep", "/a/empty"]
    assert tree.files["/a/x"] == hashlib.sha256(b"1").hexdigest()
    assert board.tree("/none") == slots.Tree()


def test_what_is_absent_is_removed_already_and_a_folder_that_is_there_is_made(board):
    board.remove("/none")
    board.make_folder("/a")
    board.make_folder("/a")
    board.put({"/a/x": b"1"})
    board.remove("/a/x")
    board.remove_folder("/a")
    assert board.files() == ({}, [])


def test_what_cannot_be_removed_is_no_success(board):
    board.put({"/a/x": b"1"})
    with pytest.raises(OSError, match="39|not empty|NOTEMPTY"):
        board.remove("/a")
    with pytest.raises(OSError, match="39|not empty|NOTEMPTY"):
        board.remove_folder("/a")


def test_a_rename_takes_the_place_of_what_was_there(board):
    board.put({"/x": b"old", "/y": b"new"})
    board.rename("/y", "/x")
    assert board.files()[0] == {"/x": b"new"}


def test_a_board_says_what_it_is_and_how_much_room_it_has(board):
    identity = board.identity()
    assert (identity.version, identity.mpy, identity.build) == ("1.29.0", 0x306, "RPI_PICO")
    assert identity.chip == "-"
    assert identity.block_bytes == BLOCK_BYTES
    assert identity.free_blocks == PICO_BLOCKS - board.fs.lfs.used_block_count
    assert "hash" in scripts.PREPARE


# What a look at the board makes of its files


def programs(board):
    found = looking.look(board, wanted(NEW))
    return found.status.programs, found.before


@pytest.mark.parametrize(("slot", "pointer", "trial", "harm", "counts"), [
    ("a", b"", b"", None, True),            # whole by its own word
    ("a", b"", b"", "cut", False),
    ("a", b"", b"", "no word", False),
    ("a", b"a", b"", "cut", True),          # the loader of before would start it
    ("b", b"", b"b1", "no word", True),
    ("b", b"a", b"a1", "cut", False),
])
def test_a_tree_of_before_is_a_program_if_it_is_whole_or_if_the_loader_would_start_it(
        board, slot, pointer, trial, harm, counts):
    board.put({f"/{slot}/{path}": data for path, data in old_board.tree(OLD).items()})
    board.put({path: data for path, data in ((slots.POINTER, pointer), (slots.TRIAL, trial))
               if data})
    if harm == "cut":
        board.remove(f"/{slot}/keeper/part1.py")
    elif harm:
        board.remove(f"/{slot}/whole")
    assert programs(board) == (((slot,), (slot,)) if counts else ((), ()))


def test_a_tree_beside_the_loader_is_a_program_of_before(board):
    board.put({f"/{path}": data for path, data in old_board.tree(OLD).items()
               if path != slots.WHOLE})
    assert programs(board) == (("",), ("",))


def test_an_empty_folder_beside_the_loader_is_none(board):
    board.make_folder("/keeper")
    assert programs(board) == ((), ())


@pytest.mark.parametrize(("harm", "programs_left"), [
    ("/a/whole", ("b",)), ("/a/program.mpy", ("b",)), ("/a/settings", ("b",))])
def test_a_slot_counts_by_its_files_and_its_word(board, harm, programs_left):
    put_on(board, wanted(OLD))
    board.remove(harm)
    assert programs(board) == (programs_left, ())


@pytest.mark.parametrize("harm", ["a file more", "a file less", "another word", "another file"])
def test_a_slot_holds_what_is_wanted_only_if_every_file_and_its_word_are_right(board, harm):
    what = wanted(OLD)
    put_on(board, what)
    target = {path: hashlib.sha256(data).hexdigest() for path, data in what.slot.items()}
    assert looking.look(board, what).holds("a", target)
    board.put({"a file more": {"/a/more": b"1"}, "another word": {"/a/whole": b"word"},
               "another file": {"/a/wiring": b"1"}}.get(harm, {}))
    if harm == "a file less":
        board.remove("/a/wiring")
    found = looking.look(board, what)
    assert not found.holds("a", target)
    assert found.holds("b", target)
    assert not found.holds(None, target)
    assert not found.holds("", target)


def test_pointer_and_trial_are_read_without_the_end_of_their_line(board):
    board.put({slots.POINTER: b"a\n", slots.TRIAL: b"b1\n"})
    status = looking.look(board, wanted(NEW)).status
    assert (status.pointer, status.trial) == ("a", "b1")
