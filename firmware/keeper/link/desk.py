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
    BLOCK_GO, BLOCK_NONCE, BLOCK_SIGNATURE, ORDER_HEAD, ORDER_WORDS, REGISTERS_END)

NONCE_LIFE_DS = 600     # an order that was held back for longer is stale

# Whether the board has a key.
NO_KEY, HAS_KEY, BAD_KEY = 0, 1, 2
# What became of the last order that the keeper judged; one waits.
NEVER, WAITS, JUDGED = 0, 1, 2
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
    without a key; passed, orders that passed since the start; tag, code and
    result of the last order that the keeper judged; refused_tag and gate of the
    last that did not get there; counts, of refusals by reason;
    image, what the lines answer from, one request at a time.
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
        self.tag = self.code = self.result = self.gate = self.refused_tag = 0
        self.counts = [0] * REASONS
        self.image = bytearray(2 * REGISTERS_END)  # reserved registers stay 0
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

    def state(self):
        """Return NEVER, WAITS or JUDGED."""
        return WAITS if self.piece else JUDGED if self.passed else NEVER

    def take(self, block, local):
        """Lay an order [2 * ORDER_WORDS bytes] on the free desk; local: it came over USB."""
        self.nonce()
        self.block[:] = block
        self.local = local
        named = self._head()[5]
        # What names another key, or none, is not worth the work of a signature.
        self.piece = INNER if self.key_state == HAS_KEY and named == self.key_id else COMPARE

    def step(self):
        """Do one piece of the work that waits; return whether there was one.  Not for a scan."""
        piece = self.piece
        if piece == IDLE:
            return False
        if piece == INNER:
            self.digest = hmac.inner(self._key, signing.order_message(self.block))
            self.piece = OUTER
        elif piece == OUTER:
            self.digest = hmac.outer(self._key, self.digest)
            self.piece = COMPARE
        elif piece == COMPARE:
            self._judge()
        else:
            self._carry_out()
        return True

    def _head(self):
        """Return (code, tag, a, b, number, name of the key) of the order."""
        return struct.unpack_from(ORDER_HEAD, self.block)

    def _judge(self):
        """Let the order pass or refuse it, with the reason counted."""
        gate = self._gate()
        if gate != PASSED:
            self.gate = gate
            self.refused_tag = self._head()[1]
            self.counts[gate] = min(U16_MOST, self.counts[gate] + 1)
            self._clear()
            return
        self.piece = CARRY_OUT

    def _gate(self):
        """Return PASSED or why the order must not pass."""
        code, _, _, _, number, named = self._head()
        gate = self._signature_gate(code, named)
        if gate != PASSED:
            return gate
        if number <= self.passed:
            return REPLAYED
        sent_nonce = self.block[2 * BLOCK_NONCE:2 * BLOCK_SIGNATURE]
        fresh = hmac.are_same(sent_nonce, self._nonce) and number == self.passed + 1
        return PASSED if fresh else STALE

    def _signature_gate(self, code, named):
        if self.key_state == BAD_KEY:
            return KEY_UNREADABLE
        if self.key_state == NO_KEY:
            if not self.local:
                return ONLY_USB
            return UNSIGNED if code == orders.RESET else PASSED
        if named == signing.NO_KEY_ID:
            return UNSIGNED
        if named != self.key_id:
            return OTHER_KEY
        signature = self.block[2 * BLOCK_SIGNATURE:2 * BLOCK_GO]
        return PASSED if hmac.are_same(signature, self.digest) else ALTERED

    def _carry_out(self):
        """Hand the order to the keeper; whatever it says, the order is used up."""
        code, tag, a, b, _, _ = self._head()
        self.passed = min(U32_MOST, self.passed + 1)
        self._renew()
        self._clear()
        self.result = self.keeper.order(code, a, b)
        self.code = code
        self.tag = tag

    def _clear(self):
        self.piece = IDLE
        self.digest = b""
        for place in range(len(self.block)):
            self.block[place] = 0
