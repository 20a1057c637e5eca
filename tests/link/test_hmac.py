"""HMAC-SHA256 by the vectors of RFC 4231, on both interpreters.

The vectors are test cases 1 to 7 of its section 4 (5 is cut to 128 bits
there); keys and texts are the RFC's.
"""

import hashlib
import hmac
import json
import random

from keeper.link.hmac import are_same, hmac_sha256, inner, outer

# key, data, HMAC-SHA256
VECTORS = (
    (b"\x0b" * 20, b"Hi There",
     "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"),
    (b"Jefe", b"what do ya want for nothing?",
     "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"),
    (b"\xaa" * 20, b"\xdd" * 50,
     "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe"),
    (bytes(range(1, 26)), b"\xcd" * 50,
     "82558a389a443c0ea4cc819899f2083a85f0faa3e578f8077a2e3ff46729665b"),
    (b"\x0c" * 20, b"Test With Truncation", "a3b6167473100ee06e0c796c2955552b"),
    (b"\xaa" * 131, b"Test Using Larger Than Block-Size Key - Hash Key First",
     "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54"),
    (b"\xaa" * 131, b"This is a test using a larger than block-size key and a larger than "
     b"block-size data. The key needs to be hashed before being used by the HMAC algorithm.",
     "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2"),
)


def test_the_vectors_of_rfc_4231_come_out_here():
    for key, data, expected in VECTORS:
        assert hmac_sha256(key, data).hex()[: len(expected)] == expected


def test_the_vectors_of_rfc_4231_come_out_on_the_board(run_micropython):
    pairs = [(key.hex(), data.hex()) for key, data, _ in VECTORS]
    board = run_micropython(f"""
import json
from keeper.link.hmac import hmac_sha256

print(json.dumps([hmac_sha256(bytes.fromhex(key), bytes.fromhex(data)).hex()
                  for key, data in {pairs!r}]))
""")
    got = json.loads(board.stdout)
    assert [mac[: len(row[2])] for mac, row in zip(got, VECTORS, strict=True)] == [
        row[2] for row in VECTORS]


def test_any_key_and_message_give_what_the_standard_library_gives():
    chance = random.Random(4)
    for _ in range(300):
        key = chance.randbytes(chance.randrange(140))
        message = chance.randbytes(chance.randrange(200))
        expected = hmac.digest(key, message, hashlib.sha256)
        assert hmac_sha256(key, message) == expected
        assert outer(key, inner(key, message)) == expected


def test_bytes_are_the_same_only_if_every_one_is():
    one = bytes(range(32))
    assert are_same(one, bytearray(one))
    for place in range(32):
        for bit in range(8):
            other = bytearray(one)
            other[place] ^= 1 << bit
            assert not are_same(one, other)
    assert not are_same(one, one[:-1])
    assert not are_same(one, one + b"\0")
