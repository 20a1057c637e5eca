"""Puts the fake chip where firmware looks for the real one; the tests' way to it.

CPython has none of these modules, so nothing real is covered up.  What a test
reads or sets is typed loosely: the published stubs describe the real chip.
"""

import importlib.util
import pathlib
import sys
import types
from typing import Any

HERE = pathlib.Path(__file__).resolve().parent / "fake_machine"
FIRMWARE = HERE.parent.parent.parent / "firmware"
# In the order in which they need each other.
NAMES = ("machine", "buses", "devices", "onewire", "rp2", "micropython")
# The loader's files belong to no package: on a board they lie at the top.
LOADER = ("boot", "main")


def install() -> None:
    """Loads the fake modules and the loader's files, once."""
    for name in NAMES:
        _load(name, HERE / f"{name}.py")
    for name in LOADER:
        _load(name, FIRMWARE / f"{name}.py")


def _load(name: str, path: pathlib.Path) -> None:
    if getattr(sys.modules.get(name), "__file__", "") == str(path):
        return
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)


def module(name: str) -> Any:
    """Returns a fake module."""
    found = sys.modules[name]
    assert isinstance(found, types.ModuleType)
    return found


def sources() -> dict[str, str]:
    """Returns the fake modules for the board's own interpreter: board path -> source."""
    own = [name for name in NAMES if name != "micropython"]  # it has that one
    return {f"/{name}.py": (HERE / f"{name}.py").read_text() for name in own}
