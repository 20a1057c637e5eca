"""Files that appear whole or not at all: written aside, then renamed."""

import os
import tempfile
from pathlib import Path

from forebay.errors import InputError

READABLE = 0o644


class ExportError(InputError):
    """What was asked for cannot be exported, or not to there."""


class Aside:
    """New files beside their places, all put there at the end; use it in a `with` block.

    force: whether files that are there may be replaced.
    """

    def __init__(self, force: bool):
        self.force = force
        self._waiting: list[tuple[Path, Path]] = []
        self._made: list[Path] = []  # folders, outermost first

    def new(self, place: Path) -> Path:
        """Return an empty file beside a place, to write to; ExportError if it is taken.

        Each place may be asked for once: ValueError.
        """
        if any(place == other for _, other in self._waiting):
            raise ValueError(f"{place} twice")
        if place.exists() and not self.force:
            raise ExportError(f"{place} is there: nothing is overwritten without --force")
        try:
            missing = [folder for folder in place.parents if not folder.exists()]
            place.parent.mkdir(parents=True, exist_ok=True)
            self._made += missing[::-1]
            # A name with a dot in front: readers of data sets pass it by.
            handle, name = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name}.")
            os.close(handle)
        except OSError as error:
            raise ExportError(f"cannot write {place}: {error.strerror or error}") from error
        self._waiting.append((Path(name), place))
        return Path(name)

    def put_in_place(self) -> list[Path]:
        """Rename every file to its place; return the places."""
        places = []
        while self._waiting:
            aside, place = self._waiting[0]
            if place.exists() and not self.force:
                raise ExportError(f"{place} has come to be there: nothing is overwritten")
            try:
                os.chmod(aside, READABLE)
                os.replace(aside, place)
            except OSError as error:
                raise ExportError(f"cannot write {place}: {error.strerror or error}") from error
            self._waiting.pop(0)
            places.append(place)
        return places

    def __enter__(self) -> "Aside":
        return self

    def __exit__(self, *_):
        for aside, _ in self._waiting:
            aside.unlink(missing_ok=True)
        for folder in self._made[::-1]:
            try:
                folder.rmdir()
            except OSError:
                pass  # something was put there
