"""Which board this is, which program it runs and with which settings, as a line can carry it.

The hash of the program is the one that the loader's file `whole` states, which
was written after the program had been read back on the board.
"""

import hashlib
import struct

from keeper import settings as st

HASH_BYTES = 8          # of each hash that is published
WHOLE = "/whole"        # two lines: digest of the slot, SHA-256 of its program


def short_hash(data):
    """Return the first HASH_BYTES of the SHA-256 of `data` as a number [u64]."""
    return number_of(hashlib.sha256(data).digest()[:HASH_BYTES])


def number_of(data):
    """Return bytes, the first one most significant, as a number."""
    number = 0
    for byte in data:
        number = number << 8 | byte
    return number


def firmware_hash(folder):
    """Return the start of the hash of the program in a folder [u64], 0 = not known."""
    try:
        with open(folder + WHOLE) as file:
            lines = file.read().split("\n")
        return int(lines[1][:2 * HASH_BYTES], 16)
    except (OSError, ValueError, IndexError):
        return 0


class Identity:
    """Attributes: board_id, the chip's own number [u64]; firmware_hash, settings_hash [u64].

    And settings_crc [u32], which ends the settings' file; 0 = not known.
    """

    def __init__(self, board_id=b"", firmware=0, settings=None):
        """Take the chip's number [bytes, at most 8] and the hash of its program [u64].

        settings: those in force [list in table order], None: not known.
        """
        self.board_id = number_of(bytes(board_id)[:HASH_BYTES])
        self.firmware_hash = firmware
        self.settings_crc = 0
        self.settings_hash = 0
        if settings is not None:
            packed = st.file_of(settings)
            self.settings_crc = struct.unpack("<I", packed[-4:])[0]
            self.settings_hash = short_hash(packed)
