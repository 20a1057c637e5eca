"""A board as it was flashed while slots held trees: its files, small but of that kind.

The loader is that of commit b5f69f7, byte for byte; the tree is a small one.
"""

import hashlib
import pathlib

BEFORE = pathlib.Path(__file__).resolve().parent / "before"
SETTINGS, WIRING = b"settings of before", b"wiring of before"
PARTS = 6
START = """
from keeper import version
from keeper import {parts}
def run(loader):
    with open('/seen', 'w') as file:
        file.write(repr([version.VERSION]))
"""


def loader() -> dict[str, bytes]:
    """Returns the loader of before: path on the board -> bytes."""
    return {f"/{name}.py": (BEFORE / f"{name}.txt").read_bytes() for name in ("boot", "main")}


def tree(version: int) -> dict[str, bytes]:
    """Returns a program of before: path inside the slot -> bytes, `whole` with them."""
    names = [f"part{number}" for number in range(PARTS)]
    modules = {name: f"TEXT = {name * 150!r}\n" for name in names}
    modules |= {"__init__": "", "boards/__init__": "", "version": f"VERSION = {version}\n",
                "boards/start": START.format(parts=", ".join(names))}
    files = {f"keeper/{name}.py": source.encode() for name, source in modules.items()}
    lines = "".join(f"{path} {hashlib.sha256(files[path]).hexdigest()}\n"
                    for path in sorted(files))
    return {**files, "whole": hashlib.sha256(lines.encode()).hexdigest().encode()}


def board(version: int, slots: str = "ab", pointer: str = "a") -> dict[str, bytes]:
    """Returns the files of a board whose slots hold the same program of before."""
    files = {f"/{slot}/{path}": data for slot in slots for path, data in tree(version).items()}
    return {**loader(), **files, "/rig/settings": SETTINGS, "/rig/wiring": WIRING,
            "/slot": pointer.encode()}
