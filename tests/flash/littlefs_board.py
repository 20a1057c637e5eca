"""A board at its prompt whose files are on real littlefs: it executes what the host sends.

Real: every script of forebay.flash.prompt and forebay.flash.scripts, littlefs
with the board's geometry. Stands in: CPython for the board's interpreter, and
what of it the scripts use (`os`, `open`, `sys.implementation`).
"""

import builtins
import types
from typing import Any

from littlefs import lfs

from forebay.flash import scripts
from forebay.flash.prompt import Prompt
from tests.journal import flash

FOLDER, FILE = 0x4000, 0x8000
BYTE_CODE = 0x306  # what the board's interpreter says of itself: format 6, 31-bit integers
LISTED_FOLDER = 2  # littlefs: LFS_TYPE_DIR


class Implementation(tuple):
    """`sys.implementation` of the board: a tuple with attributes."""

    _mpy = BYTE_CODE
    _build = "RPI_PICO"


class Files(flash.BoardFs):
    """`os` and `open` of the board, as far as a flash uses them."""

    def rename(self, path, target):
        with flash._as_on_the_board():
            self.lfs.rename(path, target)

    def rmdir(self, path):
        with flash._as_on_the_board():
            self.lfs.rmdir(path)

    def ilistdir(self, path):
        with flash._as_on_the_board():
            there = lfs.dir_open(self.lfs.fs, path)
            try:
                while found := lfs.dir_read(self.lfs.fs, there):
                    if found.name not in (".", ".."):
                        kind = FOLDER if found.type == LISTED_FOLDER else FILE
                        yield found.name, kind, 0, found.size
            finally:
                lfs.dir_close(self.lfs.fs, there)

    def open(self, path, mode):
        return File(super().open(path, mode))


class File:
    """A file that can be closed by hand as well."""

    def __init__(self, opened):
        self.opened = opened
        self.write, self.readinto, self.read = opened.write, opened.readinto, opened.read

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def close(self):
        self.opened.__exit__()


class LittleFsPrompt(Prompt):
    """The prompt of a board on a chip: the production class but for its line.

    Attribute: fs. Nothing is lost between commands, as nothing is in the board's
    memory that a restart would take.
    """

    def __init__(self, chip: flash.Chip, fresh: bool = False):
        self.port = "littlefs"
        self.executed = 0
        self.fs = Files(chip, fresh)
        self.lines: list[str] = []
        system = types.SimpleNamespace(implementation=Implementation(((), (1, 29, 0, ""))))
        # To collect all that a run of tests holds takes long, and no board holds that.
        memory = types.SimpleNamespace(collect=lambda: None)
        known: dict[str, Any] = {"os": self.fs, "sys": system, "gc": memory}

        def load(name, *rest):
            if name == "machine":
                raise ImportError(name)
            return known.get(name) or __import__(name, *rest)

        own = {**vars(builtins), "__import__": load, "open": self.fs.open,
               "print": lambda *words: self.lines.append(" ".join(map(str, words)))}
        self.space = {"__builtins__": own}
        self.run(scripts.PREPARE)

    def close(self) -> None:
        """There is no line to close."""

    def run(self, script: str) -> list[str]:
        self.executed += 1
        self.lines.clear()
        exec(script, self.space)
        return list(self.lines)

    def files(self) -> tuple[dict[str, bytes], list[str]]:
        """Returns all files [path -> contents] and folders [paths] of the board."""
        files: dict[str, bytes] = {}
        folders: list[str] = []
        waiting = [""]
        while waiting:
            top = waiting.pop()
            for name, kind, *_ in list(self.fs.ilistdir(top or "/")):
                path = f"{top}/{name}"
                if kind == FOLDER:
                    folders.append(path)
                    waiting.append(path)
                else:
                    with self.fs.open(path, "rb") as file:
                        files[path] = file.read()
        return files, folders

    def put(self, files: dict[str, bytes]) -> None:
        """Writes files, with their folders."""
        for path, data in files.items():
            parts = path.split("/")
            for count in range(2, len(parts)):
                self.make_folder("/".join(parts[:count]))
            self.write(path, data)
