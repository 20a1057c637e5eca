"""The power fails while the board's loader itself writes, on real littlefs, at each step of it.

Real: firmware/main.py byte for byte, littlefs with the board's geometry.
Stands in: CPython executes it; `open` and `os` of the chip are those of
tests/flash/littlefs_board.py.
"""

import random

import pytest

from forebay.flash import slots
from tests.flash import chosen
from tests.flash.littlefs_board import Files
from tests.journal.flash import Chip, apply, tear

BLOCKS = 16
FIRST_OF_THE_OTHER = 4  # quick restarts: the first start failed, and a round of three
TORN = 6  # forms of a step that was cut in its middle
loader = chosen.loader


class Text:
    """A file of text, as the loader opens it."""

    def __init__(self, opened):
        self.opened = opened

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.opened.close()

    def read(self):
        return self.opened.read().decode()

    def write(self, text):
        return self.opened.write(text.encode())


class Board:
    """The files of a board, and its loader on them. Attribute: chip."""

    def __init__(self, module, patch, image=None, files=()):
        self.module, self.patch = module, patch
        self.chip = Chip(BLOCKS, image)
        self.files = Files(self.chip, fresh=image is None)
        self.attach()
        for path, data in dict(files).items():
            folder = path.rpartition("/")[0]
            if folder and folder not in ("/" + name for name in self.names()):
                self.files.mkdir(folder)
            with self.files.open(path, "wb") as file:
                file.write(data)

    def attach(self):
        """Puts the chip's files under the loader."""
        self.patch.setattr(self.module, "os", self.files)
        self.patch.setattr(self.module, "open", lambda path, mode="r": Text(
            self.files.open(path, mode.rstrip("b") + "b")), raising=False)

    def names(self):
        return [name for name, *_ in list(self.files.ilistdir("/"))]

    def read(self, path):
        """Returns a small file as text, None if it is not there."""
        if path.strip("/") not in self.names():
            return None
        with self.files.open(path, "rb") as file:
            return file.read().decode()

    def start(self, restarts=0):
        """Returns (the loader of a start after so many quick ones, the slot that it runs)."""
        start = self.module.Loader()
        start.restarts = restarts
        folder = start.choose()
        return start, None if folder is None else folder.strip("/")


def both_slots(**more):
    files = {f"/{slot}/{name}": b"-" for slot in "ab" for name in (slots.PROGRAM, slots.WHOLE)}
    return {**files, **{f"/{name}": data for name, data in more.items()}}


def cuts(module, patch, files, work):
    """Gives a board after a cut before, in and after each step of some work on it."""
    board = Board(module, patch, files=files)
    image = bytearray(board.chip.image)
    board.chip.log = steps = []
    work(board)
    assert steps
    chance = random.Random(11)
    yield Board(module, patch, image)
    for step in steps:
        for _ in range(TORN):
            torn = bytearray(image)
            tear(torn, step, chance)
            yield Board(module, patch, torn)
        apply(image, step)
        yield Board(module, patch, image)


def confirm(board):
    start, _ = board.start()
    start.confirm()


@pytest.mark.parametrize(("pointer", "trial", "old", "new"), [
    ({"slot": b"a"}, b"b1", "a", "b"), ({"slot": b"b"}, b"a0", "b", "a"), ({}, b"b1", "a", "b")])
def test_power_that_fails_while_an_update_is_taken_for_good_loses_neither_it_nor_the_way_back(
        loader, monkeypatch, pointer, trial, old, new):
    pointers, trials = [], []
    for board in cuts(loader, monkeypatch, both_slots(**pointer, slot_new=trial), confirm):
        at = board.read(slots.POINTER)
        pointers.append(at)
        trials.append(board.read(slots.TRIAL))
        assert at in (pointer.get("slot", b"").decode() or None, new)
        runs = [board.start()[1] for _ in range(slots.TRIES + 2)]
        # It was healthy: whatever was cut, it is what starts next.
        assert runs[0] == new
        # If it fails from now on, it is left only while nothing but the trial names it.
        assert runs[-1] == (new if at == new else old)
    assert (pointers[0] == new, trials[0]) == (False, trial.decode())
    assert (pointers[-1], trials[-1]) == (new, None)


def test_a_start_without_an_update_writes_no_file_of_the_slots(loader, monkeypatch):
    board = Board(loader, monkeypatch, files=both_slots(slot=b"a"))
    board.chip.log = []
    confirm(board)

    assert board.chip.log == []


def test_power_that_fails_while_a_start_is_counted_never_gives_a_start_more(loader, monkeypatch):
    for tried in range(slots.TRIES):
        files = both_slots(slot=b"a", slot_new=b"b%d" % tried)
        for board in cuts(loader, monkeypatch, files, lambda board: board.start()):
            assert board.read(slots.TRIAL) in (f"b{tried}", f"b{tried + 1}")
            runs = [board.start()[1] for _ in range(slots.TRIES + 2)]
            assert runs[slots.TRIES - tried:] == ["a"] * (tried + 2)
            assert runs.count("b") in (slots.TRIES - tried, slots.TRIES - tried - 1)


def test_power_that_fails_while_an_update_is_given_up_leaves_the_program_before(
        loader, monkeypatch):
    files = both_slots(slot=b"a", slot_new=b"b%d" % slots.TRIES)
    for board in cuts(loader, monkeypatch, files, lambda board: board.start()):
        assert board.read(slots.TRIAL) in (f"b{slots.TRIES}", f"b{slots.TRIES + 1}")
        assert board.start()[1] == "a"
        # It was given up: it stands in for nobody.
        assert board.start(restarts=FIRST_OF_THE_OTHER)[1] == "a"


def test_two_bad_programs_that_take_turns_write_nothing(loader, monkeypatch):
    board = Board(loader, monkeypatch, files=both_slots(slot=b"a"))
    board.chip.log = []
    ran = [board.start(restarts)[1] for restarts in range(60)]

    assert {"a", "b"} == set(ran)
    assert board.chip.log == []


@pytest.mark.parametrize(("pointer", "old", "new"), [
    ({"slot": b"a"}, "a", "b"), ({"slot": b"b"}, "b", "a"), ({}, "a", "b")])
def test_power_that_fails_while_a_stand_in_is_taken_for_good_leaves_one_of_both(
        loader, monkeypatch, pointer, old, new):
    def confirm_stand_in(board):
        start, ran = board.start(restarts=FIRST_OF_THE_OTHER)
        assert ran == new
        start.confirm()

    found = []
    for board in cuts(loader, monkeypatch, both_slots(**pointer), confirm_stand_in):
        found.append(board.read(slots.POINTER) or "a")
        assert board.start()[1] == found[-1]
        # Wherever it was cut, the other one still stands in.
        assert board.start(restarts=FIRST_OF_THE_OTHER)[1] == {"a": "b", "b": "a"}[found[-1]]
    assert (found[0], found[-1]) == (old, new)
