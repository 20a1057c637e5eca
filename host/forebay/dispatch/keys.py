"""The keys that orders are signed with: one a rig, made when its board is flashed.

Owns their files.  A key is shown nowhere and kept in no journal: what tells
keys apart is their short name, `Key.id`.  Who has the file may order; keep a
copy of it as you would of a house key.
"""

import contextlib
import os
import secrets
import stat
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import platformdirs

from forebay.dispatch.errors import DispatchError
from keeper.link.signing import KEY_BYTES, access_password, key_id

FOLDER_MODE = 0o700
OTHERS = 0o077
OTHERS_WRITE = 0o022
# Where a board keeps its key.
BOARD_PATH = "/rig/key"


@dataclass(frozen=True)
class Key:
    """A key.  Attribute: secret, KEY_BYTES; it is in no text made of this."""

    secret: bytes = field(repr=False)

    @property
    def id(self) -> int:
        """Short name of the key [1 to 2**32 - 1], as the board publishes it."""
        return key_id(self.secret)

    @property
    def access_password(self) -> str:
        """Password of the wireless board's own access point."""
        return access_password(self.secret)


def folder() -> Path:
    """Return the folder of the keys, in the user's data folder."""
    return Path(platformdirs.user_data_dir("forebay", appauthor=False)) / "keys"


def path(rig_id: int) -> Path:
    """Return where the key of a rig lies."""
    return folder() / f"{rig_id}.key"


def maybe_key(rig_id: int) -> Key | None:
    """Return the key of a rig, None if this computer has none.

    Raises DispatchError if the file is no key, or not this user's alone, or if
    others may put one in its place.
    """
    return _maybe_at(path(rig_id))


def _maybe_at(place):
    try:
        mode = place.stat().st_mode
        secret = place.read_bytes() if stat.S_ISREG(mode) else b""
        around = place.parent.stat().st_mode
    except FileNotFoundError:
        if place.is_symlink():
            raise DispatchError(f"the key {place} is a link that leads nowhere: bring back what"
                                " it led to, or remove it") from None
        return None
    except OSError as error:
        raise DispatchError(f"cannot read the key {place}: {error.strerror}") from error
    if os.name == "posix" and stat.S_IMODE(mode) & OTHERS:
        raise DispatchError(f"the key {place} is open to other users: run chmod 600 on it")
    if os.name == "posix" and stat.S_IMODE(around) & OTHERS_WRITE:
        raise DispatchError(f"other users may put keys into {place.parent}: run chmod 700 on it,"
                            " and flash the board anew if you did not make the key")
    if len(secret) != KEY_BYTES:
        raise DispatchError(f"{place} is no key ({len(secret)} bytes, not {KEY_BYTES}): put a"
                            " copy there, or remove it and flash the board anew")
    return Key(secret)


def maybe_key_named(name: int) -> Key | None:
    """Return the key of a short name [1 to 2**32 - 1], None if this computer has none.

    A board whose settings are unreadable names no rig, but it names its key; so does
    one that has the key from before the rig got a new one.
    """
    for place in sorted(folder().glob("*.key")):
        with contextlib.suppress(DispatchError):
            key = _maybe_at(place)
            if key is not None and key.id == name:
                return key
    return None


def ensure(rig_id: int) -> Key:
    """Return the key of a rig; make it if there is none yet, for this user alone.

    Raises DispatchError if it cannot be written, or as `maybe_key`.
    """
    found = maybe_key(rig_id)
    if found is not None:
        return found
    place = path(rig_id)
    try:
        place.parent.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
        _write(place, secrets.token_bytes(KEY_BYTES))
    except OSError as error:
        raise DispatchError(f"cannot keep a key at {place}: {error.strerror}") from error
    made = maybe_key(rig_id)
    if made is None:  # removed, or put out of sight, by another program meanwhile
        raise DispatchError(f"the key {place} was made and is gone again: try once more")
    return made


def renew(rig_id: int) -> Key:
    """Return a new key of a rig; the one before stays beside it, under its own short name.

    Raises DispatchError as `ensure`.
    """
    before = maybe_key(rig_id)
    if before is not None:
        place = path(rig_id)
        try:
            place.rename(place.with_name(f"{rig_id}-{before.id:08x}.key"))
        except OSError as error:
            raise DispatchError(f"cannot put the key {place} aside: {error.strerror}") from error
    return ensure(rig_id)


def _write(place, secret):
    """Put a file there whole, unless another program was quicker: then that one's stays."""
    handle, aside = tempfile.mkstemp(dir=place.parent, prefix=place.name)  # mode 0600
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(secret)
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileExistsError):
            os.link(aside, place)
    finally:
        os.unlink(aside)
