"""Flash images are put together and taken apart without an interpreter."""

import struct

import pytest
from littlefs import LittleFSError

from tests.board import image

FILES = {"/boot.py": b"pass\n", "/keeper/physics/water.py": bytes(range(256)) * 40, "/empty": b""}


def uf2(blocks: list[tuple[int, bytes]]) -> bytes:
    """Returns a UF2 file as its specification lays it out."""
    out = b""
    for number, (address, body) in enumerate(blocks):
        head = struct.pack(
            "<8I", 0x0A324655, 0x9E5D5157, 0x2000, address, 256, number, len(blocks), 0xE48BFF56
        )
        out += head + body.ljust(476, b"\0") + struct.pack("<I", 0x0AB16F30)
    return out


def test_files_come_back_from_a_flash_as_they_went_in():
    flash = image.compose(b"program", FILES)

    assert image.read_storage(flash) == FILES
    assert flash.startswith(b"program\xff")
    assert len(flash) == 2 * 1024 * 1024


def test_a_file_system_that_does_not_mount_is_an_error_and_stays_as_it_is():
    flash = bytearray(image.compose(b"", FILES))
    flash[image.STORAGE_OFFSET : image.STORAGE_OFFSET + 2 * image.BLOCK_BYTES] = bytes(8192)

    with pytest.raises(LittleFSError):
        image.read_storage(bytes(flash))


def test_a_program_that_reaches_into_the_file_system_is_refused():
    with pytest.raises(image.ImageError, match="fit"):
        image.compose(bytes(image.STORAGE_OFFSET + 1), {})


def test_blocks_of_a_uf2_file_land_at_their_addresses(tmp_path):
    path = tmp_path / "interpreter.uf2"
    path.write_bytes(uf2([(0x10000000, b"a" * 256), (0x10000200, b"b" * 256)]))

    assert image.interpreter(path) == b"a" * 256 + b"\xff" * 256 + b"b" * 256


def test_a_plain_image_is_taken_as_it_is(tmp_path):
    path = tmp_path / "interpreter.bin"
    path.write_bytes(b"\x00\xb5 and more")

    assert image.interpreter(path) == b"\x00\xb5 and more"


def test_a_file_that_is_no_elf_is_refused(tmp_path):
    path = tmp_path / "interpreter.elf"
    path.write_bytes(b"MZ and so on" * 10)

    with pytest.raises(image.ImageError, match="ELF"):
        image.Elf(path)
