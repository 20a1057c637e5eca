"""An interpreter image is checked for what a wrong one would do before it is copied.

UF2 files are laid out here by their specification (github.com/microsoft/uf2):
512-byte blocks of eight words, 476 bytes of room, a last word. Family numbers
are those of its list utils/uf2families.json, from memory.
"""

import struct

import pytest

from forebay.flash import FlashError, volume

RP2040, RP2350_ARM, ABSOLUTE, OTHER = 0xE48BFF56, 0xE48BFF59, 0xE48BFF57, 0x57755A57
FLASH, RAM = 0x10000000, 0x20000000
PAGE = 256
PAGES = 500


def block(number, total, family=RP2040, address=FLASH, flags=0x2000):
    head = struct.pack("<8I", 0x0A324655, 0x9E5D5157, flags, address + PAGE * number, PAGE,
                       number, total, family)
    return head + bytes(476) + struct.pack("<I", 0x0AB16F30)


def image(path, pages=PAGES, **changes):
    path.write_bytes(b"".join(block(number, pages, **changes) for number in range(pages)))
    return path


@pytest.fixture
def good(tmp_path):
    return image(tmp_path / "interpreter.uf2")


def boot_volume(folder, board="RPI-RP2"):
    folder.mkdir()
    text = f"UF2 Bootloader v3.0\nModel: a board\nBoard-ID: {board}\n"
    (folder / volume.MARKER).write_text(text)
    return folder


def test_an_image_says_which_board_it_is_for(good, tmp_path):
    assert volume.check_image(good) == "RPI-RP2"
    assert volume.check_image(image(tmp_path / "two.uf2", family=RP2350_ARM)) == "RP2350"


def test_a_first_block_for_any_board_is_no_part_of_the_program(tmp_path):
    path = image(tmp_path / "two.uf2", family=RP2350_ARM)
    path.write_bytes(block(0, 2, family=ABSOLUTE, address=FLASH + 0xFFFF00) + path.read_bytes())

    assert volume.check_image(path) == "RP2350"


@pytest.mark.parametrize(("change", "said"), [
    (lambda data: b"PK\x03\x04" + data[4:], "no UF2 image"),
    (lambda data: b"", "no UF2 image"),
    (lambda data: data[:-100], "cut short"),
    (lambda data: data[:1020] + b"\0\0\0\0" + data[1024:], "damaged in block 1"),
    (lambda data: data[:512] + b"\0" * 512 + data[1024:], "damaged in block 1"),
    (lambda data: data[:512 * 100], "only 25600 bytes"),
])
def test_a_damaged_image_is_refused(good, change, said):
    good.write_bytes(change(good.read_bytes()))
    with pytest.raises(FlashError, match=said):
        volume.check_image(good)


@pytest.mark.parametrize(("changes", "said"), [
    ({"family": OTHER}, "another chip"),
    ({"address": RAM}, "no program for the flash"),
    ({"flags": 0}, "does not say which chip"),
    ({"flags": 1}, "another chip"),
])
def test_an_image_for_something_else_is_refused(tmp_path, changes, said):
    with pytest.raises(FlashError, match=said):
        volume.check_image(image(tmp_path / "other.uf2", **changes))


def test_an_image_of_two_chips_is_refused(tmp_path, good):
    other = image(tmp_path / "two.uf2", family=RP2350_ARM)
    good.write_bytes(good.read_bytes() + other.read_bytes())
    with pytest.raises(FlashError, match="another chip"):
        volume.check_image(good)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(FlashError, match="cannot read"):
        volume.check_image(tmp_path / "none.uf2")


def test_a_folder_with_the_marker_is_a_boot_volume_and_no_other_is(tmp_path):
    place = boot_volume(tmp_path / "RPI-RP2")
    (tmp_path / "stick").mkdir()

    assert volume.volumes([place, tmp_path / "stick", tmp_path / "gone"]) == [
        volume.Volume(place, "RPI-RP2")]


def test_an_image_is_copied_to_its_own_board_only(tmp_path, good):
    one = boot_volume(tmp_path / "one")
    two = boot_volume(tmp_path / "two", "RP2350")
    volume.copy_image(good, volume.Volume(one, "RPI-RP2"))
    with pytest.raises(FlashError, match="is for RPI-RP2"):
        volume.copy_image(good, volume.Volume(two, "RP2350"))

    assert (one / good.name).read_bytes() == good.read_bytes()
    assert not (two / good.name).exists()


def test_a_volume_that_vanishes_as_the_copy_ends_is_no_error(tmp_path, good, monkeypatch):
    place = boot_volume(tmp_path / "one")

    def vanish(source, target):
        (place / volume.MARKER).unlink()
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(volume.shutil, "copyfile", vanish)
    volume.copy_image(good, volume.Volume(place, "RPI-RP2"))


def test_a_copy_that_fails_while_the_volume_is_there_is_an_error(tmp_path, good, monkeypatch):
    place = boot_volume(tmp_path / "one")

    def fail(source, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(volume.shutil, "copyfile", fail)
    with pytest.raises(FlashError, match="No space left"):
        volume.copy_image(good, volume.Volume(place, "RPI-RP2"))
