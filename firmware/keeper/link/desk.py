"""The order desk: who may order, and the one order that waits.

What all lines of one board share.  A line lays an order on the desk and has
answered before it is judged: `step`, called between scans, does one short
piece at a time (two halves of the signature, the comparison, the order), so
that no client can hold anything up.  Nothing here runs in a scan.

An order carries the board's nonce and its own number; both change with every
order that passes, and the nonce also with every start and every NONCE_LIFE_DS.
With a key on the board only orders signed with it pass.  Without one, orders
pass on the line at the board itself (USB) only, and never the reset of a
lockout.  A key that cannot be read lets nothing pass.
"""

import hashlib
import os
import struct

from keeper.link import hmac, signing
from keeper.operation import orders
from keeper.link.identity import Identity
from keeper.link.layout import (
    BLOCK_A, BLOCK_B, BLOCK_CODE, BLOCK_KEY_ID, BLOCK_NONCE, BLOCK_NUMBER, BLOCK_SIGNATURE,
    BLOCK_TAG, ORDER_WORDS)

NONCE_LIFE_DS = 600     # an order that was held back for longer is stale

# Whether the board has a key.
NO_KEY, HAS_KEY, BAD_KEY = 0, 1, 2
# What became of the last order.
NEVER, WAITS, JUDGED, REFUSED = 0, 1, 2, 3
# Why an order did not get as far as the keeper; each is counted.
(PASSED, UNSIGNED, OTHER_KEY, ALTERED, REPLAYED, STALE, ONLY_USB, KEY_UNREADABLE) = range(8)
REASONS = 8
# Where chance is missing, a nonce still never comes twice: boot and number are in it.
CHANCE = getattr(os, "urandom", bytes)
U16_MOST = 0xFFFF
U32_MOST = 0xFFFFFFFF
# Pieces of the work.
IDLE, INNER, OUTER, COMPARE, CARRY_OUT = range(5)


