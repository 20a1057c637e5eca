"""Loaders that were released before, by their hashes."""

import hashlib

from forebay.flash import firmware, loaders
from tests.flash import old_board


def test_the_loader_of_this_tree_and_the_one_before_are_known():
    for files in (firmware.loader(), old_board.loader()):
        assert [path for path, data in files.items()
                if not loaders.is_ours(path, hashlib.sha256(data).hexdigest())] == []


def test_a_file_is_known_only_under_its_own_name():
    known = next(iter(loaders.RELEASED["/boot.py"]))
    assert not loaders.is_ours("/main.py", known)
    assert not loaders.is_ours("/other.py", known)
