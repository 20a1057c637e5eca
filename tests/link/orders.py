"""Orders as a sender puts them together, from the map's meaning and not by the firmware's code.

The signature is the standard library's.
"""

import hashlib
import hmac
import struct

from forebay.wire import registers
from keeper.link import layout
from tests.link.frames import frame, pdu_of, read_registers, write_many


def signature(key: bytes, nonce: bytes, number: int, tag: int, code: int, a: int, b: int) -> bytes:
    """Returns the HMAC of what is signed: purpose, nonce, number, tag, code, arguments."""
    text = b"forebay order 1" + nonce + struct.pack(">IIHii", number, tag, code, a, b)
    return hmac.digest(key, text, hashlib.sha256)


def order_words(nonce, number, tag, code, a=0, b=0, key=None, go=1) -> list[int]:
    """Returns the 36 registers of an order."""
    named = 0
    signed = bytes(32)
    if key is not None:
        named = int.from_bytes(hashlib.sha256(b"forebay key" + key).digest()[:4])
        signed = signature(key, nonce, number, tag, code, a, b)
    data = struct.pack(">HIiiII", code, tag, a, b, number, named) + nonce + signed
    return [*struct.unpack(f">{len(data) // 2}H", data), go]


REFUSED = 3  # what became of an order, beside the desk's own JUDGED


class Sender:
    """Asks a link of the firmware directly; time stands still unless told."""

    def __init__(self, link, key=None):
        self.link = link
        self.key = key
        self.now_ms = 0
        self.tag = 0
        self.refusals = 0  # that the desk had counted before the order

    def ask(self, pdu: bytes) -> bytes:
        """Returns the reply's PDU."""
        self.link.feed(frame(pdu, self.link.unit), self.now_ms)
        return pdu_of(self.link.poll(self.now_ms), self.link.unit)

    def read(self, name: str) -> int:
        """Returns one input register by name."""
        [row] = [row for row in registers.INPUT_REGISTERS if row[1] == name]
        reply = self.ask(read_registers(row[0], layout.WORDS[row[2]]))
        return int.from_bytes(reply[2:], signed=row[2][0] == "i")

    def words(self, code, a=0, b=0, number=None) -> list[int]:
        """Returns the registers of a good order for now."""
        self.tag += 1
        nonce = self.read("order_nonce").to_bytes(16)
        if number is None:
            number = self.read("orders_passed") + 1
        return order_words(nonce, number, self.tag, code, a, b, self.key)

    def send(self, words) -> bytes:
        """Writes an order and lets it be judged; returns the reply to the writing."""
        self.refusals = sum(self.link.answers.desk.counts)
        reply = self.ask(write_many(0, words))
        self.work()
        return reply

    def work(self):
        """Lets the board do all of its pieces."""
        for _ in range(8):
            self.link.poll(self.now_ms)

    def order(self, code, a=0, b=0) -> tuple[int, int, int]:
        """Sends a good order; returns what became of it: see `outcome`."""
        self.send(self.words(code, a, b))
        return self.outcome()

    def outcome(self) -> tuple[int, int, int]:
        """Returns (REFUSED, last_gate, 0) if it was counted so, else (order_state, 0, result)."""
        if sum(self.link.answers.desk.counts) > self.refusals:
            return REFUSED, self.read("last_gate"), 0
        return self.read("order_state"), 0, self.read("last_result")
