"""What a flash takes of a board's files, on real littlefs, and what it does where that lacks."""

import types

import pytest

from forebay.flash import FlashError, deploy, looking, rigfiles, slots
from forebay.flash.prompt import Identity
from keeper.journal import segments
from tests.flash import old_board
from tests.flash.littlefs_board import LittleFsPrompt
from tests.flash.wanted import FULL_BYTES, KEY, put_on, wanted
from tests.journal.flash import BLOCK_BYTES, PICO_BLOCKS, Chip

OLD, NEW = 1, 2


@pytest.fixture
def board():
    """A board without any file."""
    return LittleFsPrompt(Chip(PICO_BLOCKS), fresh=True)


def used(board):
    return board.fs.lfs.used_block_count


def slot(board, name):
    """Returns path inside a slot -> contents."""
    top = f"/{name}/"
    return {path.removeprefix(top): data for path, data in board.files()[0].items()
            if path.startswith(top) and path != top + slots.WHOLE}


def test_a_first_flash_takes_the_room_of_both_slots(board, record_property):
    empty = used(board)
    put_on(board, wanted(OLD, size=FULL_BYTES))
    two = used(board)
    done = put_on(board, wanted(NEW, size=FULL_BYTES))

    assert (done.files, done.copied) == (3, 0)
    assert used(board) == two
    record_property("measured", f"two programs and the rest take {two * BLOCK_BYTES // 1024} KiB"
                                f" of the {PICO_BLOCKS * BLOCK_BYTES // 1024} KiB of files")
    assert empty < two <= PICO_BLOCKS // 4


def test_of_a_first_flash_the_second_slot_is_copied_on_the_board(board):
    done = put_on(board, wanted(NEW))

    assert (done.files, done.copied) == (3, 3)
    assert slot(board, "a") == slot(board, "b") == wanted(NEW).slot


def test_what_is_sent_and_copied_is_counted_and_told_as_it_goes(board):
    what, told = wanted(NEW), []
    done = deploy.deploy(board, what, looking.look(board, what), lambda *words: told.append(words))
    sizes = [len(data) for data in what.slot.values()]
    sent = [words for words in told if words[0] == "copy"]
    copied = [words for words in told if words[0] == "copy on the board"]

    assert done.sent_B == sum(sizes)
    assert {total for _, _, total in sent} == {sum(sizes)}
    assert sent[0][1] == 0
    steps = [later[1] - earlier[1] for earlier, later in zip(sent, sent[1:], strict=False)]
    assert sorted([*steps, sum(sizes) - sent[-1][1]]) == sorted(sizes)
    assert copied == [("copy on the board", place, 3) for place in range(3)]
    # One slot, the other, the key; the switch comes after all of them, and main.py last.
    stages = [words[0] for words in told]
    order = ["copy", "copy on the board", "key", "pointer", "loader"]
    assert [stages.index(name) for name in order] == sorted(stages.index(name) for name in order)
    assert stages.count("verify") == 2
    assert stages[-1] == "loader"


@pytest.mark.parametrize(("block_bytes", "free_blocks", "fits"), [
    (BLOCK_BYTES, 10, True), (BLOCK_BYTES, 9, False), (0, 0, True)])
def test_room_is_refused_by_the_block_where_the_board_tells_it(block_bytes, free_blocks, fits):
    """By hand: 3 blocks of program, 1 of wiring, 2 of the folder, 4 kept free.

    What is no longer than 512 bytes lies in its folder.
    """
    files = {slots.PROGRAM: bytes(2 * BLOCK_BYTES + 1), slots.SETTINGS: bytes(512),
             slots.WIRING: bytes(513)}
    change = slots.Change(("/b",), {"/b/wiring": "/a/wiring"},
                          {f"/b/{path}": files[path] for path in (slots.PROGRAM, slots.SETTINGS)},
                          (), ())
    told = types.SimpleNamespace(identity=lambda: Identity(
        "1.29.0", 0, "", "", block_bytes, free_blocks))
    if fits:
        deploy._check_room(told, change, files, "b")
    else:
        with pytest.raises(FlashError, match="36 KiB free, the program needs 40 KiB"):
            deploy._check_room(told, change, files, "b")


