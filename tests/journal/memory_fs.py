"""A folder in memory that keeps a log of what reached it, for power cuts and errors.

Like littlefs, data counts from flush or close on; unlike it, a cut may leave
any prefix of the data that was being written, which is the harder case.
"""

import errno
import io
from collections.abc import Callable

import pytest

import keeper.journal.opening
import keeper.journal.records
import keeper.journal.segments

ROOT = "/j"


class MemoryFs:
    """Stands in for `open` and `os` in the journal's modules.

    Attributes: files, name -> bytes; log, what was done in order: ("append",
    name, data), ("create", name, data), ("remove", name, b""); fault,
    called with (operation, name) before each, may raise OSError.
    """

    def __init__(self, files: dict[str, bytes] | None = None):
        self.files = dict(files or {})
        self.log: list[tuple[str, str, bytes]] = []
        self.fault: Callable[[str, str], object] = lambda operation, name: None

    def attach(self, patch: pytest.MonkeyPatch) -> None:
        """Puts itself under the journal."""
        for module in (keeper.journal.segments, keeper.journal.opening, keeper.journal.records):
            patch.setattr(module, "open", self.open, raising=False)
        for module in (keeper.journal.segments, keeper.journal.opening):
            patch.setattr(module, "os", self)

    @staticmethod
    def _name(path: str) -> str:
        assert path.startswith(ROOT + "/")
        return path[len(ROOT) + 1 :]

    def open(self, path, mode):
        name = self._name(path)
        self.fault("open", name)
        if mode == "rb":
            if name not in self.files:
                raise OSError(errno.ENOENT, "absent")
            return io.BytesIO(self.files[name])
        return _Written(self, name, {"ab": "append", "wb": "create"}[mode])

    def commit(self, operation: str, name: str, data: bytes) -> None:
        self.log.append((operation, name, data))
        apply(self.files, operation, name, data)

    def mkdir(self, path):
        assert path == ROOT

    def listdir(self, path):
        assert path == ROOT
        self.fault("listdir", "")
        return list(self.files)

    def stat(self, path):
        name = self._name(path)
        if name not in self.files:
            raise OSError(errno.ENOENT, "absent")
        return (0,) * 6 + (len(self.files[name]),)

    def remove(self, path):
        name = self._name(path)
        self.fault("remove", name)
        if name not in self.files:
            raise OSError(errno.ENOENT, "absent")
        self.commit("remove", name, b"")


def apply(files: dict[str, bytes], operation: str, name: str, data: bytes) -> None:
    """Does one operation of a log."""
    if operation == "remove":
        del files[name]
    elif operation == "create":
        files[name] = data
    else:
        files[name] = files.get(name, b"") + data


class _Written:
    def __init__(self, fs: MemoryFs, name: str, operation: str):
        self.fs, self.name, self.operation = fs, name, operation
        self.waiting = b""

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.flush()

    def write(self, data):
        self.fs.fault("write", self.name)
        self.waiting += bytes(data)

    def flush(self):
        if self.waiting:
            data, self.waiting = self.waiting, b""
            self.fs.fault("flush", self.name)
            self.fs.commit(self.operation, self.name, data)
            self.operation = "append"


def states(log, files=None):
    """Yields (index of the operation, bytes of it, files) for every cut of a log.

    A creation may also be cut between the name and the first byte.
    """
    files = dict(files or {})
    for index, (operation, name, data) in enumerate(log):
        yield index, 0, dict(files)
        start = files.get(name, b"") if operation == "append" else b""
        if operation == "create":
            yield index, 0, {**files, name: b""}
        for count in range(1, len(data)):
            yield index, count, {**files, name: start + data[:count]}
        apply(files, operation, name, data)
    yield len(log), 0, files
