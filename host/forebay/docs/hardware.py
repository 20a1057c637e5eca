"""Draws what hardware/*.toml says: pages, the wiring drawing, the board's pin table.

Needs a clone of the repository, not only the installed program:
`python -m forebay.docs.hardware` in a folder of the clone (add --check to
compare only). Owns which file comes from which table; the pages themselves are
drawn by the modules of forebay.docs.sheets.
"""

import pathlib
import sys
import tomllib
from collections.abc import Callable
from typing import Any

from forebay.docs import writing
from forebay.docs.sheets import circuits, commissioning, drawing, hazards, parts, pins

COMMAND = "python -m forebay.docs.hardware"
FOLDER = "hardware"
PIN_TABLE = "firmware/keeper/boards/pins.py"

# What is drawn, from which tables of hardware/, by what.
SHEETS: tuple[tuple[str, tuple[str, ...], Callable[..., str]], ...] = (
    (PIN_TABLE, ("pins",), pins.table),
    (f"{FOLDER}/pins.md", ("pins",), pins.page),
    (f"{FOLDER}/parts.md", ("parts",), parts.page),
    (f"{FOLDER}/wiring.svg", ("wiring", "pins"), drawing.svg),
    (f"{FOLDER}/wiring.md", ("wiring", "pins"), circuits.page),
    (f"{FOLDER}/hazards.md", ("hazards",), hazards.page),
    (f"{FOLDER}/commissioning.md", ("commissioning",), commissioning.page),
)


def main(arguments: list[str], start: pathlib.Path | None = None) -> int:
    """Writes every file, or with --check says which is not current. Returns the exit code.

    start: a folder of the repository, the working folder if None.
    """
    return writing.write(arguments, start, COMMAND, pathlib.Path(FOLDER, "pins.toml"), drawn)


def load(root: pathlib.Path, table: str) -> dict[str, Any]:
    """One table of hardware/, by its name without `.toml`. root: the repository."""
    path = root / FOLDER / f"{table}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def drawn(root: pathlib.Path) -> dict[str, str]:
    """Text of every file that is drawn, by its path in the repository."""
    return {
        name: draw(*(load(root, table) for table in tables)) for name, tables, draw in SHEETS
    }


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