def test_a_flash_without_a_change_writes_nothing(board):
    put_on(board, wanted(NEW))
    board.fs.chip.log = []
    done = put_on(board, wanted(NEW))

    assert not done.changed
    assert board.fs.chip.log == []


def test_changed_settings_go_into_a_slot_of_their_own_beside_the_same_program(board):
    put_on(board, wanted(OLD))
    done = put_on(board, wanted(OLD, settings_of=NEW))
    files, _ = board.files()

    assert (done.files, done.copied) == (2, 0)  # the program was in the other slot before
    assert done.changes == [slots.SETTINGS, slots.WIRING]
    assert slot(board, "a") == wanted(OLD).slot
    assert slot(board, "b") == wanted(OLD, settings_of=NEW).slot
    assert (files[slots.POINTER], files[slots.TRIAL]) == (b"a", b"b0")


def test_back_to_what_the_other_slot_holds_only_the_pointer_moves(board, monkeypatch):
    put_on(board, wanted(OLD))
    put_on(board, wanted(NEW))
    board.replace(slots.POINTER, b"b")
    board.remove(slots.TRIAL)
    removed = []
    remove = board.remove
    monkeypatch.setattr(board, "remove", lambda path: (removed.append(path), remove(path)))
    done = put_on(board, wanted(OLD))

    assert done.moved_pointer
    assert removed == []  # what is whole stays so
    assert (done.slot, done.files, done.copied, done.removed) == ("a", 0, 0, 0)


def test_a_slot_that_was_cut_off_is_no_program_and_is_gone_on_with(board):
    done = put_on(board, wanted(NEW))
    for name in ("/slot_new", "/main.py", "/b/whole", "/a/whole", "/a/settings"):
        board.remove(name)
    assert looking.look(board, wanted(NEW)).status.programs == ()

    again = put_on(board, wanted(NEW))
    assert again.slot == done.slot == "a"
    assert (again.files, again.copied) == (1, 0)
    assert looking.look(board, wanted(NEW)).status.programs == ("a", "b")


def test_a_slot_that_lost_its_program_is_filled_again_though_nothing_else_changed(board):
    put_on(board, wanted(NEW))
    board.replace(slots.POINTER, b"a")
    board.remove(slots.TRIAL)
    board.remove("/b/whole")
    done = put_on(board, wanted(NEW))

    assert (done.slot, done.moved_pointer) == ("a", False)
    assert looking.look(board, wanted(NEW)).status.programs == ("a", "b")


def test_what_does_not_belong_into_a_slot_goes_as_it_might_win(board):
    put_on(board, wanted(OLD))
    board.put({"/b/program.py": b"1", "/b/program/__init__.py": b"2"})
    put_on(board, wanted(NEW))

    assert slot(board, "b") == wanted(NEW).slot
    assert "/b/program" not in board.files()[1]


def test_an_update_that_does_not_fit_is_refused_and_what_ran_stays(board):
    put_on(board, wanted(OLD))
    board.write("/journal", bytes((PICO_BLOCKS - used(board) - 20) * BLOCK_BYTES))
    with pytest.raises(FlashError, match="KiB free, the program needs"):
        put_on(board, wanted(NEW, size=FULL_BYTES))

    assert slot(board, "a") == wanted(OLD).slot
    assert looking.look(board, wanted(NEW)).status.programs == ("a",)


def test_an_update_fits_however_full_the_journal_is(board):
    put_on(board, wanted(OLD, size=FULL_BYTES))
    # As full as the journal makes it.
    left = PICO_BLOCKS - used(board) - segments.SPARE_BLOCKS
    board.write("/journal", bytes((left - 1) * BLOCK_BYTES))
    put_on(board, wanted(NEW, size=FULL_BYTES))

    assert slot(board, "b") == wanted(NEW, size=FULL_BYTES).slot


