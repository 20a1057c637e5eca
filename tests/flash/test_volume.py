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


# The limits of an image


def with_block(path, **words):
    """Makes a good image whose block 7 has other words: place in the head -> value."""
    image(path)
    data = bytearray(path.read_bytes())
    for place, value in words.items():
        struct.pack_into("<I", data, 7 * 512 + 4 * int(place.removeprefix("word")), value)
    path.write_bytes(data)
    return path


END = FLASH + (16 << 20)  # of what the chips can address


@pytest.mark.parametrize(("words", "said"), [
    ({"word0": 0}, "damaged in block 7"),
    ({"word1": 0}, "damaged in block 7"),
    ({"word127": 0}, "damaged in block 7"),
    ({"word4": 477}, "damaged in block 7"),
    ({"word4": 476}, None),
    ({"word3": FLASH - 1}, "block 7 goes to 0x0FFFFFFF"),
    ({"word3": FLASH}, None),
    ({"word3": END - PAGE}, None),
    ({"word3": END - PAGE + 1}, "no program for the flash"),
    ({"word2": 0x2001}, None),            # not for the flash: left out
    ({"word7": RP2350_ARM}, "another chip"),
    ({"word7": ABSOLUTE}, None),          # for any board: left out
])
def test_every_block_is_looked_at_up_to_the_limits_of_the_format_and_the_chip(
        tmp_path, words, said):
    path = with_block(tmp_path / "one.uf2", **words)
    if said is None:
        assert volume.check_image(path) == "RPI-RP2"
    else:
        with pytest.raises(FlashError, match=said):
            volume.check_image(path)


@pytest.mark.parametrize(("pages", "is_program"), [(391, True), (390, False)])
def test_what_is_smaller_than_a_hundred_thousand_bytes_is_no_interpreter(
        tmp_path, pages, is_program):
    path = image(tmp_path / "small.uf2", pages)
    if is_program:
        assert volume.check_image(path) == "RPI-RP2"
    else:
        with pytest.raises(FlashError, match=f"only {256 * pages} bytes"):
            volume.check_image(path)


def test_a_volume_that_does_not_name_its_board_is_of_an_unknown_one(tmp_path):
    place = boot_volume(tmp_path / "one")
    (place / volume.MARKER).write_text("UF2 Bootloader\n")
    assert volume.volumes([place]) == [volume.Volume(place, "unknown")]


def test_boot_volumes_are_sought_where_each_system_mounts_them(monkeypatch):
    seen = []
    monkeypatch.setattr(volume, "_below", lambda folder: (seen.append(folder), [])[1])
    monkeypatch.setenv("USER", "ada")
    for platform in ("linux", "darwin"):
        monkeypatch.setattr(volume.sys, "platform", platform)
        assert volume.volumes() == []
    assert seen == ["/media/ada", "/media", "/run/media/ada", "/mnt", "/Volumes"]
    monkeypatch.setattr(volume.sys, "platform", "win32")
    letters = [str(path)[0] for path in volume._usual()]
    assert "".join(letters) == "DEFGHIJKLMNOPQRSTUVWXYZ"


def test_only_folders_below_a_place_are_looked_at(tmp_path):
    (tmp_path / "b").mkdir()
    (tmp_path / "a").mkdir()
    (tmp_path / "file").touch()
    assert volume._below(tmp_path) == [tmp_path / "a", tmp_path / "b"]
    assert volume._below(tmp_path / "none") == []
