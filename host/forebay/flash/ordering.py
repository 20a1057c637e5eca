"""Orders to the board that is flashed, also where it cannot say whose it is.

A board whose settings are unreadable names no rig, so that nobody finds its
key by that; but it names its key, and whoever flashes it holds one.
"""

import secrets
import time

from forebay.dispatch import DispatchError, keys, sending
from forebay.flash.running import Order
from forebay.wire.client import Board, NoAnswer
from forebay.words.link import GATE
from keeper.link import desk
from keeper.link.signing import NONCE_BYTES
from keeper.operation import orders

JUDGED_S = 10.0
LOOK_S = 0.05
TAG_BITS = 32


def order_with(key: keys.Key) -> Order:
    """Return how to order a board as `forebay.dispatch` does, or else with this key."""

    def order(port, code, a, b):
        try:
            return sending.order(port, code, a, b)
        except DispatchError:
            with Board(port) as board:
                live = board.values("order_nonce", "orders_passed", "key_id", "safe_reason")
                if live["key_id"] != key.id or not live["safe_reason"]:
                    raise
                return _signed(board, key, live, (code, a, b))

    return order


def _signed(board, key, live, wish):
    """Send a signed order; return what the keeper said, DONE if it left at once."""
    tag = secrets.randbits(TAG_BITS)
    words = sending.block(key, live["order_nonce"].to_bytes(NONCE_BYTES),
                          live["orders_passed"] + 1, tag, *wish)
    end = time.monotonic() + JUDGED_S
    try:
        board.write(0, words)
        while time.monotonic() < end:
            seen = board.values("order_state", "last_tag", "last_result", "last_gate")
            if seen["last_tag"] == tag and seen["order_state"] == desk.JUDGED:
                return seen["last_result"]
            if seen["last_tag"] == tag and seen["order_state"] == desk.REFUSED:
                raise DispatchError(f"the board at {board.port} refuses the order:"
                                    f" {GATE[seen['last_gate']]}")
            time.sleep(LOOK_S)
    except NoAnswer:
        return orders.DONE  # it has left, or will be found where it is
    raise DispatchError(f"the board at {board.port} does not say what became of the order")
