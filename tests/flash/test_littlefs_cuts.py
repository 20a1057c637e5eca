"""The power fails at the steps of the flash chip itself, on real littlefs, in mid-flash.

The steps of a flash onto a board are logged; the chip is then taken to before
a step and into the middle of it, mounted anew, and asked what the loader would
run. Real: deploy, the prompt's scripts, littlefs with the board's geometry, the
loaders. Stands in: CPython executes the scripts (tests/flash/littlefs_board.py).
"""

import random

import pytest

from forebay.flash import firmware, looking, slots
from tests.flash import chosen, judging, old_board
from tests.flash.littlefs_board import LittleFsPrompt
from tests.flash.wanted import put_on, wanted
from tests.journal.flash import PICO_BLOCKS, Chip, apply, tear

MEND_EVERY = 16
POINTS_LEAST = 60  # of each flash
OLD, NEW, OTHER = 1, 2, 3

loader, loader_of_before = chosen.loader, chosen.loader_of_before


judge = judging.judge


class Cuts:
    """Cuts one flash at its steps. Attribute: count."""

    def __init__(self, judge, old, what):
        """old: what runs before, as of `content`; what: the flash."""
        self.looks = judging.Looks(judge, old, what.slot, {**what.board_files, **what.loader})
        self.judge, self.what = judge, what
        self.count = 0

    def run(self, board):
        """Flashes a board, then cuts that at each step and in it; returns what was done."""
        chip = board.fs.chip
        image = bytearray(chip.image)
        self.looks.begin(*board.files())
        chip.log = []
        done = put_on(board, self.what)
        chance = random.Random(5)
        for step in chip.log:
            self.look(image)
            torn = bytearray(image)
            tear(torn, step, chance)
            self.look(torn)
            apply(image, step)
        self.look(image)
        files, folders = board.files()
        assert self.judge.runs(files, folders) == self.what.slot
        assert self.count >= POINTS_LEAST
        return done

    def look(self, image):
        """Looks at a chip after a cut, and at times flashes it anew."""
        self.count += 1
        board = LittleFsPrompt(Chip(PICO_BLOCKS, image))
        self.looks.look(*board.files())
        if self.count % MEND_EVERY == 0:
            put_on(board, self.what)
            assert self.judge.runs(*board.files()) == self.what.slot


def flashed(pointer=b"a", trial=b""):
    """Returns a board that holds OLD in both slots."""
    board = LittleFsPrompt(Chip(PICO_BLOCKS), fresh=True)
    put_on(board, wanted(OLD))
    board.remove(slots.TRIAL)
    board.put({name: data for name, data in ((slots.POINTER, pointer), (slots.TRIAL, trial))
               if data})
    return board


def fill(board, slot, what):
    """Makes a slot hold what is wanted, whole, whatever it held."""
    whole = looking.whole_text(firmware.hashes(what.slot))
    board.put({f"/{slot}/{path}": data
               for path, data in {**what.slot, slots.WHOLE: whole}.items()})


def of_before(pointer="a"):
    """Returns a board as it was flashed before, with OLD in both slots."""
    board = LittleFsPrompt(Chip(PICO_BLOCKS), fresh=True)
    board.put(old_board.board(OLD, pointer=pointer))
    return board


def said(record_property, name, cuts):
    record_property("measured", f"{name} cut {cuts.count} times at the flash chip")


# Taken for good; on trial in either slot, as after a first flash; on trial over another.
@pytest.mark.parametrize(("pointer", "trial"), [(b"a", b""), (b"", b"a1"), (b"", b"b1"),
                                                (b"b", b"a2")])
def test_power_that_fails_in_an_update_leaves_one_slot_whole_and_the_old_one_to_go_back_to(
        judge, record_property, pointer, trial):
    board = flashed(pointer, trial)
    cuts = Cuts(judge, wanted(OLD).slot, wanted(NEW))
    done = cuts.run(board)
    said(record_property, "update", cuts)

    assert (done.files, done.copied) == (3, 0)


def test_a_program_on_trial_that_nothing_points_to_is_what_stays_whatever_the_other_slot_holds(
        judge, record_property):
    board = flashed(b"", b"b1")
    fill(board, "a", wanted(OTHER))
    cuts = Cuts(judge, wanted(OLD).slot, wanted(NEW))
    cuts.run(board)
    said(record_property, "update of what is on trial", cuts)
    files, _ = board.files()

    assert (files[slots.POINTER], files[slots.TRIAL]) == (b"b", b"a0")


def test_power_that_fails_while_only_settings_change_leaves_a_program_with_its_own(
        judge, record_property):
    board = flashed()
    # The other slot holds yet another program, so that this one is copied over it.
    put_on(board, wanted(OTHER))
    board.remove(slots.TRIAL)
    cuts = Cuts(judge, wanted(OLD).slot, wanted(OLD, settings_of=NEW))
    done = cuts.run(board)
    said(record_property, "change of settings", cuts)

    assert (done.files, done.copied) == (2, 1)


def test_power_that_fails_in_a_first_flash_leaves_the_prompt_or_the_program(
        judge, record_property):
    cuts = Cuts(judge, None, wanted(NEW))
    cuts.run(LittleFsPrompt(Chip(PICO_BLOCKS), fresh=True))
    said(record_property, "first flash", cuts)


@pytest.mark.parametrize("pointer", ["a", "b"])
def test_power_that_fails_while_a_board_of_before_is_brought_over_leaves_one_program_whole(
        judge, record_property, pointer):
    board = of_before(pointer)
    old = judging.content(board.files()[0], pointer)
    cuts = Cuts(judge, old, wanted(NEW))
    done = cuts.run(board)
    said(record_property, "board of before", cuts)
    files, _ = board.files()

    assert done.loader == ["/main.py"]
    assert files["/rig/settings"] == old_board.SETTINGS  # the tree that stays reads it
    assert not [path for path in files if path.startswith(f"/{done.slot}/keeper")]


def test_power_that_fails_as_the_last_tree_goes_leaves_one_program_whole(
        judge, record_property):
    board = of_before()
    put_on(board, wanted(OLD))
    board.replace(slots.POINTER, b"b")  # it was healthy for minutes
    board.remove(slots.TRIAL)
    cuts = Cuts(judge, wanted(OLD).slot, wanted(NEW))
    done = cuts.run(board)
    said(record_property, "last tree", cuts)
    files, folders = board.files()

    assert done.slot == "a"
    assert not [path for path in files if "keeper" in path or path in judging.SHARED]
    assert not [path for path in folders if "keeper" in path or slots.GONE in path]
