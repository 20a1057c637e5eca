"""The board's own loader on the desktop: what it would run, told from a board's files."""

import importlib.util
import pathlib
import sys
import types
from collections.abc import Iterator, Mapping

import pytest

from tests.flash import rigs


def board_loader() -> Iterator[types.ModuleType]:
    """Gives firmware/main.py as a module, on stand-ins for the chip's; a fixture's body."""
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
        path = rigs.FIRMWARE / "main.py"
        spec = importlib.util.spec_from_file_location("board_main", path)
        assert spec
        assert spec.loader
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        yield module


def chosen(loader, root: pathlib.Path) -> str | None:
    """Returns the slot that the loader runs on the files below a folder, None if there is none."""
    folder = loader.Loader(str(root)).choose()
    return None if folder is None else folder.removeprefix(str(root)).strip("/")


def chosen_of(loader, root: pathlib.Path, files: Mapping[str, bytes], folders) -> str | None:
    """Returns the same for files and folders by their path on the board; root: an empty folder."""
    for folder in folders:
        if folder.endswith("/keeper"):
            (root / folder.strip("/")).mkdir(parents=True)
    for name in ("slot", "slot_new"):
        if f"/{name}" in files:
            (root / name).write_bytes(files[f"/{name}"])
    return chosen(loader, root)
