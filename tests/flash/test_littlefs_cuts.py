"""The power fails at the steps of the flash chip itself, on real littlefs, in mid-flash.

The steps of a flash onto a board are logged; the chip is then taken to before
a step and into the middle of it, mounted anew, and asked what the loader would
run. Real: deploy, littlefs with the board's geometry, the loader. Stands in:
the board's prompt, whose commands are carried out on littlefs here.
"""

import hashlib
import posixpath
import random
from typing import Any

import pytest
from littlefs import LittleFS
from littlefs.errors import LittleFSError

from forebay.flash import FlashError, deploy, firmware, slots
from forebay.flash.prompt import PIECE_BYTES, Identity
from keeper import segments
from tests.flash import rigs
from tests.flash.chosen import board_loader, chosen_of
from tests.journal.flash import BLOCK_BYTES, GEOMETRY, PICO_BLOCKS, Chip, apply, tear

BYTE_CODE = 0x306
MEND_EVERY = 7
loader = pytest.fixture(scope="module")(board_loader)


class LittleFsBoard:
    """A board at its prompt, whose file system is on a chip."""

    def __init__(self, chip, fresh=False):
        self.chip = chip
        geometry: dict[str, Any] = {**GEOMETRY, "block_count": chip.blocks}
        self.fs = LittleFS(context=chip, mount=False, **geometry)
        if fresh:
            self.fs.format()
        self.fs.mount()

    def identity(self) -> Identity:
        return Identity("1.29.0", BYTE_CODE, "-", "-", BLOCK_BYTES,
                        self.chip.blocks - self.fs.used_block_count)

    def walk(self, folder):
        """Returns (files, folders) below a folder: path -> contents, paths."""
        files, folders = {}, []
        for top, inner, names in self.fs.walk(folder):
            folders += [posixpath.join(top, name) for name in inner]
            for name in names:
                path = posixpath.join(top, name)
                files[path] = self._read(path)
        return files, folders

    def _read(self, path):
        with self.fs.open(path, "rb") as file:
            return file.read()

    def tree(self, folder):
        try:
            files, folders = self.walk(folder)
        except LittleFSError:
            return slots.Tree()
        return slots.Tree({path: sha256(data) for path, data in files.items()}, folders)

    def hashes(self, paths):
        there = {path: self.maybe_read(path) for path in paths}
        return {path: sha256(data) for path, data in there.items() if data is not None}

    def maybe_read(self, path):
        try:
            return self._read(path)
        except (LittleFSError, FileNotFoundError):
            return None

    def write(self, path, data):
        with self.fs.open(path, "wb", buffering=0) as file:
            for at in range(0, len(data), PIECE_BYTES):
                file.write(data[at:at + PIECE_BYTES])

    def rename(self, path, target):
        self.fs.rename(path, target)

    def replace(self, path, data):
        self.write(path + ".new", data)
        self.rename(path + ".new", path)

    def copy(self, source, path):
        self.write(path, self._read(source))

    def remove(self, path):
        if self.maybe_read(path) is not None:
            self.fs.remove(path)

    def remove_folder(self, path):
        self.fs.rmdir(path)

    def make_folder(self, path):
        self.fs.makedirs(path, exist_ok=True)


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def wanted(folder, settings: bytes) -> deploy.Wanted:
    return deploy.Wanted(firmware.program(BYTE_CODE, folder), {"/rig/settings": settings},
                         firmware.loader(folder))


def put_on(board, what):
    return deploy.deploy(board, what, deploy.look(board, what), lambda *_: None)


def runs(board, loader, root):
    """Returns path -> contents of the program that the loader would run, None without one.

    Without its main.py a board runs nothing and waits at its prompt.
    """
    files, folders = board.walk("/")
    if "/main.py" not in files:
        return None
    slot = chosen_of(loader, root, files, folders)
    if slot is None:
        return None
    top = f"/{slot}/"
    return {path.removeprefix(top): data for path, data in files.items()
            if path.startswith(top) and path != top + deploy.WHOLE}


class Cuts:
    """Cuts one flash at its steps. Attribute: count."""

    def __init__(self, loader, tmp_path_factory, before, new):
        self.loader = loader
        self.folders = tmp_path_factory
        self.whole = (before, dict(new.program.files))
        self.new = new
        self.count = 0

    def look(self, image):
        """Looks at a chip after a cut, and at times flashes it anew."""
        self.count += 1
        board = LittleFsBoard(Chip(PICO_BLOCKS, bytes(image)))
        root = self.folders.mktemp("cut")
        assert runs(board, self.loader, root) in self.whole
        settings = board.maybe_read("/rig/settings")
        assert settings in (None, b"old settings", self.new.rig_files["/rig/settings"])
        if self.count % MEND_EVERY == 0:
            put_on(board, self.new)
            again = self.folders.mktemp("mended")
            assert runs(board, self.loader, again) == self.whole[1]

    def run(self, image, log, every):
        chance = random.Random(5)
        image = bytearray(image)
        for place, step in enumerate(log):
            if place % every == 0:
                self.look(image)
                torn = bytearray(image)
                tear(torn, step, chance)
                self.look(torn)
            apply(image, step)
        self.look(image)


