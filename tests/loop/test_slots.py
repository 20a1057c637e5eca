"""Two slots for the program: the pointer, an update on trial, and the way back."""

import main
import pytest
from main import Loader

from keeper.boards.pins import P_GPIO, outputs
from tests.drivers import fake
from tests.loop.loading import crash, start, text


def chosen(board):
    """The folder that the next start takes, below the root."""
    loader = Loader(board.root)
    folder = loader.choose()
    return None if folder is None else folder.removeprefix(board.root).strip("/")


@pytest.mark.parametrize("slot", ["a", "b"])
def test_the_pointer_names_the_slot(board, slot):
    (board.path / "slot").write_text(slot)
    assert chosen(board) == slot
    start(board)
    assert main.sys.path[0] == f"{board.root}/{slot}"


def test_without_a_pointer_the_program_beside_the_loader_is_taken(board):
    (board.path / "keeper").mkdir()
    assert chosen(board) == ""


@pytest.mark.parametrize("pointer", ["c", "", "/", "aa", "\x00", "b\nrubbish"])
def test_a_pointer_that_makes_no_sense_leads_to_a_program_that_is_there(board, pointer):
    (board.path / "slot").write_text(pointer)
    assert chosen(board) == "a"


def test_a_slot_without_a_program_leads_to_the_other(board):
    (board.path / "slot").write_text("a")
    (board.path / "a" / "keeper").rmdir()
    assert chosen(board) == "b"


def on_trial(board):
    (board.path / "slot").write_text("a")
    (board.path / "slot_new").write_text("b0")


def test_an_update_is_tried_and_taken_for_good_once_healthy(board):
    on_trial(board)
    board.program = lambda loader: loader.confirm()
    start(board)
    assert main.sys.path[0].endswith("/b")
    assert (text(board, "slot"), text(board, "slot_new")) == ("b", None)


def test_an_update_that_never_gets_healthy_is_given_up(board):
    on_trial(board)
    board.program = crash
    taken = []
    for _ in range(main.TRIES + 2):
        loader = start(board)
        taken.append((main.sys.path[0][-1], loader.restarts))
    assert [slot for slot, _ in taken] == ["b"] * main.TRIES + ["a", "a"]
    # The old program does not start safe because of the new one's restarts.
    assert taken[main.TRIES] == ("a", 0)
    assert (text(board, "slot"), text(board, "slot_new")) == ("a", None)


def test_an_update_without_a_program_is_given_up_as_well(board):
    on_trial(board)
    (board.path / "b" / "keeper").rmdir()
    assert [chosen(board) for _ in range(main.TRIES + 1)] == ["a"] * (main.TRIES + 1)
    assert text(board, "slot_new") is None


@pytest.mark.parametrize("trial", ["", "c0", "bx", "b", "b00", "\x00\x00"])
def test_a_damaged_note_of_an_update_changes_nothing(board, trial):
    (board.path / "slot").write_text("a")
    (board.path / "slot_new").write_text(trial)
    assert chosen(board) == "a"


def test_a_cut_between_pointer_and_note_leaves_the_update_confirmed(board):
    on_trial(board)
    (board.path / "slot").write_text("b")  # the pointer was moved, the note still there
    assert chosen(board) == "b"


ON_BOARD = """
import micropython
micropython_kept = []
if not hasattr(micropython, "kbd_intr"):
    class _Micropython:
        @staticmethod
        def kbd_intr(character):
            micropython_kept.append(character)
    import sys
    sys.modules["micropython"] = _Micropython
import os
import machine
import boot
import main

resets = []
for turn in range(5):
    main.main("")
    resets.append(machine.CHIP.resets)
with open("/last_error") as file:
    print(file.read())
print(resets, sorted(boot.OUTPUTS), [machine.CHIP.level(gpio) for gpio in boot.OUTPUTS])
print(open("/slot").read(), "slot_new" in os.listdir("/"))
with open("/stay_out", "w") as file:
    file.write("1")
main.main("")
print(machine.CHIP.resets, "stay_out" in os.listdir("/"))
"""

BAD_PROGRAM = """
from machine import Pin


def run(loader):
    Pin(16, Pin.OUT, value=1)
    raise ValueError("slot %s, restarts %d" % (NAME, loader.restarts))
"""


def test_the_loader_works_on_the_boards_interpreter(run_micropython):
    """An update that fails is tried three times, the old program then; each ends in a reset."""
    files = dict(fake.sources())
    # Button open: nothing drives its line, and the pull-up lifts it.
    for slot in ("a", "b"):
        for name in ("", "boards/"):
            files[f"/{slot}/keeper/{name}__init__.py"] = ""
        files[f"/{slot}/keeper/boards/start.py"] = f"NAME = {slot!r}\n{BAD_PROGRAM}"
    files["/slot"] = "a"
    files["/slot_new"] = "b0"
    # One import of a program a process: the module that was imported first stays.
    lines = run_micropython(ON_BOARD, files=files).lines
    assert lines[0].startswith("ValueError: slot b, restarts")
    assert lines[1] == f"[1, 2, 3, 4, 5] {sorted(row[P_GPIO] for row in outputs())} {[0] * 7}"
    assert lines[2] == "a False"
    assert lines[3] == "5 False"


def test_a_pointer_that_cannot_be_written_leaves_the_update_on_trial(board, monkeypatch):
    on_trial(board)
    real = open

    def full(path, mode="r"):
        if mode != "r" and path.endswith("slot.tmp"):
            raise OSError(28)
        return real(path, mode)

    monkeypatch.setattr(main, "open", full, raising=False)
    board.program = lambda loader: loader.confirm()
    assert start(board).candidate == "b"
    assert text(board, "last_error") is None
    assert (text(board, "slot"), text(board, "slot_new")) == ("a", "b1")


def test_a_pointer_that_was_written_in_part_is_not_taken(board, monkeypatch):
    on_trial(board)
    monkeypatch.setattr(Loader, "_write", lambda self, name, content: None)
    (board.path / "slot.tmp").write_text("")
    loader = Loader(board.root)
    loader.candidate = "b"
    loader.confirm()
    assert text(board, "slot") == "a"
