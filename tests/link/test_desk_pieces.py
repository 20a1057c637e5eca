"""The desk itself, piece by piece: what it spends on an order, forgets, and keeps apart."""

import hashlib
import hmac
import struct

import pytest

from keeper.link import desk, layout, signing
from keeper.operation import orders
from tests.link.orders import order_words
from tests.link.rig import KEY, OTHER_KEY, Rig

MINUTES = 30
MINUTE_DS = 600


@pytest.fixture
def rig(tmp_path) -> Rig:
    rig = Rig(str(tmp_path / "j"), KEY)
    rig.run(5)
    return rig


def block(rig, tag=1, key=KEY, code=orders.LIGHT, a=600, b=MINUTES) -> bytes:
    """Returns a good order for now, as the registers that a link lays on the desk."""
    words = order_words(rig.desk.nonce(), rig.desk.passed + 1, tag, code, a, b, key)
    return b"".join(word.to_bytes(2) for word in words[:desk.ORDER_WORDS])


def pieces(rig) -> int:
    """Does all the work that waits; returns how many pieces that were."""
    count = 0
    while rig.desk.step():
        count += 1
    return count


def outcome(rig):
    return rig.desk.state(), rig.desk.gate, rig.desk.result


DONE = (desk.JUDGED, desk.PASSED, orders.DONE)


def test_a_nonce_that_ages_while_its_order_waits_serves_to_the_end(rig):
    rig.keeper.core.uptime_ds = MINUTE_DS - 1
    rig.desk.take(block(rig), False)
    rig.keeper.core.uptime_ds += 1
    before = rig.desk.nonce()  # as a client that reads the registers meanwhile
    assert pieces(rig) == 4
    assert outcome(rig) == DONE
    assert rig.desk.nonce() != before


def test_an_order_that_is_laid_down_after_the_minute_is_stale_though_nobody_read_since(rig):
    words = block(rig)
    rig.keeper.core.uptime_ds = MINUTE_DS
    rig.desk.take(words, False)
    pieces(rig)
    assert outcome(rig) == (desk.NEVER, desk.STALE, 0)


def test_a_new_nonce_serves_for_a_minute_of_its_own(rig):
    rig.keeper.core.uptime_ds = 5 * MINUTE_DS + 7
    first = rig.desk.nonce()
    rig.keeper.core.uptime_ds += MINUTE_DS - 1
    assert rig.desk.nonce() == first
    rig.keeper.core.uptime_ds += 1
    assert rig.desk.nonce() != first


@pytest.mark.parametrize(("key", "gate"), [(OTHER_KEY, desk.OTHER_KEY), (None, desk.UNSIGNED)])
def test_what_names_another_key_or_none_costs_no_signature(rig, key, gate):
    rig.desk.take(block(rig, key=key), False)
    assert pieces(rig) == 1
    assert outcome(rig) == (desk.NEVER, gate, 0)
    assert sum(rig.desk.counts) == rig.desk.counts[gate] == 1


def test_a_board_without_a_key_works_out_no_signature(tmp_path):
    rig = Rig(str(tmp_path / "j"), None)
    rig.desk.take(block(rig), True)
    assert pieces(rig) == 2
    assert outcome(rig) == DONE


@pytest.mark.parametrize("key", [OTHER_KEY, None])
def test_what_the_desk_refuses_leaves_what_became_of_the_last_order(rig, key):
    rig.desk.take(block(rig, tag=7, a=1), False)
    pieces(rig)
    for tag in range(8, 208):
        rig.desk.take(block(rig, tag=tag, key=key, code=orders.BRIGHTNESS, a=2), False)
        assert rig.desk.state() == desk.WAITS
        pieces(rig)
        assert (rig.desk.tag, rig.desk.code) == (7, orders.LIGHT)
        assert (rig.desk.state(), rig.desk.result) == (desk.JUDGED, orders.NOT_USEFUL)
        assert rig.desk.refused_tag == tag


