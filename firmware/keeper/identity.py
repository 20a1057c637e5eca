"""Which board this is and which program it runs, in numbers that a line can carry.

The hash of the firmware is taken from the files themselves, so that it tells
what is on the board and not what somebody meant to put there.
"""

import hashlib
import os

HASH_BYTES = 8          # of each hash that is published
_FOLDER = 0x4000        # of the mode that os.stat gives
_PIECE_BYTES = 512
NOT_CODE = "__pycache__"


def short_hash(data):
    """Return the first HASH_BYTES of the SHA-256 of `data` as a number [u64]."""
    return number_of(hashlib.sha256(data).digest()[:HASH_BYTES])


def number_of(data):
    """Return bytes, the first one most significant, as a number."""
    number = 0
    for byte in data:
        number = number << 8 | byte
    return number


def tree_hash(files):
    """Return one number [u64] for files given as (path, SHA-256 of the content).

    The order of the list does not matter; paths are relative, with slashes.
    """
    whole = hashlib.sha256()
    for path, digest in sorted(files):
        whole.update(path.encode())
        whole.update(b"\0")
        whole.update(digest)
    return number_of(whole.digest()[:HASH_BYTES])


def firmware_hash(folder):
    """Return `tree_hash` of all files below a folder, 0 if it cannot be read.

    Takes a fraction of a second on a board: only for the start.
    """
    try:
        return tree_hash(_files(folder, ""))
    except OSError:
        return 0


def _files(folder, below):
    """Return (path, digest) of the files of a folder and of the folders in it."""
    found = []
    waiting = [below]
    while waiting:
        place = waiting.pop()
        for name in os.listdir(folder + "/" + place if place else folder):
            path = place + "/" + name if place else name
            if os.stat(folder + "/" + path)[0] & _FOLDER:
                if name != NOT_CODE:
                    waiting.append(path)
            else:
                found.append((path, _digest(folder + "/" + path)))
    return found


def _digest(path):
    digest = hashlib.sha256()
    piece = bytearray(_PIECE_BYTES)
    with open(path, "rb") as file:
        count = file.readinto(piece)
        while count:
            digest.update(memoryview(piece)[:count])
            count = file.readinto(piece)
    return digest.digest()


class Identity:
    """Attributes: board_id, the chip's own number [u64]; firmware_hash [u64]; 0 = not known."""

    def __init__(self, board_id=b"", firmware=0):
        """Take the chip's number [bytes, at most 8] and the hash of its program [u64]."""
        self.board_id = number_of(bytes(board_id)[:HASH_BYTES])
        self.firmware_hash = firmware
