"""Files that appear whole or not at all: written in a folder aside, then renamed.

That folder is held by a lock while its writer lives.  A writer that was killed
leaves it without one; the next export to the same place removes it.
"""

import os
import shutil
import tempfile
from pathlib import Path

from forebay.errors import InputError

try:
    import fcntl
except ImportError:
    # Without such locks a file that is open cannot be removed, which tells as much.
    fcntl = None

READABLE = 0o644
# With a dot in front: readers of data sets pass it by.
PREFIX = ".forebay-export-"
HELD = "held"


class ExportError(InputError):
    """What was asked for cannot be exported, or not to there."""


class Aside:
    """New files, all put in their places at the end; use it in a `with` block.

    base: folder in or below which the places lie.  force: whether files that
    are there may be replaced.
    """

    def __init__(self, base: Path, force: bool):
        self.base = base
        self.force = force
        self._folder: Path | None = None  # of the files aside
        self._lock = -1                   # its open lock
        self._waiting: list[tuple[Path, Path]] = []
        self._made: list[Path] = []       # folders, outermost first

    def new(self, place: Path) -> Path:
        """Return the path of a new file to write to, for a place; ExportError if it is taken.

        Each place may be asked for once: ValueError.
        """
        if any(place == other for _, other in self._waiting):
            raise ValueError(f"{place} twice")
        if place.exists() and not self.force:
            raise ExportError(f"{place} is there: nothing is overwritten without --force")
        try:
            folder = self._folder or self._begin()
        except OSError as error:
            raise ExportError(f"cannot write {place}: {error.strerror or error}") from error
        self._waiting.append((folder / str(len(self._waiting)), place))
        return self._waiting[-1][0]

    def _begin(self):
        """Make the folder aside, and remove those that killed writers left."""
        self._make(self.base)
        # Who makes one holds the base: no other takes it for left before its lock is on.
        with _Lock(self.base):
            for old in self.base.glob(PREFIX + "*"):
                if _is_left(old):
                    shutil.rmtree(old, ignore_errors=True)
            self._folder = Path(tempfile.mkdtemp(dir=self.base, prefix=PREFIX))
            self._lock = _hold(self._folder)
        return self._folder

    def _make(self, folder):
        missing = [one for one in (folder, *folder.parents) if not one.exists()]
        folder.mkdir(parents=True, exist_ok=True)
        self._made += missing[::-1]

    def put_in_place(self) -> list[Path]:
        """Rename every file to its place; return the places."""
        places = []
        for aside, place in self._waiting:
            if place.exists() and not self.force:
                raise ExportError(f"{place} has come to be there: nothing is overwritten")
            try:
                self._make(place.parent)
                os.chmod(aside, READABLE)
                os.replace(aside, place)
            except OSError as error:
                raise ExportError(f"cannot write {place}: {error.strerror or error}") from error
            places.append(place)
        return places

    def __enter__(self) -> "Aside":
        return self

    def __exit__(self, *_):
        if self._lock >= 0:
            os.close(self._lock)
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)
        for folder in self._made[::-1]:
            try:
                folder.rmdir()
            except OSError:
                pass  # something was put there


class _Lock:
    """Holds a folder against other exports, where the system has such locks."""

    def __init__(self, folder: Path):
        self.folder = folder
        self.handle = -1

    def __enter__(self):
        if fcntl is not None:
            self.handle = os.open(self.folder, os.O_RDONLY)
            fcntl.flock(self.handle, fcntl.LOCK_EX)

    def __exit__(self, *_):
        if self.handle >= 0:
            os.close(self.handle)


def _hold(folder):
    """Return the open lock of a folder aside; OSError if its writer lives."""
    handle = os.open(folder / HELD, os.O_CREAT | os.O_RDWR)
    try:
        if fcntl is not None:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        raise
    return handle


def _is_left(folder):
    """Return whether the writer of a folder aside is no more."""
    try:
        os.close(_hold(folder))
        os.unlink(folder / HELD)
    except OSError:
        return False
    return True
