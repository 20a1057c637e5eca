"""The keeper's own artefact, started on the fake chip: what is let go is missed by nobody."""

import builtins
import dis
import gc
import types
from collections.abc import Iterator
from typing import Any

import pytest

from forebay.flash import firmware
from keeper.boards import wiring as wr
from tests.drivers.bench import Rig
from tests.loop import whole

RUN_MS = 3000
ENTRY = "run"  # stands below the loop; what follows in it is the builder's to judge


@pytest.fixture(scope="module")
def artefact():
    return firmware.artefact(native=False)


@pytest.fixture
def folder(chip, tmp_path):
    """The files of a board in slot a, and a rig around it."""
    Rig()
    for name, data in (("settings", whole.settings_file()), ("wiring", wr.pack(wr.defaults())),
                       ("whole", f"{0:064}\n{1:064}\n".encode())):
        (tmp_path / "a").mkdir(exist_ok=True)
        (tmp_path / "a" / name).write_bytes(data)
    (tmp_path / "rig").mkdir()
    return tmp_path


def started(artefact, folder, look):
    """Starts the artefact in the folder, calls `look(module)` in the course of its loop."""
    module = types.ModuleType(firmware.PROGRAM)
    exec(compile(artefact.text, firmware.PROGRAM, "exec"), module.__dict__)
    board: Any = whole.Whole(str(folder), program=module)
    # Its classes stay as they are: the keeper is found by looking, not by standing in for it.
    board.program = types.SimpleNamespace(run=module.run)
    board.at = [(whole.CHIP.clock.ticks_ms() + RUN_MS // 2, lambda: look(module))]
    board.run(RUN_MS)


def living(module) -> Iterator[types.FunctionType]:
    """Yields the module's functions that anything still holds."""
    gc.collect()
    for one in gc.get_objects():
        if isinstance(one, types.FunctionType) and one.__globals__ is module.__dict__:
            if one.__qualname__ != ENTRY:
                yield one


def uttered(code) -> Iterator[tuple[str, str, bool]]:
    """Yields (kind of instruction, name, whether it is asked of `self`) of a function."""
    own = False
    for instruction in dis.get_instructions(code):
        if instruction.opname in ("LOAD_GLOBAL", "LOAD_NAME"):
            yield "name", instruction.argval, False
        elif instruction.opname in ("LOAD_ATTR", "LOAD_METHOD"):
            yield "word", instruction.argval, own
        own = instruction.opname == "LOAD_FAST" and instruction.argval == "self"
    for constant in code.co_consts:
        if isinstance(constant, types.CodeType):
            yield from uttered(constant)


def test_no_living_function_names_what_was_let_go(artefact, folder):
    """Looked at from outside: the objects that are there, not the sources."""
    missed, seen, scans = [], [], []
    # What a class above it is asked for is not its own.
    methods = {one.partition(".")[2] for one in artefact.let_go if "." in one} - {"__init__"}
    owners = {one for one in artefact.let_go if "." in one}

    def look(module):
        scans.extend(one.scans for one in gc.get_objects() if type(one).__name__ == "Keeper"
                     and type(one).scan.__globals__ is module.__dict__)
        for function in living(module):
            seen.append(function.__qualname__)
            owner = function.__qualname__.partition(".")[0]
            for kind, name, is_own in uttered(function.__code__):
                if kind == "name":
                    if name not in module.__dict__ and not hasattr(builtins, name):
                        missed.append((function.__qualname__, name))
                elif name in methods and (not is_own or f"{owner}.{name}" in owners):
                    missed.append((function.__qualname__, "." + name))

    started(artefact, folder, look)
    assert scans == [RUN_MS // 2 // 100]
    assert missed == []
    assert {"Loop._keep", "Scan.run", "Answers.answer", "carry_out"} <= set(seen)
    assert not {"open_journal", "unpack", "Recovery.read", "Keeper.__init__"} & set(seen)


def test_a_start_lets_go_a_third_of_its_pieces(artefact, folder):
    """Else the letting go has stopped to work, and a board's memory with it."""
    left = []
    started(artefact, folder, lambda module: left.append(len(list(living(module)))))
    everything = artefact.text.count("def ")

    assert len(artefact.let_go) > 200
    assert left[0] < everything * 2 // 3


def test_the_artefact_holds_what_a_thermistor_needs(artefact):
    """The import walker once left out what was imported with a dot before it."""
    assert ("keeper.physics.checks", "require") in artefact.names
