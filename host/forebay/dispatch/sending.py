"""Sending an order: read the board's nonce, sign, write, and read what became of it.

An answer or an order that is lost costs nothing: the order's tag tells whether
it was taken, and a nonce lets none be carried out twice.  It must not know what
an order means.
"""

import secrets
import struct
import time
from dataclasses import dataclass

from forebay.dispatch import keys
from forebay.dispatch.errors import DispatchError
from forebay.wire.client import Board, NoAnswer
from forebay.words.link import GATE
from forebay.words.operation import WAY_IN
from keeper.link import desk, layout
from keeper.link.hmac import DIGEST_BYTES
from keeper.link.signing import NO_KEY_ID, NONCE_BYTES, sign
from keeper.operation import orders

# An order is judged within some scans; a write to flash may come between.
JUDGED_S = 5.0
LOOK_S = 0.02
# Another sender's order may have passed since the nonce was read.
TRIES = 3
TAG_BITS = 32
GO = b"\x00\x01"  # in the last register: judge it


@dataclass(frozen=True)
class Outcome:
    """What became of an order.

    result: 0 or a number of `forebay.words.operation.REFUSALS`; signed: with the rig's
    key; gone: the board left its program before its result could be read.
    """

    code: int
    a: int
    b: int
    result: int
    signed: bool
    gone: bool = False


def send(board: Board, code: int, a: int = 0, b: int = 0) -> Outcome:
    """Send an order of `keeper.operation.orders` to a board and return what its keeper said.

    Raises DispatchError if it does not get as far as the keeper.
    """
    gate = desk.STALE
    for _ in range(TRIES):
        outcome, gate = _once(board, code, a, b)
        if outcome is not None:
            return outcome
        if gate not in (desk.STALE, desk.REPLAYED):
            break
    raise DispatchError(f"the board at {board.port} refuses the order: "
                        f"{GATE.get(gate, f'an unknown reason ({gate})')}")


def order(port: str, code: int, a: int = 0, b: int = 0, unit: int | None = None) -> int:
    """Send an order over a port; return 0 or the number of the keeper's refusal.

    Raises DispatchError or WireError if it does not get as far as the keeper.
    """
    with Board(port, unit) as board:
        return send(board, code, a, b).result


def _once(board, code, a, b):
    """Send once; return (outcome, 0), or (None, why the desk refused it)."""
    live = board.values("rig_id", "order_nonce", "orders_passed", "key_state", "key_id")
    key = _key_for(board, live)
    tag = secrets.randbits(TAG_BITS)
    words = block(key, live["order_nonce"].to_bytes(NONCE_BYTES), live["orders_passed"] + 1, tag,
                  code, a, b)
    leaves = code == orders.MAINTAIN and a and b
    try:
        _lay(board, words, tag, live["order_nonce"])
        gate, result = _wait(board, tag)
    except NoAnswer:
        if leaves:
            return Outcome(code, a, b, orders.DONE, key is not None, gone=True), 0
        raise
    if gate != desk.PASSED:
        return None, gate
    return Outcome(code, a, b, result, key is not None), desk.PASSED


def _lay(board, words, tag, nonce):
    """Write an order's words; write them again while the board shows that they never came.

    A board that judged or refused them shows their tag; one that started anew, another nonce.
    """
    for _ in range(TRIES):
        try:
            return board.write(0, words)
        except NoAnswer:
            seen = board.values("last_tag", _refused_tag(board), "order_nonce")
            if tag in (seen["last_tag"], seen[_refused_tag(board)]) or (
                    seen["order_nonce"] != nonce):
                return None
    return None


def _refused_tag(board):
    """Return the register that holds the tag of an order that a desk refused."""
    return "refused_tag" if board.has("refused_tag") else "last_tag"


def _wait(board, tag):
    """Return (PASSED or why the desk refused the order of a tag, what the keeper said)."""
    end = time.monotonic() + JUDGED_S
    while True:
        seen = board.values("order_state", "last_tag", "last_result", "last_gate",
                            _refused_tag(board))
        if seen["last_tag"] == tag and seen["order_state"] == desk.JUDGED:
            return desk.PASSED, seen["last_result"]
        if seen[_refused_tag(board)] == tag and seen["order_state"] != desk.WAITS:
            return seen["last_gate"], 0
        if time.monotonic() > end:
            raise DispatchError(f"the board at {board.port} does not say what became of the"
                                " order: look whether it took effect before you repeat it")
        time.sleep(LOOK_S)


def _key_for(board, live):
    """Return the key that the board wants, None if it has none."""
    if live["key_state"] == desk.NO_KEY:
        return None
    if live["key_state"] == desk.BAD_KEY:
        raise DispatchError(f"the board at {board.port} takes no orders: its key is unreadable;"
                            " flash it anew")
    key = keys.maybe_key(live["rig_id"])
    if key is None or key.id != live["key_id"]:
        key = keys.maybe_key_named(live["key_id"]) or key
    where = keys.path(live["rig_id"])
    advice = f"copy it from the computer that flashed the board, or {WAY_IN} and flash anew"
    if key is None:
        raise DispatchError(f"the board at {board.port} wants signed orders, and there is no key"
                            f" of rig {live['rig_id']} at {where}: {advice}")
    if key.id != live["key_id"]:
        raise DispatchError(f"the board at {board.port} has another key than {where}: {advice}")
    return key


def block(key: keys.Key | None, nonce: bytes, number: int, tag: int, code: int, a: int,
          b: int) -> list[int]:
    """Return the words of an order, in the order of `keeper.link.layout.ORDER_ROWS`.

    nonce, number: the board's nonce, and its count of orders plus one; tag:
    any number [u32].  Raises DispatchError if a number does not fit its type.
    """
    try:
        data = struct.pack(layout.ORDER_HEAD, code, tag, a, b, number,
                           key.id if key else NO_KEY_ID) + nonce
    except struct.error as error:
        raise DispatchError(f"order {code} with {a} and {b} does not fit: {error}") from error
    data += sign(key.secret, data) if key else bytes(DIGEST_BYTES)
    return list(struct.unpack(f">{layout.ORDER_WORDS}H", data + GO))
