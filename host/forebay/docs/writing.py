"""What the generators of several files have in common: finding the clone, writing, --check."""

import pathlib
import sys
from collections.abc import Callable, Mapping
from typing import Any


def write(arguments: list[str], start: pathlib.Path | None, command: str, mark: pathlib.Path,
          drawn: Callable[[pathlib.Path], Mapping[Any, str]]) -> int:
    """Writes every file, or with --check says which is not current. Returns the exit code.

    start: a folder of the repository, the working folder if None. command: how a person
    calls this. mark: a file by which the repository is known, as a path inside it.
    drawn: the repository -> the text of each file by its path inside it.
    """
    if arguments not in ([], ["--check"]):
        sys.stderr.write(f"usage: {command} [--check]\n")
        return 2
    root = repository(start or pathlib.Path.cwd(), mark)
    if root is None:
        sys.stderr.write(f"{command}: not in a clone of the repository: change into it first\n")
        return 2
    stale = [name for name, text in drawn(root).items() if _settle(root / name, text, arguments)]
    for name in stale:
        sys.stderr.write(f"{name} is not current: run {command}\n")
    return 1 if stale else 0


def _settle(path: pathlib.Path, text: str, arguments: list[str]) -> bool:
    """Write the file, or tell whether it would change."""
    if arguments:
        return not path.exists() or path.read_text(encoding="utf-8") != text
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return False


def repository(start: pathlib.Path, mark: pathlib.Path) -> pathlib.Path | None:
    """The repository that a folder lies in, or None."""
    return next((folder for folder in (start, *start.parents) if (folder / mark).is_file()), None)
