"""Bytes that no honest master sends: random, mutated, and recorded then damaged."""

import random
from collections.abc import Iterator

from tests.link.frames import frame, read_file, read_holding, read_registers, write_many, write_one

FUNCTIONS = (1, 2, 3, 4, 5, 6, 7, 8, 11, 15, 16, 17, 20, 21, 22, 23, 24, 43)
LONGEST_NOISE = 600


def honest(chance: random.Random) -> bytes:
    """Returns a request that some master could send."""
    kind = chance.randrange(6)
    if kind == 0:
        return read_registers(chance.randrange(440), chance.randrange(1, 126))
    if kind == 1:
        return read_holding(chance.randrange(40), chance.randrange(1, 40))
    if kind == 2:
        return write_one(chance.randrange(40), chance.randrange(65536))
    if kind == 3:
        count = chance.randrange(1, 37)
        words = [chance.randrange(65536) for _ in range(count)]
        if chance.random() < 0.5:
            words[-1] = 1
        return write_many(36 - count if chance.random() < 0.5 else chance.randrange(40), words)
    groups = [(chance.choice((1, 16384, 16385, 32769, 49153, chance.randrange(65536))),
               chance.randrange(100), chance.randrange(1, 122))
              for _ in range(chance.randrange(1, 4))]
    return read_file(*groups, reference=chance.choice((6, 6, 6, 0, 7)))


def random_pdu(chance: random.Random) -> bytes:
    """Returns a function code, known or not, and any bytes behind it."""
    code = chance.choice(FUNCTIONS) if chance.random() < 0.7 else chance.randrange(256)
    return bytes([code]) + chance.randbytes(chance.randrange(252))


def damaged(chance: random.Random, data: bytes) -> bytes:
    """Returns data with bits flipped, bytes lost, doubled or strange, or an end cut off."""
    found = bytearray(data)
    for _ in range(chance.randrange(1, 4)):
        if not found:
            break
        at = chance.randrange(len(found))
        how = chance.randrange(5)
        if how == 0:
            found[at] ^= 1 << chance.randrange(8)
        elif how == 1:
            del found[at]
        elif how == 2:
            found[at:at] = found[at : at + 1]
        elif how == 3:
            found[at:at] = chance.randbytes(chance.randrange(1, 4))
        else:
            del found[at:]
    return bytes(found)


def hostile(chance: random.Random, recorded: list[bytes], wrap=frame) -> bytes:
    """Returns a piece of a bad stream.  recorded: PDUs of honest sessions; wrap: frames a PDU."""
    kind = chance.randrange(6)
    if kind == 0:
        return chance.randbytes(chance.randrange(1, LONGEST_NOISE))
    if kind == 1:
        return wrap(random_pdu(chance))
    if kind == 2:
        return wrap(honest(chance))
    if kind == 3:
        return damaged(chance, wrap(honest(chance)))
    if kind == 4:  # replayed as it was, or altered under a right CRC
        pdu = chance.choice(recorded)
        return wrap(pdu if chance.random() < 0.3 else damaged(chance, pdu)[:253] or b"\0")
    return damaged(chance, wrap(chance.choice(recorded)))


def pieces(chance: random.Random, data: bytes) -> Iterator[bytes]:
    """Cuts data at random places."""
    while data:
        size = chance.randint(1, len(data))
        yield data[:size]
        data = data[size:]
