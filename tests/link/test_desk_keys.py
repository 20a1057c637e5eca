"""Boards without a key, or with one that is none: what may be ordered all the same."""

import types

import pytest

from keeper.link import desk, signing
from keeper.link.rtu import Link
from keeper.link.signing import read_key
from keeper.operation import orders
from tests.link.orders import REFUSED, Sender
from tests.link.rig import KEY, Rig

DONE = (desk.JUDGED, desk.PASSED, orders.DONE)
MINUTES = 30


def refused(gate: int) -> tuple[int, int, int]:
    return REFUSED, gate, 0


def held(rig) -> int:
    """What the order `light` of these tests brings about [0.1 s]."""
    return rig.keeper.core.sequence.light.ordered_periods


def nothing_happened(rig) -> bool:
    return held(rig) == 0 and rig.desk.passed == 0


@pytest.fixture
def keyless(tmp_path) -> Rig:
    rig = Rig(str(tmp_path / "j"), None)
    rig.run(5)
    return rig


def test_without_a_key_orders_pass_over_usb_only(keyless):
    away = Sender(keyless.link())
    assert away.order(orders.LIGHT, 600, MINUTES) == refused(desk.ONLY_USB)
    assert nothing_happened(keyless)
    assert Sender(keyless.link(local=True)).order(orders.LIGHT, 600, MINUTES) == DONE
    assert held(keyless) == MINUTES * 600


def test_without_a_key_no_lockout_is_reset_over_any_wire(keyless):
    local = Sender(keyless.link(local=True))
    assert local.order(orders.RESET, 1) == refused(desk.UNSIGNED)
    assert local.read("orders_passed") == 0


def test_without_a_key_an_order_cannot_be_sent_again_either(keyless):
    local = Sender(keyless.link(local=True))
    words = local.words(orders.LIGHT, 600, MINUTES)
    local.send(words)
    assert local.outcome() == DONE
    local.send(words)
    assert local.outcome() == refused(desk.REPLAYED)


def test_a_key_that_is_none_lets_nothing_pass_on_any_line(tmp_path):
    rig = Rig(str(tmp_path / "j"), b"")
    for sender in (Sender(rig.link(local=True)), Sender(rig.link(local=True), KEY),
                   Sender(rig.link(), KEY)):
        assert sender.order(orders.LIGHT, 600, MINUTES) == refused(desk.KEY_UNREADABLE)
    assert nothing_happened(rig)


def test_a_link_that_nobody_gave_a_desk_lets_no_order_pass(keyless):
    lonely = Sender(Link(keyless.keeper, keyless.journal))
    assert lonely.order(orders.LIGHT, 600, MINUTES) == refused(desk.ONLY_USB)


def test_the_key_is_read_whole_or_counts_as_unreadable(tmp_path):
    path = tmp_path / "key"
    assert read_key(str(path)) is None
    for content, expected in ((KEY, KEY), (KEY[:-1], b""), (KEY + b"\n", b""), (b"", b"")):
        path.write_bytes(content)
        assert read_key(str(path)) == expected
    assert read_key(str(tmp_path)) == b""  # a folder in its place


def test_a_key_never_has_the_name_that_says_unsigned(monkeypatch):
    """One key in four thousand million would: here the hash is one that begins with zeros."""
    hashed = types.SimpleNamespace(digest=lambda: bytes(4) + bytes(range(28)))
    monkeypatch.setattr(signing, "hashlib", types.SimpleNamespace(sha256=lambda data: hashed))
    assert signing.key_id(KEY) == 1 != signing.NO_KEY_ID
