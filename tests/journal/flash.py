"""Real littlefs over a simulated flash chip, under the unmodified writer.

littlefs is the library that the board's runtime contains, from the package
littlefs-python, with the geometry that the board gives it (MicroPython 1.29,
ports/rp2: blocks of 4096 bytes, cache of 4 pages of 256, lookahead of 32
bytes). The chip only clears bits until a block is erased, keeps a log of what
was done to it, and counts erases.
"""

import contextlib
import errno
from collections.abc import Callable, Iterator

from littlefs import LittleFS, UserContext, lfs
from littlefs.errors import LittleFSError

import keeper.journal.opening
import keeper.journal.records
import keeper.journal.segments

BLOCK_BYTES = 4096
PAGE_BYTES = 256
ERASED = b"\xff"
GEOMETRY = {
    "block_size": BLOCK_BYTES,
    "read_size": 32,
    "prog_size": PAGE_BYTES,
    "cache_size": 4 * PAGE_BYTES,
    "lookahead_size": 32,
    "block_cycles": 100,
}
# Storage of the boards, blocks: mp:ports/rp2/boards/*/mpconfigboard.cmake.
PICO_BLOCKS = 352
WIRELESS_BLOCKS = 212
ROOT = "/journal"
NAMES = "utf-8"

WITH_FILES = (keeper.journal.segments, keeper.journal.opening, keeper.journal.records)
Step = tuple[str, int, int, bytes]  # "erase" or "program", block, offset in it, data


class Chip(UserContext):
    """A flash chip. Attributes: image; log, a list of Steps or None; erases and reads, counts."""

    def __init__(self, blocks: int, image: bytes | bytearray | None = None):
        super().__init__(buffer=bytearray(image or ERASED * (blocks * BLOCK_BYTES)))
        self.image = self.buffer
        self.blocks = blocks
        self.log: list[Step] | None = None
        self.erases = [0] * blocks
        self.reads = 0

    def read(self, cfg, block, off, size):
        self.reads += 1
        start = block * BLOCK_BYTES + off
        return self.image[start : start + size]

    def prog(self, cfg, block, off, data):
        self.do(("program", block, off, bytes(data)))
        return 0

    def erase(self, cfg, block):
        self.erases[block] += 1
        self.do(("erase", block, 0, b""))
        return 0

    def do(self, step: Step) -> None:
        """Does one step and notes it."""
        if self.log is not None:
            self.log.append(step)
        apply(self.image, step)


def apply(image: bytearray, step: Step) -> None:
    """Does one step to an image."""
    kind, block, offset, data = step
    start = block * BLOCK_BYTES + offset
    if kind == "erase":
        image[start : start + BLOCK_BYTES] = ERASED * BLOCK_BYTES
        return
    end = start + len(data)
    there = image[start:end]
    if there != ERASED * len(data):
        both = int.from_bytes(there, "little") & int.from_bytes(data, "little")
        data = both.to_bytes(len(data), "little")
    image[start:end] = data