def test_what_came_to_the_board_otherwise_than_sent_is_not_switched_over_to(board, monkeypatch):
    put_on(board, wanted(OLD))
    write = board.write

    def damage(path, data):
        write(path, b"x" + data[1:] if path.endswith(slots.PROGRAM) else data)

    monkeypatch.setattr(board, "write", damage)
    with pytest.raises(FlashError, match="program.mpy is not on the board as it was sent"):
        put_on(board, wanted(NEW))
    files, _ = board.files()

    assert "/b/whole" not in files
    assert slots.TRIAL not in files


@pytest.mark.parametrize("file", [KEY, slots.WHOLE, "main.py"])
def test_what_no_slot_holds_is_read_back_too_before_anything_is_switched_over(
        board, monkeypatch, file):
    before = old_board.board(OLD)
    board.put(before)
    write = board.write

    def damage(path, data):
        write(path, b"x" + data[1:] if file in path else data)

    monkeypatch.setattr(board, "write", damage)
    with pytest.raises(FlashError, match=f"{file}.* is not on the board as it was sent; try"):
        put_on(board, wanted(NEW))
    files, _ = board.files()

    assert slots.TRIAL not in files
    assert slot(board, "a") == {path: data for path, data in old_board.tree(OLD).items()
                                if path != slots.WHOLE}
    assert file != "main.py" or files["/main.py"] == before["/main.py"]


# What is removed


def test_what_a_flash_that_was_cut_off_left_is_cleared_and_counts_as_removed(board):
    board.put(old_board.board(OLD))
    board.put({f"/b/{slots.GONE}/{path}": b"rest" for path in ("part.py", "boards/part.py")})
    held = slot(board, "b")
    done = put_on(board, wanted(NEW))

    assert slot(board, "b") == wanted(NEW).slot
    assert not [path for path in board.files()[1] if slots.GONE in path]
    assert done.removed == len(held)


def test_settings_that_trees_of_before_shared_go_with_the_last_tree_and_count_as_removed(board):
    put_on(board, wanted(NEW))
    shared = dict.fromkeys(rigfiles.OLD_PATHS, b"of before")
    board.put(shared)
    done = put_on(board, wanted(NEW))

    assert not shared.keys() & board.files()[0].keys()
    assert (done.removed, done.files, done.moved_pointer) == (len(shared), 0, False)
    assert done.changed


# The loader


@pytest.mark.parametrize("version", ["", "# older\n"])
def test_a_main_py_that_nobody_knows_is_refused(board, version):
    board.put({**old_board.board(OLD), "/main.py": version.encode() + b"import time\n"})
    before = board.files()
    with pytest.raises(FlashError, match="--loader"):
        put_on(board, wanted(NEW))

    assert board.files() == before
    put_on(board, looking.Wanted(**{**vars(wanted(NEW)), "renew_loader": True}))
    assert board.files()[0]["/main.py"] == wanted(NEW).loader["/main.py"]


def test_a_boot_py_that_nobody_knows_stays_and_is_told(board):
    board.put({**old_board.board(OLD), "/boot.py": b"# mine\n"})
    done = put_on(board, wanted(NEW))

    assert board.files()[0]["/boot.py"] == b"# mine\n"
    assert "/boot.py is another" in done.notes[0]


def test_the_loader_goes_before_the_slot_that_only_it_can_start(board, monkeypatch):
    board.put(old_board.board(OLD))
    places = []

    def noted(real, place):
        def step(*paths):
            places.append(paths[place])
            return real(*paths)
        return step

    for name, place in (("rename", 1), ("copy", 1), ("write", 0)):
        monkeypatch.setattr(board, name, noted(getattr(board, name), place))
    put_on(board, wanted(NEW))

    assert places.index("/main.py") < places.index("/b/program.mpy")