def test_an_order_that_waits_shows_nothing_before_it_is_judged(rig):
    rig.desk.take(block(rig, tag=7, a=1), False)
    pieces(rig)
    rig.desk.take(block(rig, tag=8, code=orders.BRIGHTNESS, a=2), False)
    assert (rig.desk.tag, rig.desk.code) == (7, orders.LIGHT)
    assert outcome(rig) == (desk.WAITS, desk.PASSED, orders.NOT_USEFUL)
    assert not rig.desk.is_free()
    pieces(rig)
    assert (rig.desk.tag, rig.desk.code) == (8, orders.BRIGHTNESS)


@pytest.mark.parametrize("key", [KEY, OTHER_KEY])
def test_of_an_order_that_was_judged_no_word_stays_on_the_desk(rig, key):
    rig.desk.take(block(rig, key=key), False)
    assert any(rig.desk.block)
    pieces(rig)
    assert not any(rig.desk.block)
    assert rig.desk.digest == b""
    assert rig.desk.is_free()


def test_a_signature_is_not_left_for_the_next_order(rig):
    """Else a half that was worked out for one order would stand for another one's."""
    rig.desk.take(block(rig), False)
    pieces(rig)
    rig.keeper.core.sequence.light.release()
    forged = bytearray(block(rig, b=MINUTES + 1))
    forged[2 * layout.BLOCK_SIGNATURE:2 * layout.BLOCK_SIGNATURE + 32] = bytes(32)
    rig.desk.take(forged, False)
    pieces(rig)
    assert outcome(rig) == (desk.JUDGED, desk.ALTERED, orders.DONE)


def test_an_order_that_the_keeper_refuses_is_used_up_all_the_same(rig):
    words = block(rig, a=1)
    rig.desk.take(words, False)
    pieces(rig)
    assert outcome(rig) == (desk.JUDGED, desk.PASSED, orders.NOT_USEFUL)
    assert rig.desk.passed == 1
    rig.desk.take(words, False)
    pieces(rig)
    assert outcome(rig) == (desk.JUDGED, desk.REPLAYED, orders.NOT_USEFUL)


def test_a_refused_order_uses_neither_its_number_nor_its_nonce_up(rig):
    nonce = rig.desk.nonce()
    rig.desk.take(block(rig, key=OTHER_KEY), False)
    pieces(rig)
    assert (rig.desk.nonce(), rig.desk.passed) == (nonce, 0)


def test_an_empty_desk_has_no_work(rig):
    assert rig.desk.state() == desk.NEVER
    assert not rig.desk.step()
    assert rig.desk.is_free()


def test_the_head_of_an_order_is_read_as_its_rows_say():
    """struct's letters: H u16, I u32, i i32 (Python's library reference)."""
    letters = {"u16": "H", "u32": "I", "i32": "i"}
    rows = layout.ORDER_ROWS[:layout.ORDER_ROWS.index(("order_sent_nonce", "u128"))]
    assert layout.ORDER_HEAD == ">" + "".join(letters[kind] for _, kind in rows)
    assert struct.calcsize(layout.ORDER_HEAD) == 2 * layout.BLOCK_NONCE


def test_a_key_has_a_name_and_an_access_point_has_a_password_by_published_sums(rig):
    """SHA-256 and HMAC of Python's own library."""
    assert signing.key_id(KEY) == int.from_bytes(hashlib.sha256(b"forebay key" + KEY).digest()[:4])
    digest = hmac.digest(KEY, b"forebay access point", "sha256")
    assert signing.access_password(KEY) == digest[:8].hex()
    assert rig.desk.key_id == signing.key_id(KEY)


def test_whether_a_board_has_a_key_is_told_with_its_name(tmp_path):
    states = [(Rig(str(tmp_path / "j"), key).desk.key_state,
               Rig(str(tmp_path / "j"), key).desk.key_id) for key in (None, b"", KEY)]
    assert states == [(desk.NO_KEY, 0), (desk.BAD_KEY, 0), (desk.HAS_KEY, signing.key_id(KEY))]
