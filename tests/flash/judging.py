"""Old or new whole: what a board's files say of a flash that was cut off, by the loaders' word."""

import pytest

from forebay.flash import slots
from tests.flash import chosen, old_board

# Where a tree of before reads what belongs to its rig.
SHARED = ("/rig/settings", "/rig/wiring")


class Judge:
    """What runs on a board, by whichever loader it has."""

    def __init__(self, loader, loader_of_before, make_folder):
        """make_folder: returns an empty folder."""
        self.loader, self.loader_of_before = loader, loader_of_before
        self.make_folder = make_folder

    def runs(self, files, folders, starts=1):
        """Returns the content of the slot that runs at the last of some failing starts.

        With a tree of before come the settings that it reads. None: the prompt.
        """
        if "/main.py" not in files:
            return None
        is_before = files["/main.py"] == old_board.loader()["/main.py"]
        root = self.make_folder()
        chosen.lay_out(root, files, folders)
        for _ in range(starts):
            slot = chosen.chosen(self.loader_of_before if is_before else self.loader, root)
        return None if slot is None else content(files, slot)


@pytest.fixture
def judge(loader, loader_of_before, tmp_path_factory):
    """A Judge; its module needs the fixtures of `chosen` too."""
    return Judge(loader, loader_of_before, lambda: tmp_path_factory.mktemp("board"))


def content(files, slot):
    """Returns path -> contents of a slot that is whole by its own word, what it reads with it."""
    top = f"/{slot}/"
    found = {path.removeprefix(top): data for path, data in files.items()
             if path.startswith(top) and path != top + slots.WHOLE}
    if slots.PROGRAM not in found:
        found |= {path: files[path] for path in SHARED if path in files}
    return found


def pointers(files):
    """Returns (pointer, trial) of a board, None = there is no such file."""
    return files.get(slots.POINTER), files.get(slots.TRIAL)


class Looks:
    """Looks at a board after cuts of one flash."""

    def __init__(self, judge, old, new, others=None):
        """old: what runs before, as of `content`, None = the prompt; new: what is flashed.

        others: path -> bytes of what lies in no slot afterwards, key and loader.
        """
        self.judge, self.old, self.new = judge, old, new
        self.others = others or {}
        self.others_before = {}
        self.pointed = False
        self.pointers_before = (None, None)
        self.falls_to = old      # if what runs fails before the flash has begun

    def begin(self, files, folders):
        """Sees what the board holds before the flash."""
        self.pointed = slots.POINTER in files
        self.pointers_before = pointers(files)
        self.falls_to = self.judge.runs(files, folders, slots.TRIES + 1)
        self.others_before = {path: files.get(path) for path in self.others}

    def look(self, files, folders):
        """Fails unless the board is old or new whole; returns whether it is new."""
        runs = self.judge.runs(files, folders)
        assert runs in (self.old, self.new)
        self._look_at_pointers(files)
        self._look_at_others(files, runs == self.new)
        # An update that fails is never all there is, until it was taken for good.
        for_good = self.new if self._holds_new(files) else self.old
        if pointers(files) == self.pointers_before:
            for_good = self.falls_to
        if self.old is not None:
            assert self.judge.runs(files, folders, slots.TRIES + 1) == for_good
        return runs == self.new

    def _holds_new(self, files):
        pointer = files.get(slots.POINTER, b"").decode()
        return self.pointed and content(files, pointer) == self.new

    def _look_at_others(self, files, is_new):
        """Each is old or new whole, and the new program finds all of them new."""
        found = {path: files.get(path) for path in self.others}
        for path, data in found.items():
            assert data in (self.others_before[path], self.others[path]), path
        assert not is_new or found == self.others

    def _look_at_pointers(self, files):
        """A pointer that was there stays, and one names only what is whole."""
        assert slots.POINTER in files or not self.pointed
        for name, length in ((slots.POINTER, 1), (slots.TRIAL, 2)):
            if name in files:
                pointer = files[name].decode()
                assert len(pointer) == length
                assert content(files, pointer[0]) in (self.old, self.new)
