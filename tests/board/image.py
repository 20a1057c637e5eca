"""The flash of an emulated board: interpreter, file system, and where its parts lie.

Geometry of the Raspberry Pi Pico's build of MicroPython 1.29: 2 MiB of flash,
the last 1408 KiB of it the file system (ports/rp2/boards/RPI_PICO and
ports/rp2/modules/_boot.py; cache and lookahead as in extmod/vfs_lfsx.c).
"""

import pathlib
import posixpath
import struct
from collections.abc import Iterator, Mapping
from typing import Any

from littlefs import LittleFS
from littlefs.context import UserContext

FLASH_BYTES = 2 << 20
FLASH_BASE = 0x10000000  # where the processor sees the flash, RP2040 data sheet section 2.2
STORAGE_BYTES = 1408 << 10
STORAGE_OFFSET = FLASH_BYTES - STORAGE_BYTES
BLOCK_BYTES = 4096
GEOMETRY: dict[str, Any] = {
    "block_size": BLOCK_BYTES,
    "block_count": STORAGE_BYTES // BLOCK_BYTES,
    "read_size": 32,
    "prog_size": 256,
    "cache_size": 1024,
    "lookahead_size": 32,
    "block_cycles": 100,
}
ERASED = b"\xff"
# Serial NOR flash of 16 Mbit, erase of a sector and program of a page: typical
# 45 ms and 0.4 ms, worst 400 ms and 3 ms (common data sheet figures, from memory).
SECTOR_MS = 45.0
PAGE_MS = 0.4

# UF2 format, github.com/microsoft/uf2: 512-byte blocks, a 32-byte header.
UF2_BLOCK = 512
UF2_MAGIC = (0x0A324655, 0x9E5D5157)
UF2_HEADER = struct.Struct("<8I")

# System V ABI, ELF-32: file header, program header, section header, symbol.
ELF_HEADER = struct.Struct("<16sHHIIIIIHHHHHH")
PROGRAM_HEADER = struct.Struct("<8I")
SECTION_HEADER = struct.Struct("<10I")
SYMBOL = struct.Struct("<IIIBBH")
LOADED, SYMBOL_TABLE = 1, 2


class ImageError(ValueError):
    """A file is not what it should be; the text says which and why."""


def interpreter(path: pathlib.Path) -> bytes:
    """Returns the flash contents from its start, of a .bin or .uf2 file."""
    data = path.read_bytes()
    if struct.unpack_from("<2I", data.ljust(8, ERASED)) != UF2_MAGIC:
        return data
    flash = bytearray(ERASED * FLASH_BYTES)
    for at in range(0, len(data), UF2_BLOCK):
        _, _, _, address, size, *_ = UF2_HEADER.unpack_from(data, at)
        start = address - FLASH_BASE
        body = data[at + UF2_HEADER.size : at + UF2_HEADER.size + size]
        if 0 <= start <= FLASH_BYTES - size:
            flash[start : start + size] = body
    return bytes(flash).rstrip(ERASED)


class Elf:
    """Symbols of the interpreter, and where its code lies in flash.

    Attribute: symbols (name -> address).
    """

    def __init__(self, path: pathlib.Path):
        self.data = path.read_bytes()
        if self.data[:5] != b"\x7fELF\x01":
            raise ImageError(f"{path} is no 32-bit ELF file")
        head = ELF_HEADER.unpack_from(self.data)
        self.segments = self._headers(PROGRAM_HEADER, head[5], head[9], head[10])
        self.sections = self._headers(SECTION_HEADER, head[6], head[11], head[12])
        self.symbols = dict(self._symbols())

    def _headers(self, form: struct.Struct, at: int, size: int, count: int) -> list[tuple]:
        return [form.unpack_from(self.data, at + size * index) for index in range(count)]

    def _symbols(self) -> Iterator[tuple[str, int]]:
        for section in self.sections:
            _, kind, _, _, at, size, link, *_ = section
            if kind != SYMBOL_TABLE:
                continue
            names_at = self.sections[link][4]
            for place in range(at, at + size, SYMBOL.size):
                name, value, *_ = SYMBOL.unpack_from(self.data, place)
                yield self._text(names_at + name), value

    def _text(self, at: int) -> str:
        return self.data[at : self.data.index(b"\0", at)].decode("ascii", "replace")

    def function(self, name: str) -> dict[str, int]:
        """Returns a function's address and its offset in flash, from where it is loaded.

        Raises ImageError if the interpreter has no such function.
        """
        if name not in self.symbols:
            raise ImageError(f"no function {name} in the interpreter's ELF file")
        address = self.symbols[name] & ~1  # the lowest bit says Thumb, it is no address
        for kind, _, virtual, physical, size, *_ in self.segments:
            if kind == LOADED and virtual <= address < virtual + size:
                return {"address": address, "flash": address - virtual + physical - FLASH_BASE}
        raise ImageError(f"{name} is not loaded from flash")


def compose(program: bytes, files: Mapping[str, bytes]) -> bytes:
    """Returns a whole flash: the interpreter, and a file system with the given files.

    files: absolute path on the board -> contents.
    """
    if len(program) > STORAGE_OFFSET:
        raise ImageError(f"interpreter of {len(program)} bytes: at most {STORAGE_OFFSET} fit")
    flash = bytearray(program.ljust(FLASH_BYTES, ERASED))
    flash[STORAGE_OFFSET:] = storage(files)
    return bytes(flash)


def storage(files: Mapping[str, bytes]) -> bytes:
    """Returns a file system region with the given files."""
    context = UserContext(STORAGE_BYTES)
    system = LittleFS(context=context, mount=False, **GEOMETRY)
    system.format()
    system.mount()
    for path, contents in files.items():
        folder = posixpath.dirname(path)
        if folder != "/":
            system.makedirs(folder, exist_ok=True)
        with system.open(path, "wb") as file:
            file.write(contents)
    system.unmount()
    return bytes(context.buffer)


def read_storage(flash: bytes) -> dict[str, bytes]:
    """Returns every file of a flash's file system: absolute path -> contents.

    Mounts it as it is and never formats it: a file system that does not mount
    raises littlefs.LittleFSError.
    """
    context = UserContext(STORAGE_BYTES)
    context.buffer[:] = flash[STORAGE_OFFSET:]
    system = LittleFS(context=context, mount=False, **GEOMETRY)
    system.mount()
    found = {}
    for folder, _, names in system.walk("/"):
        for name in names:
            path = posixpath.join(folder, name)
            with system.open(path, "rb") as file:
                found[path] = file.read()
    return found


def tree(folder: pathlib.Path) -> dict[str, bytes]:
    """Returns every Python file under a folder by its path on the board."""
    return {
        "/" + path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*.py"))
    }
