"""The board's own loader on the desktop: what it would run, told from a board's files."""

import importlib.util
import pathlib
import sys
import types
from collections.abc import Iterator, Mapping

import pytest

from tests.flash import old_board, rigs

# What the loader looks at, below a slot.
MARKS = ("whole", "program.mpy")


@pytest.fixture(scope="module")
def loader() -> Iterator[types.ModuleType]:
    """firmware/main.py as a module, on stand-ins for the chip's."""
    yield from _loaded((rigs.FIRMWARE / "main.py").read_bytes())


@pytest.fixture(scope="module")
def loader_of_before() -> Iterator[types.ModuleType]:
    """The loader of the boards that were flashed while slots held trees."""
    yield from _loaded(old_board.loader()["/main.py"])


def _loaded(source: bytes) -> Iterator[types.ModuleType]:
    memory = types.SimpleNamespace(word=0)

    class Words:
        def __getitem__(self, place):
            return memory.word

        def __setitem__(self, place, value):
            memory.word = value

    chip = types.ModuleType("machine")
    setattr(chip, "mem_backup", Words)  # noqa: B010 - no module of the desktop's has it
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "machine", chip)
        patch.setitem(sys.modules, "micropython", types.ModuleType("micropython"))
        spec = importlib.util.spec_from_loader("board_main", loader=None)
        assert spec
        module = importlib.util.module_from_spec(spec)
        exec(source, vars(module))
        yield module


def chosen(loader, root: pathlib.Path) -> str | None:
    """Returns the slot that the loader runs on the files below a folder, None if there is none."""
    folder = loader.Loader(str(root)).choose()
    return None if folder is None else folder.removeprefix(str(root)).strip("/")


def lay_out(root: pathlib.Path, files: Mapping[str, bytes], folders) -> None:
    """Puts into an empty folder what the loader looks at of a board's files and folders."""
    for folder in folders:
        if folder.endswith("/keeper"):
            (root / folder.strip("/")).mkdir(parents=True)
    for path, data in files.items():
        if path in ("/slot", "/slot_new") or path.split("/")[-1] in MARKS:
            place = root / path.strip("/")
            place.parent.mkdir(exist_ok=True)
            place.write_bytes(data)
