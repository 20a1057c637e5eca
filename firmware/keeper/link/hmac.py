"""HMAC-SHA256: what proves who made a message.

RFC 2104 with SHA-256 of FIPS 180-4; checked by the vectors of RFC 4231.  The
board's library has the hash alone, whose digest can be taken once only.  Works
in two halves, so that a caller can let a scan pass between them.
"""

import hashlib

BLOCK_BYTES = 64    # of SHA-256
DIGEST_BYTES = 32
_INNER = 0x36
_OUTER = 0x5C


def _begun(key, pad):
    """Return a hash that has taken the padded key."""
    if len(key) > BLOCK_BYTES:
        key = hashlib.sha256(key).digest()
    block = bytearray([pad] * BLOCK_BYTES)
    for place in range(len(key)):
        block[place] = key[place] ^ pad
    return hashlib.sha256(block)


def inner(key, message):
    """Return the first half [32 bytes]: the inner hash of a message under a key [bytes]."""
    digest = _begun(key, _INNER)
    digest.update(message)
    return digest.digest()


def outer(key, inner_digest):
    """Return the second half [32 bytes], the HMAC itself, from the first half."""
    digest = _begun(key, _OUTER)
    digest.update(inner_digest)
    return digest.digest()


def hmac_sha256(key, message):
    """Return the HMAC-SHA256 [32 bytes] of a message under a key [bytes, any length]."""
    return outer(key, inner(key, message))


def are_same(one, other):
    """Return whether two strings of bytes are the same; as slow wherever they differ."""
    if len(one) != len(other):
        return False
    difference = 0
    for place in range(len(one)):
        difference |= one[place] ^ other[place]
    return difference == 0
