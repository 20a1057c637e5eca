"""Draws what hardware/ says: pages, drawings, the board's pin table.

Needs a clone of the repository, not only the installed program:
`python -m forebay.docs.hardware` in a folder of the clone (add --check to
compare only). Owns which file comes from which table; the sheets of a rig are
forebay.docs.sheets.rig's, here those of the first demo.
"""

import pathlib
import sys
from collections.abc import Callable
from typing import Any

from forebay.docs import writing
from forebay.docs.sheets import pins
from forebay.docs.sheets import rig as sheets
from forebay.hardware import tables
from forebay.hardware.build import Build
from forebay.rig import load as load_rig

COMMAND = "python -m forebay.docs.hardware"
FOLDER = "hardware"
PIN_TABLE = "firmware/keeper/boards/pins.py"

# What is the same for every rig: which file, from which table of hardware/, by what.
PAGES: tuple[tuple[str, str, Callable[..., str]], ...] = (
    (PIN_TABLE, "pins", pins.table),
    (f"{FOLDER}/pins.md", "pins", pins.page),
)


def main(arguments: list[str], start: pathlib.Path | None = None) -> int:
    """Writes every file, or with --check says which is not current. Returns the exit code.

    start: a folder of the repository, the working folder if None.
    """
    return writing.write(arguments, start, COMMAND, pathlib.Path(FOLDER, "pins.toml"), drawn)


def load(root: pathlib.Path, table: str) -> dict[str, Any]:
    """One table of hardware/, by its name without `.toml`. root: the repository."""
    return tables.load(table, root / FOLDER)


def drawn(root: pathlib.Path) -> dict[str, str]:
    """Text of every file that is drawn, by its path in the repository."""
    pages = {name: draw(load(root, table)) for name, table, draw in PAGES}
    demo = sheets.files(Build.of(load_rig()))
    return {**pages, **{f"{FOLDER}/{name}": body for name, body in demo.items()}}


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
