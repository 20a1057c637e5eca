"""What of an order is signed; board and laptop share it.

Owns which of its registers are signed, the key's size, its short name and its
file on the board.  It must not know what an order does.
"""

import hashlib
import struct

from keeper.link.hmac import hmac_sha256
from keeper.link.layout import (
    BLOCK_A, BLOCK_CODE, BLOCK_KEY_ID, BLOCK_NONCE, BLOCK_NUMBER, BLOCK_SIGNATURE, BLOCK_TAG)

KEY_BYTES = 32
NONCE_BYTES = 16
# Names the purpose and the layout: a signature is good for nothing else.
PURPOSE = b"forebay order 1"
# What follows it: registers of the order from the first of each pair to before the second.
SIGNED = ((BLOCK_NONCE, BLOCK_SIGNATURE), (BLOCK_NUMBER, BLOCK_KEY_ID), (BLOCK_TAG, BLOCK_A),
          (BLOCK_CODE, BLOCK_TAG), (BLOCK_A, BLOCK_NUMBER))
_KEY_NAME = b"forebay key"
NO_KEY_ID = 0       # stands in an order that is not signed
_NO_FILE = 2        # ENOENT


def key_id(key):
    """Return the short name of a key [1 to 2**32 - 1]: it tells keys apart and tells no key."""
    name = struct.unpack(">I", hashlib.sha256(_KEY_NAME + key).digest()[:4])[0]
    return name or 1


def order_message(block):
    """Return the bytes that are signed of an order [bytes, as it lies in its registers]."""
    message = PURPOSE
    for first, end in SIGNED:
        message += block[2 * first:2 * end]
    return message


def sign(key, block):
    """Return the signature [32 bytes] of an order [bytes] under a key [KEY_BYTES]."""
    return hmac_sha256(key, order_message(block))


def access_password(key):
    """Return the password [16 characters] of the board's own access point.

    It follows from the key but does not tell it.
    """
    digest = hmac_sha256(key, b"forebay access point")
    return "".join(["%02x" % byte for byte in digest[:8]])


def read_key(path):
    """Return the key in a file of the board: None if there is no file, b"" if it is no key.

    A key that cannot be read lets no order pass.
    """
    try:
        with open(path, "rb") as file:
            key = file.read(KEY_BYTES + 1)
    except OSError as error:
        return None if error.errno == _NO_FILE else b""
    return key if len(key) == KEY_BYTES else b""