class Desk:
    """The desk of one board.

    Attributes: identity; key_state (NO_KEY, HAS_KEY, BAD_KEY); key_id, 0
    without a key; passed, orders that passed since the start; state (NEVER,
    WAITS, JUDGED, REFUSED), tag, code, result and gate of the last order;
    counts, of refusals by reason.
    """

    def __init__(self, keeper, key=None, random=CHANCE, identity=None):
        """Serve a keeper.

        key: KEY_BYTES, None without one, b"" if it cannot be read; random:
        gives n random bytes.
        """
        self.keeper = keeper
        self.identity = identity or Identity()
        self.random = random
        self._key = key or b""
        self.key_state = NO_KEY if key is None else HAS_KEY if key else BAD_KEY
        self.key_id = signing.key_id(key) if key else signing.NO_KEY_ID
        self.passed = 0
        self.state = NEVER
        self.tag = self.code = self.result = self.gate = 0
        self.counts = [0] * REASONS
        self.block = bytearray(2 * ORDER_WORDS)  # the order that waits
        self.local = False       # it came over the line at the board itself
        self.piece = IDLE
        self.digest = b""        # of the half that is done
        self._nonce = bytes(signing.NONCE_BYTES)
        self._nonce_ds = 0       # uptime at which it was made
        self._renew()

    def nonce(self):
        """Return the nonce [NONCE_BYTES] that an order must carry now."""
        if self.keeper.uptime_ds - self._nonce_ds >= NONCE_LIFE_DS and self.piece == IDLE:
            self._renew()
        return self._nonce

    def _renew(self):
        """Make a nonce that never was: chance, mixed with what does not come twice."""
        keeper = self.keeper
        mixed = hashlib.sha256(self.random(2 * signing.NONCE_BYTES))
        mixed.update(self._nonce)
        mixed.update(struct.pack(">III", keeper.journal.boot & U32_MOST,
                                 keeper.uptime_ds & U32_MOST, self.passed))
        self._nonce = mixed.digest()[:signing.NONCE_BYTES]
        self._nonce_ds = keeper.uptime_ds

    def is_free(self):
        """Return whether no order waits."""
        return self.piece == IDLE

    def take(self, block, local):
        """Lay an order [2 * ORDER_WORDS bytes] on the free desk; local: it came over USB."""
        self.nonce()
        self.block[:] = block
        self.local = local
        self.tag, = struct.unpack_from(">I", block, 2 * BLOCK_TAG)
        self.code, = struct.unpack_from(">H", block, 2 * BLOCK_CODE)
        self.result = 0
        self.gate = PASSED
        self.state = WAITS
        # What names another key, or none, is not worth the work of a signature.
        named = self._number(BLOCK_KEY_ID, 2)
        self.piece = INNER if self.key_state == HAS_KEY and named == self.key_id else COMPARE

    def step(self):
        """Do one piece of the work that waits; return whether there was one.  Not for a scan."""
        piece = self.piece
        if piece == IDLE:
            return False
        if piece == INNER:
            self.digest = hmac.inner(self._key, self._message())
            self.piece = OUTER
        elif piece == OUTER:
            self.digest = hmac.outer(self._key, self.digest)
            self.piece = COMPARE
        elif piece == COMPARE:
            self._judge()
        else:
            self._carry_out()
        return True

    def _number(self, place, words):
        code = ">H" if words == 1 else ">I"
        return struct.unpack_from(code, self.block, 2 * place)[0]

    def _arguments(self):
        return (struct.unpack_from(">i", self.block, 2 * BLOCK_A)[0],
                struct.unpack_from(">i", self.block, 2 * BLOCK_B)[0])

    def _sent_nonce(self):
        return bytes(self.block[2 * BLOCK_NONCE:2 * BLOCK_NONCE + signing.NONCE_BYTES])

    def _message(self):
        a, b = self._arguments()
        return signing.order_message(self._sent_nonce(), self._number(BLOCK_NUMBER, 2),
                                     self.tag, self.code, a, b)

    def _judge(self):
        """Let the order pass or refuse it, with the reason counted."""
        gate = self._gate()
        if gate != PASSED:
            self.gate = gate
            self.state = REFUSED
            self.counts[gate] = min(U16_MOST, self.counts[gate] + 1)
            self._clear()
            return
        self.piece = CARRY_OUT

    def _gate(self):
        """Return PASSED or why the order must not pass."""
        gate = self._signature_gate()
        if gate != PASSED:
            return gate
        if self._number(BLOCK_NUMBER, 2) <= self.passed:
            return REPLAYED
        fresh = (hmac.are_same(self._sent_nonce(), self._nonce)
                 and self._number(BLOCK_NUMBER, 2) == self.passed + 1)
        return PASSED if fresh else STALE

    def _signature_gate(self):
        if self.key_state == BAD_KEY:
            return KEY_UNREADABLE
        if self.key_state == NO_KEY:
            if not self.local:
                return ONLY_USB
            return UNSIGNED if self.code == orders.RESET else PASSED
        named = self._number(BLOCK_KEY_ID, 2)
        if named == signing.NO_KEY_ID:
            return UNSIGNED
        if named != self.key_id:
            return OTHER_KEY
        signature = self.block[2 * BLOCK_SIGNATURE:2 * BLOCK_SIGNATURE + hmac.DIGEST_BYTES]
        return PASSED if hmac.are_same(signature, self.digest) else ALTERED

    def _carry_out(self):
        """Hand the order to the keeper; whatever it says, the order is used up."""
        a, b = self._arguments()
        self.passed = min(U32_MOST, self.passed + 1)
        self._renew()
        self._clear()
        self.result = self.keeper.order(self.code, a, b)
        self.state = JUDGED

    def _clear(self):
        self.piece = IDLE
        self.digest = b""
        for place in range(len(self.block)):
            self.block[place] = 0