def tear(image: bytearray, step: Step, chance) -> None:
    """Does a part of one step: the power failed meanwhile.

    A program leaves whole pages, then a page with some of its bits cleared;
    an erase leaves its half done, or bits that are set here and there.
    """
    kind, block, offset, data = step
    start = block * BLOCK_BYTES + offset
    if kind == "program":
        done = chance.randrange(len(data))
        page = data[done : done // PAGE_BYTES * PAGE_BYTES + PAGE_BYTES]
        weak = bytes(byte | chance.getrandbits(8) for byte in page)
        apply(image, (kind, block, offset, data[:done] + (weak if chance.random() < 0.5 else b"")))
        return
    half = BLOCK_BYTES // 2
    if chance.random() < 0.5:
        image[start : start + half] = ERASED * half
        return
    both = int.from_bytes(image[start : start + BLOCK_BYTES], "little")
    both |= chance.getrandbits(8 * BLOCK_BYTES)
    image[start : start + BLOCK_BYTES] = both.to_bytes(BLOCK_BYTES, "little")


class BoardFs:
    """`open` and `os` of the board on a chip, as far as the journal uses them.

    Attributes: fault, called with (operation, path) before each, may raise
    OSError; calls, a list to which (operation, name, data, first step, last
    step) are appended, or None.
    """

    def __init__(self, chip: Chip, fresh: bool = False):
        """Mounts the chip; fresh: formats it first. Raises LittleFSError."""
        self.chip = chip
        geometry: dict = {**GEOMETRY, "block_count": chip.blocks}
        self.lfs = LittleFS(context=chip, mount=False, **geometry)
        if fresh:
            self.lfs.format()
        self.lfs.mount()
        self.fault: Callable[[str, str], object] = lambda operation, path: None
        self.calls: list[tuple[str, str, bytes, int, int]] | None = None

    @contextlib.contextmanager
    def attached(self) -> Iterator["BoardFs"]:
        """Puts itself under the journal's modules for a while."""
        before = keeper.journal.segments.os
        keeper.journal.segments.os = keeper.journal.opening.os = self  # type: ignore[assignment]
        for module in WITH_FILES:
            setattr(module, "open", self.open)  # noqa: B010 - a name that the module lacks
        try:
            yield self
        finally:
            keeper.journal.segments.os = keeper.journal.opening.os = before
            for module in WITH_FILES:
                delattr(module, "open")  # noqa: B043

    def steps(self) -> int:
        """Returns how long the chip's log is."""
        return len(self.chip.log or ())

    def note(self, operation: str, path: str, data: bytes, first: int) -> None:
        """Notes a call that has come to its end."""
        if self.calls is not None:
            self.calls.append((operation, path.rsplit("/", 1)[-1], data, first, self.steps()))

    def open(self, path, mode):
        self.fault("open", path)
        return _File(self, path, mode)

    def mkdir(self, path):
        with _as_on_the_board():
            self.lfs.mkdir(path)

    def ilistdir(self, path):
        self.fault("listdir", path)
        with _as_on_the_board():
            return [(found.name, found.type, 0, found.size) for found in self.lfs.scandir(path)]

    def stat(self, path):
        with _as_on_the_board():
            return (0,) * 6 + (self.lfs.stat(path).size,)

    def statvfs(self, path):
        free = self.chip.blocks - self.lfs.used_block_count
        return (BLOCK_BYTES, BLOCK_BYTES, self.chip.blocks, free, free)

    def remove(self, path):
        self.fault("remove", path)
        first = self.steps()
        with _as_on_the_board():
            self.lfs.remove(path)
        self.note("remove", path, b"", first)

    def files(self, folder: str = ROOT) -> dict[str, bytes]:
        """Returns name -> bytes of a folder, empty if there is none."""
        try:
            names = [row[0] for row in self.ilistdir(folder)]
        except OSError:
            return {}
        found = {}
        for name in names:
            with _File(self, f"{folder}/{name}", "rb") as file:
                found[name] = file.read()
        return found


class _File:
    """A file without a buffer above littlefs: flush is its sync, as on the board."""

    def __init__(self, fs: BoardFs, path: str, mode: str):
        self.fs, self.path, self.mode = fs, path, mode
        self.first = fs.steps()
        self.written = b""
        with _as_on_the_board():
            try:
                self.handle = lfs.file_open(fs.lfs.fs, path, mode, NAMES)
            except LittleFSError as error:
                if mode != "ab" or error.code != -errno.ENOENT:
                    raise
                self.handle = lfs.file_open(fs.lfs.fs, path, "wb", NAMES)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        with _as_on_the_board():
            lfs.file_close(self.fs.lfs.fs, self.handle)
        if self.mode != "rb":
            operation = "create" if self.mode == "wb" else "append"
            self.fs.note(operation, self.path, self.written, self.first)

    def write(self, data):
        self.fs.fault("write", self.path)
        self.written += bytes(data)
        with _as_on_the_board():
            return lfs.file_write(self.fs.lfs.fs, self.handle, bytes(data))

    def flush(self):
        self.fs.fault("flush", self.path)
        with _as_on_the_board():
            lfs.file_sync(self.fs.lfs.fs, self.handle)

    def seek(self, offset):
        with _as_on_the_board():
            return lfs.file_seek(self.fs.lfs.fs, self.handle, offset, 0)

    def read(self, count=None):
        if count is None:
            count = lfs.file_size(self.fs.lfs.fs, self.handle)
        with _as_on_the_board():
            return lfs.file_read(self.fs.lfs.fs, self.handle, count)

    def readinto(self, buffer):
        found = self.read(len(buffer))
        buffer[: len(found)] = found
        return len(found)


@contextlib.contextmanager
def _as_on_the_board() -> Iterator[None]:
    """Turns littlefs' errors into the OSError that the board raises."""
    try:
        yield
    except LittleFSError as error:
        raise OSError(-error.code, str(error)) from error
    except FileNotFoundError as error:
        raise OSError(errno.ENOENT, "absent") from error
    except FileExistsError as error:
        raise OSError(errno.EEXIST, "there") from error
