"""Putting a rig's sheets into a folder, never over anything that is not its own."""

import re
from collections.abc import Mapping
from pathlib import Path
from xml.sax.saxutils import escape

from forebay.errors import InputError

MOST_SHOWN = 3


class SheetError(InputError):
    """A folder that cannot take the sheets: which, and what to do."""


def write(files: Mapping[str, str], name: str, folder: Path) -> None:
    """Write sheets by their names into a folder, which is made; name: of the rig.

    Pages of its drawings that are no more are taken away.
    Raises SheetError if a file is there that is no sheet of this rig, before any is written.
    """
    foreign = [file for file in files if _is_foreign(folder / file, name)]
    if foreign:
        shown = ", ".join(foreign[:MOST_SHOWN])
        raise SheetError(f"{folder}: {shown} {'are' if len(foreign) > 1 else 'is'} there and no"
                         f" sheet of {name!r}: nothing is overwritten, name another --out")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file, body in files.items():
            (folder / file).write_text(body, encoding="utf-8")
        # A page that a drawing no longer has would be built from all the same.
        for path in folder.glob("*-[0-9].svg"):
            if path.name not in files and not _is_foreign(path, name):
                path.unlink()
    except OSError as error:
        raise SheetError(f"cannot write {folder}: {error.strerror or error}") from error


def _is_foreign(path: Path, name: str) -> bool:
    """Whether a file is there whose head does not name the rig."""
    try:
        head = path.read_text(encoding="utf-8")[:1000]
    except FileNotFoundError:
        return False
    except (OSError, UnicodeDecodeError):
        return True
    # What follows a name in a title, so that no name is taken for one that begins with it.
    return not any(re.search(rf": {re.escape(one)}(, \d+ of \d+)?[\n\"<]", head)
                   for one in (name, escape(name)))