@pytest.fixture(scope="module")
def programs(tmp_path_factory):
    """The small program of before, and the whole firmware of this project."""
    old = rigs.small(tmp_path_factory.mktemp("programs") / "old", 1)
    return wanted(old, b"old settings"), wanted(rigs.FIRMWARE, b"new settings")


def test_power_that_fails_in_an_update_leaves_one_program_whole(
        programs, loader, tmp_path_factory, record_property):
    old, new = programs
    chip = Chip(PICO_BLOCKS)
    board = LittleFsBoard(chip, fresh=True)
    put_on(board, old)
    image = bytes(chip.image)
    chip.log = []
    put_on(board, new)

    cuts = Cuts(loader, tmp_path_factory, dict(old.program.files), new)
    cuts.run(image, chip.log, every=1)
    record_property("measured", f"update cut {cuts.count} times among {len(chip.log)} steps"
                                " of the flash chip")
    assert cuts.count > 500


def test_power_that_fails_in_a_first_flash_leaves_the_prompt_or_the_program(
        programs, loader, tmp_path_factory, record_property):
    old, _ = programs
    chip = Chip(PICO_BLOCKS)
    board = LittleFsBoard(chip, fresh=True)
    image = bytes(chip.image)
    chip.log = []
    put_on(board, old)

    cuts = Cuts(loader, tmp_path_factory, None, old)
    cuts.run(image, chip.log, every=1)
    record_property("measured", f"first flash cut {cuts.count} times among {len(chip.log)} steps"
                                " of the flash chip")
    assert cuts.count > 100


def test_a_first_flash_takes_the_room_of_both_slots(programs, record_property):
    _, new = programs
    board = LittleFsBoard(Chip(PICO_BLOCKS), fresh=True)
    empty = board.fs.used_block_count
    put_on(board, new)
    two = board.fs.used_block_count
    changed = firmware.Program({**new.program.files, "keeper/more.mpy": b"x"}, True)
    done = put_on(board, deploy.Wanted(changed, new.rig_files, new.loader))
    after = board.fs.used_block_count

    assert (done.files, done.copied) == (1, 0)
    assert after == two
    record_property("measured", f"two programs and the rest take {two * BLOCK_BYTES // 1024} KiB"
                                f" of the {PICO_BLOCKS * BLOCK_BYTES // 1024} KiB of files")
    assert empty < two <= PICO_BLOCKS // 2


def test_a_slot_that_was_cut_off_is_no_program_and_is_gone_on_with(programs):
    _, new = programs
    board: Any = LittleFsBoard(Chip(PICO_BLOCKS), fresh=True)
    done = put_on(board, new)
    for name in ("/slot_new", "/main.py", "/b/whole", "/a/keeper/scan.mpy"):
        board.remove(name)
    found = deploy.look(board, new)
    assert found.standing.programs == ()

    again = put_on(board, new)
    assert again.slot == done.slot == "a"
    assert again.files == 1
    assert deploy.look(board, new).standing.programs == ("a", "b")


def test_an_update_that_does_not_fit_is_refused_and_what_ran_stays(
        programs, loader, tmp_path):
    old, new = programs
    board = LittleFsBoard(Chip(PICO_BLOCKS), fresh=True)
    put_on(board, old)
    board.write("/journal", bytes((PICO_BLOCKS - board.fs.used_block_count - 20) * BLOCK_BYTES))
    with pytest.raises(FlashError, match="KiB free, the program needs"):
        put_on(board, new)

    assert runs(board, loader, tmp_path) == dict(old.program.files)


def test_an_update_fits_however_full_the_journal_is(programs, loader, tmp_path):
    _, new = programs
    board = LittleFsBoard(Chip(PICO_BLOCKS), fresh=True)
    put_on(board, new)
    # As full as the journal makes it.
    left = PICO_BLOCKS - board.fs.used_block_count - segments.SPARE_BLOCKS
    board.write("/journal", bytes((left - 1) * BLOCK_BYTES))
    changed = firmware.Program(
        {path: data + b" " for path, data in new.program.files.items()}, True)
    put_on(board, deploy.Wanted(changed, new.rig_files, new.loader))

    assert runs(board, loader, tmp_path) == dict(changed.files)
