"""A board without an interpreter: its boot volume, and the image that goes onto it.

The image is the user's; it is checked for what a wrong one would do.  UF2:
github.com/microsoft/uf2, blocks of 512 bytes; family numbers from its list.
"""

import os
import shutil
import struct
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from forebay.flash.errors import FlashError

MARKER = "INFO_UF2.TXT"
BLOCK_BYTES = 512
HEAD = struct.Struct("<8I")
MAGIC_BEGIN = (0x0A324655, 0x9E5D5157)
MAGIC_END = 0x0AB16F30
NOT_FOR_FLASH, HAS_FAMILY = 0x1, 0x2000  # flags
PAYLOAD_MOST = 476
# Family -> board as INFO_UF2.TXT names it; the last one goes to any board and is no program.
FAMILIES = {0xE48BFF56: "RPI-RP2", 0xE48BFF59: "RP2350", 0xE48BFF5A: "RP2350"}
ABSOLUTE = 0xE48BFF57
FLASH_BEGIN = 0x10000000
FLASH_MOST = 16 << 20  # bytes that the chips can address
# An interpreter is 300 kB and more; below it is something else.  A guess.
LEAST_BYTES = 100000


@dataclass(frozen=True)
class Volume:
    """The boot volume of a board: folder, and the board's name."""

    folder: Path
    board: str


def volumes(roots: Iterable[Path] | None = None) -> list[Volume]:
    """Return the boot volumes that are mounted; roots: folders to look at, None: the usual."""
    found = []
    for root in _usual() if roots is None else roots:
        try:
            text = (root / MARKER).read_text(encoding="ascii", errors="replace")
        except OSError:
            continue
        names = [line.partition(":")[2].strip() for line in text.splitlines()
                 if line.startswith("Board-ID:")]
        found.append(Volume(root, names[0] if names else "unknown"))
    return found


def _usual():
    if sys.platform == "win32":
        return [Path(f"{letter}:/") for letter in "DEFGHIJKLMNOPQRSTUVWXYZ"]
    if sys.platform == "darwin":
        return _below("/Volumes")
    user = os.environ.get("USER", "")
    return [*_below(f"/media/{user}"), *_below("/media"), *_below(f"/run/media/{user}"),
            *_below("/mnt")]


def _below(folder):
    try:
        return [path for path in sorted(Path(folder).iterdir()) if path.is_dir()]
    except OSError:
        return []


def check_image(path: Path | str) -> str:
    """Return the board [as INFO_UF2.TXT names it] that an interpreter image is for.

    Raises FlashError if it is no UF2 file, damaged, for another chip, or not
    a program for the flash.
    """
    try:
        data = Path(path).read_bytes()
    except OSError as error:
        raise FlashError(f"cannot read {path}: {error.strerror or error}") from error
    if len(data) < BLOCK_BYTES or struct.unpack_from("<2I", data) != MAGIC_BEGIN:
        raise FlashError(f"{path} is no UF2 image: take the file whose name ends in .uf2")
    if len(data) % BLOCK_BYTES:
        raise FlashError(f"{path} is cut short: {len(data)} bytes are no whole number of"
                         f" blocks of {BLOCK_BYTES}; fetch it again")
    families = set()
    size = 0
    for at in range(0, len(data), BLOCK_BYTES):
        family, count = _block(path, data, at)
        if family is not None:
            families.add(family)
            size += count
    boards = {FAMILIES.get(family, "") for family in families}
    if len(boards) != 1 or "" in boards:
        names = ", ".join(f"0x{family:08X}" for family in sorted(families)) or "none"
        raise FlashError(f"{path} is for another chip (UF2 family {names}): an image for the"
                         " RP2040 or RP2350 is needed")
    if size < LEAST_BYTES:
        raise FlashError(f"{path} holds only {size} bytes: that is no interpreter")
    return boards.pop()


def _block(path, data, at):
    """Return (family, bytes) of a block, (None, 0) of one that is no part of the program."""
    begin1, begin2, flags, address, size, _, _, family = HEAD.unpack_from(data, at)
    end, = struct.unpack_from("<I", data, at + BLOCK_BYTES - 4)
    number = at // BLOCK_BYTES
    if (begin1, begin2) != MAGIC_BEGIN or end != MAGIC_END or size > PAYLOAD_MOST:
        raise FlashError(f"{path} is damaged in block {number}: fetch it again")
    if flags & NOT_FOR_FLASH or (flags & HAS_FAMILY and family == ABSOLUTE):
        return None, 0
    if not flags & HAS_FAMILY:
        raise FlashError(f"{path} does not say which chip it is for (block {number})")
    if not FLASH_BEGIN <= address <= FLASH_BEGIN + FLASH_MOST - size:
        raise FlashError(f"{path} is no program for the flash (block {number} goes to"
                         f" 0x{address:08X})")
    return family, size


def copy_image(path: Path | str, volume: Volume) -> None:
    """Copy a checked image onto a boot volume; FlashError if it is for another board.

    The board restarts as soon as the last block has come and takes the volume
    away, often before the copy is reported as done: that is no error.
    """
    board = check_image(path)
    if volume.board != board:
        raise FlashError(f"{path} is for {board}, the board at {volume.folder} is"
                         f" {volume.board}")
    target = volume.folder / Path(path).name
    try:
        shutil.copyfile(path, target)
    except OSError as error:
        if (volume.folder / MARKER).exists():
            raise FlashError(f"cannot copy to {volume.folder}: {error.strerror or error}"
                             ) from error
