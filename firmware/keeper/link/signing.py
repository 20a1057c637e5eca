"""What a signed order looks like; board and laptop share it.

Owns the layout of the words that are signed, the key's size, its short name
and its file on the board.  It must not know what an order does.
"""

import hashlib
import struct

from keeper.link.hmac import hmac_sha256

KEY_BYTES = 32
NONCE_BYTES = 16
# Names the purpose and the layout: a signature is good for nothing else.
PURPOSE = b"forebay order 1"
_KEY_NAME = b"forebay key"
NO_KEY_ID = 0       # stands in an order that is not signed
_NO_FILE = 2        # ENOENT


def key_id(key):
    """Return the short name of a key [1 to 2**32 - 1]: it tells keys apart and tells no key."""
    name = struct.unpack(">I", hashlib.sha256(_KEY_NAME + key).digest()[:4])[0]
    return name or 1


def order_message(nonce, number, tag, code, a, b):
    """Return the bytes of an order that are signed.

    nonce: the board's, NONCE_BYTES; number: orders that passed in this boot,
    and one [u32]; tag: chosen by the sender, to know the result by [u32];
    code, a, b: see `keeper.operation.orders` [u16, i32, i32].
    """
    return PURPOSE + bytes(nonce) + struct.pack(">IIHii", number, tag, code, a, b)


def sign(key, nonce, number, tag, code, a, b):
    """Return the signature [32 bytes] of an order under a key [KEY_BYTES]."""
    return hmac_sha256(key, order_message(nonce, number, tag, code, a, b))


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
