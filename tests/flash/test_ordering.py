"""Orders to a board that names no rig: signed with the key that it names, or not at all."""

import types

import pytest

from forebay.dispatch import DispatchError, keys, sending
from forebay.flash import ordering
from forebay.wire.client import NoAnswer
from keeper.link import desk
from keeper.operation import orders
from tests.link.orders import signature

NONCE = bytes(range(16))
PASSED = 41
WISH = (orders.MAINTAIN, 2, 1)


class Board:
    """A board that shows registers; what is written to it is kept."""

    BEFORE = ({"order_state": desk.REFUSED, "last_result": 0, "last_gate": desk.STALE},
              {"order_state": desk.JUDGED, "last_result": orders.RUNS, "last_gate": 0})

    def __init__(self, key_id, safe_reason=1, outcome=(desk.JUDGED, orders.DONE, 0), after=0):
        """outcome: (order_state, last_result, last_gate); after: looks before it is there."""
        self.port = "port"
        self.live = {"order_nonce": int.from_bytes(NONCE), "orders_passed": PASSED,
                     "key_id": key_id, "safe_reason": safe_reason}
        self.outcome, self.after = outcome, after
        self.written = []

    def __enter__(self):
        return self

    def __exit__(self, *_):
        pass

    def write(self, address, words):
        self.written.append((address, list(words)))

    def values(self, *names):
        if names[0] == "order_nonce":
            return {name: self.live[name] for name in names}
        if isinstance(self.outcome, Exception):
            raise self.outcome
        tag = self.written[-1][1][1] << 16 | self.written[-1][1][2]
        self.after -= 1
        if self.after >= 0:  # meanwhile it shows what became of somebody else's order
            return self.BEFORE[self.after % 2] | {"last_tag": tag ^ 1}
        state, result, gate = self.outcome
        return {"order_state": state, "last_tag": tag, "last_result": result, "last_gate": gate}


@pytest.fixture
def key():
    return keys.ensure(77)


@pytest.fixture
def order(monkeypatch, key):
    """Orders a board that says nothing of its rig; returns what came of it."""
    now = [100.0]
    monkeypatch.setattr(ordering, "time", types.SimpleNamespace(
        monotonic=lambda: now[0], sleep=lambda s: now.__setitem__(0, now[0] + s)))

    def fail(*_):
        raise DispatchError("no key for rig 0")

    monkeypatch.setattr(sending, "order", fail)

    def order(board):
        monkeypatch.setattr(ordering, "Board", lambda port: board)
        return ordering.order_with(key)("port", *WISH)

    order.now = now
    return order


def test_a_board_in_safe_mode_that_names_this_key_takes_an_order_signed_with_it(order, key):
    board = Board(key.id, after=3)
    assert order(board) == orders.DONE
    [(address, words)] = board.written
    tag = words[1] << 16 | words[2]
    data = b"".join(word.to_bytes(2) for word in words)
    assert address == 0
    assert data[-34:-2] == signature(key.secret, NONCE, PASSED + 1, tag, *WISH)


@pytest.mark.parametrize(("other_key", "safe_reason"), [(1, 1), (0, 0), (1, 0)])
def test_without_this_key_or_out_of_safe_mode_it_is_not_tried(order, key, other_key, safe_reason):
    board = Board(key.id + other_key, safe_reason)
    with pytest.raises(DispatchError, match="no key for rig 0"):
        order(board)
    assert board.written == []


def test_what_the_keeper_said_is_handed_on(order, key):
    assert order(Board(key.id, outcome=(desk.JUDGED, orders.RUNS, 0))) == orders.RUNS


def test_a_refusal_of_the_desk_is_told(order, key):
    with pytest.raises(DispatchError, match="refuses the order: "):
        order(Board(key.id, outcome=(desk.REFUSED, 0, desk.STALE)))


def test_a_board_that_left_at_once_has_done_it(order, key):
    assert order(Board(key.id, outcome=NoAnswer("silence"))) == orders.DONE


def test_an_order_that_is_never_judged_is_told_after_ten_seconds(order, key):
    began_s = order.now[0]
    with pytest.raises(DispatchError, match="does not say what became of the order"):
        order(Board(key.id, after=10_000))
    assert 10 <= order.now[0] - began_s <= 11


def test_a_board_that_names_its_rig_is_ordered_as_ever(monkeypatch, key):
    monkeypatch.setattr(sending, "order", lambda *words: words)
    assert ordering.order_with(key)("port", *WISH) == ("port", *WISH)
