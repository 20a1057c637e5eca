"""Keys: made once, this user's alone, shown nowhere."""

import os
import stat
import threading

import pytest

from forebay.dispatch import DispatchError, keys

posix = pytest.mark.skipif(os.name != "posix", reason="modes of files are POSIX")


def test_a_key_is_made_once_and_found_again():
    assert keys.maybe_key(7) is None
    made = keys.ensure(7)
    assert keys.ensure(7) == made == keys.maybe_key(7)
    assert keys.ensure(8) != made
    assert len(made.secret) == 32


@posix
def test_its_file_and_folder_are_this_users_alone():
    old = os.umask(0)
    try:
        keys.ensure(7)
    finally:
        os.umask(old)
    assert stat.S_IMODE(keys.path(7).stat().st_mode) == 0o600
    assert stat.S_IMODE(keys.folder().stat().st_mode) == 0o700
    assert [found.name for found in keys.folder().iterdir()] == ["7.key"]


@posix
def test_a_key_that_others_may_read_is_not_used():
    keys.ensure(7)
    keys.path(7).chmod(0o640)
    with pytest.raises(DispatchError, match="open to other users: run chmod 600"):
        keys.maybe_key(7)


@posix
@pytest.mark.parametrize("mode", [0o777, 0o770, 0o720, 0o702])
def test_a_key_from_a_folder_that_others_may_write_to_is_not_used(mode):
    # It was once taken: whoever may write there may put a key of his own in its place.
    keys.ensure(7)
    keys.folder().chmod(mode)
    try:
        with pytest.raises(DispatchError, match="run chmod 700 on it"):
            keys.ensure(7)
        assert keys.maybe_key_named(1) is None
    finally:
        keys.folder().chmod(0o700)
    assert keys.ensure(7) == keys.maybe_key(7)


@posix
def test_a_new_key_is_not_used_from_a_folder_that_others_may_write_to():
    keys.folder().mkdir(parents=True, exist_ok=True)
    keys.folder().chmod(0o777)
    try:
        with pytest.raises(DispatchError, match="run chmod 700 on it"):
            keys.ensure(7)
    finally:
        keys.folder().chmod(0o700)


@posix
def test_a_link_that_leads_nowhere_is_told(tmp_path):
    # It once ended in a bare AssertionError, which no person can act on.
    keys.folder().mkdir(parents=True, exist_ok=True)
    keys.path(7).symlink_to(tmp_path / "gone")
    for ask in (keys.ensure, keys.maybe_key):
        with pytest.raises(DispatchError, match="a link that leads nowhere"):
            ask(7)
    assert not (tmp_path / "gone").exists()


@posix
def test_what_is_no_file_is_no_key(tmp_path):
    keys.folder().mkdir(mode=0o700, parents=True, exist_ok=True)
    os.mkfifo(keys.path(7), 0o600)
    with pytest.raises(DispatchError, match="is no key"):
        keys.maybe_key(7)


def test_a_file_that_is_no_key_is_told_and_kept():
    keys.ensure(7)
    keys.path(7).write_bytes(b"short")
    with pytest.raises(DispatchError, match=r"is no key \(5 bytes, not 32\)"):
        keys.ensure(7)
    assert keys.path(7).read_bytes() == b"short"


def test_no_text_made_of_a_key_holds_it():
    key = keys.ensure(7)
    for text in (repr(key), str(key), f"{key}", f"{[key]!r}"):
        for piece in (key.secret.hex(), repr(key.secret)[2:-1], str(list(key.secret))[1:-1]):
            assert piece not in text


def test_short_names_and_passwords_follow_from_the_key_and_do_not_tell_it():
    key = keys.ensure(7)
    other = keys.Key(key.secret[::-1])
    assert key.id != other.id
    assert key.access_password != other.access_password
    assert key.access_password not in key.secret.hex()
    assert f"{key.id:08x}" not in key.secret.hex()


def test_two_programs_that_make_a_key_at_once_get_the_same():
    found = []
    start = threading.Barrier(8)

    def make():
        start.wait()
        found.append(keys.ensure(9))

    threads = [threading.Thread(target=make) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({key.secret for key in found}) == 1
    assert len(found) == 8


def test_a_folder_that_cannot_be_made_is_told_in_one_line(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(keys, "folder", lambda: tmp_path / "file" / "keys")
    with pytest.raises(DispatchError, match="cannot (keep|read) (a|the) key"):
        keys.ensure(7)


def test_a_key_is_found_by_the_name_that_a_board_gives_it():
    """A board whose settings are unreadable names no rig."""
    made = [keys.ensure(rig_id) for rig_id in (7, 8, 9)]
    keys.path(8).write_bytes(b"no key")
    assert keys.maybe_key_named(made[2].id) == made[2]
    assert keys.maybe_key_named(made[1].id) is None
