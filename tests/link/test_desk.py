"""Who may order: signatures, nonces, numbers, and the one order that waits."""

import random

import pytest

from keeper.link import desk, layout
from keeper.link.desk import Desk
from keeper.operation import orders
from tests.link.frames import frame, pdu_of, read_holding, write_many, write_one
from tests.link.orders import REFUSED, Sender, order_words
from tests.link.rig import KEY, OTHER_KEY, Rig, chance

DONE = (desk.JUDGED, desk.PASSED, orders.DONE)
MINUTES = 30


@pytest.fixture
def rig(tmp_path) -> Rig:
    """A keeper with a key."""
    rig = Rig(str(tmp_path / "j"), KEY)
    rig.run(5)
    return rig


@pytest.fixture
def sender(rig) -> Sender:
    return Sender(rig.link(), KEY)


def refused(gate: int) -> tuple[int, int, int]:
    return REFUSED, gate, 0


def held(rig) -> int:
    """What the order `light` of these tests brings about [0.1 s]."""
    return rig.keeper.core.sequence.light.ordered_periods


def nothing_happened(rig) -> bool:
    return held(rig) == 0 and rig.desk.passed == 0


def test_a_signed_order_is_carried_out_and_its_result_can_be_read(rig, sender):
    assert sender.order(orders.LIGHT, 600, MINUTES) == DONE
    assert held(rig) == MINUTES * 600
    assert sender.read("light_held_ds") == MINUTES * 600
    assert sender.read("last_tag") == sender.tag
    assert sender.read("last_code") == orders.LIGHT
    assert sender.read("orders_passed") == 1


def test_what_the_keeper_refuses_is_told_by_its_number(sender):
    assert sender.order(orders.LIGHT, 1, 30) == (desk.JUDGED, 0, orders.NOT_USEFUL)
    assert sender.order(77) == (desk.JUDGED, 0, orders.UNKNOWN)
    assert sender.order(orders.RESET, 1) == (desk.JUDGED, 0, orders.NOTHING_LOCKED)
    assert sender.order(orders.LIGHT, -600, 30) == (desk.JUDGED, 0, orders.RANGE)


def test_the_answer_comes_before_the_order_is_judged(rig, sender):
    """Piece by piece, and no scan carries anything out."""
    words = sender.words(orders.LIGHT, 600, MINUTES)
    assert sender.ask(write_many(0, words)) == b"\x10\0\0\0\x24"
    rig.run(3)
    assert rig.desk.state() == desk.WAITS
    assert nothing_happened(rig)
    pieces = 0
    while rig.desk.step():
        pieces += 1
    assert pieces == 4
    assert held(rig) == MINUTES * 600


def test_while_an_order_waits_another_one_is_told_that_the_board_is_busy(rig, sender):
    words = sender.words(orders.LIGHT, 600, MINUTES)
    link = rig.link()
    sender.ask(write_many(0, words))
    # The other line's calls move the order on as well: take its desk for itself.
    link.answers.desk.step = lambda: False
    link.feed(frame(write_many(0, words)), 0)
    assert pdu_of(link.poll(0)) == b"\x90\6"
    link.feed(frame(write_one(0, 1)), 0)
    assert pdu_of(link.poll(0)) == b"\x86\6"
    del link.answers.desk.step
    sender.work()
    assert sender.outcome() == DONE


def test_an_order_written_register_by_register_is_judged_at_the_last(rig, sender):
    for address, word in enumerate(sender.words(orders.LIGHT, 600, MINUTES)):
        assert nothing_happened(rig)
        assert sender.ask(write_one(address, word)) == write_one(address, word)
    sender.work()
    assert sender.outcome() == DONE


def test_what_was_written_can_be_read_back_until_it_is_judged(sender):
    words = sender.words(orders.LIGHT, 600, MINUTES)
    sender.ask(write_many(0, words[:-1]))
    got = sender.ask(read_holding(0, 36))
    assert [int.from_bytes(got[at : at + 2]) for at in range(2, 74, 2)] == words[:-1] + [0]
    sender.ask(write_one(layout.BLOCK_GO, 1))
    assert sender.ask(read_holding(0, 36)) == b"\3\x48" + bytes(72)


def test_an_order_to_all_is_neither_answered_nor_carried_out(rig, sender):
    words = sender.words(orders.LIGHT, 600, MINUTES)
    rig_link = sender.link
    for unit in (0, 2, 247):
        rig_link.feed(frame(write_many(0, words), unit), 0)
        assert rig_link.poll(0) is None
        sender.work()
        assert nothing_happened(rig)
        assert rig.desk.state() == desk.NEVER


# What must not pass

def test_an_order_without_a_signature_is_refused_and_counted(rig, sender):
    sender.key = None
    assert sender.order(orders.LIGHT, 600, MINUTES) == refused(desk.UNSIGNED)
    assert sender.read("refused_unsigned") == 1
    assert nothing_happened(rig)


def test_an_order_signed_with_another_key_is_refused_and_counted(rig, sender):
    sender.key = OTHER_KEY
    assert sender.order(orders.LIGHT, 600, MINUTES) == refused(desk.OTHER_KEY)
    assert sender.read("refused_other_key") == 1
    assert nothing_happened(rig)


def test_an_order_with_any_one_bit_altered_never_passes(rig, sender):
    """All 35 registers, all 16 bits; the reason is counted each time."""
    tried = 0
    for word in range(layout.BLOCK_GO):
        for bit in range(16):
            words = sender.words(orders.LIGHT, 600, MINUTES)
            words[word] ^= 1 << bit
            sender.send(words)
            state, gate, _ = sender.outcome()
            assert state == REFUSED, (word, bit)
            assert gate in (desk.ALTERED, desk.OTHER_KEY), (word, bit)
            tried += 1
    assert tried == 560
    assert sender.read("refused_altered") + sender.read("refused_other_key") == tried
    assert nothing_happened(rig)


def test_an_order_sent_again_is_refused_as_replayed(rig, sender):
    words = sender.words(orders.LIGHT, 600, MINUTES)
    sender.send(words)
    assert sender.outcome() == DONE
    rig.keeper.core.sequence.light.release()
    for count in range(1, 4):
        sender.send(words)
        assert sender.outcome() == refused(desk.REPLAYED)
        assert sender.read("refused_replayed") == count
    assert held(rig) == 0
    assert rig.desk.passed == 1


def test_orders_that_were_kept_back_do_not_pass_in_another_order(rig, sender):
    """Every one of ten recorded orders, in any order, once the first has passed."""
    kept = [sender.words(orders.LIGHT, 600, minutes, number=minutes) for minutes in range(1, 11)]
    sender.send(kept[0])
    assert sender.outcome() == DONE
    shuffled = random.Random(3)
    rig.keeper.core.sequence.light.release()
    for _ in range(20):
        for words in shuffled.sample(kept, len(kept)):
            sender.send(words)
            state, gate, _ = sender.outcome()
            assert state == REFUSED
            assert gate in (desk.REPLAYED, desk.STALE)
    assert held(rig) == 0
    assert rig.desk.passed == 1


def test_a_number_that_is_not_the_next_one_is_refused_although_it_is_signed(rig, sender):
    sender.send(sender.words(orders.LIGHT, 600, MINUTES, number=2))
    assert sender.outcome() == refused(desk.STALE)
    sender.send(sender.words(orders.LIGHT, 600, MINUTES, number=0))
    assert sender.outcome() == refused(desk.REPLAYED)
    assert nothing_happened(rig)


def test_an_order_that_was_held_back_for_a_minute_is_stale(rig, sender):
    words = sender.words(orders.LIGHT, 600, MINUTES)
    rig.run(594)
    late = sender.words(orders.LIGHT, 600, MINUTES)
    rig.run(1)
    sender.send(words)
    assert sender.outcome() == refused(desk.STALE)
    sender.send(late)
    assert sender.outcome() == refused(desk.STALE)
    assert sender.read("refused_stale") == 2
    assert nothing_happened(rig)
    assert sender.order(orders.LIGHT, 600, MINUTES) == DONE


def test_an_order_of_an_earlier_start_is_stale_although_chance_failed(tmp_path):
    """A board whose random numbers repeat still has another nonce in every start."""
    first = Sender(Rig(str(tmp_path / "j"), KEY).link(), KEY)
    words = first.words(orders.LIGHT, 600, MINUTES)
    rig = Rig(str(tmp_path / "j"), KEY)
    again = Sender(rig.link(), KEY)
    assert rig.desk.random is chance
    again.send(words)
    assert again.outcome() == refused(desk.STALE)
    assert nothing_happened(rig)


def test_no_nonce_comes_twice(rig, sender):
    seen = set()
    for _ in range(200):
        nonce = sender.read("order_nonce")
        assert nonce not in seen
        seen.add(nonce)
        assert sender.order(orders.LIGHT, 600, 1) == DONE


def test_boards_that_chance_once_told_apart_stay_apart_although_it_fails_later(rig):
    """Else an order for one of them could pass on the other, under the same key."""
    def once(byte):
        draws = [bytes([byte])]
        return lambda count: (draws.pop() if draws else b"\0") * count

    desks = [Desk(rig.keeper, KEY, once(byte)) for byte in (1, 2)]
    before = {one.nonce() for one in desks}
    rig.run(600)
    after = {one.nonce() for one in desks}
    assert len(before | after) == 4


def test_reading_does_not_change_the_nonce_within_a_minute(rig, sender):
    first = sender.read("order_nonce")
    rig.run(500)
    assert sender.read("order_nonce") == first


def test_refused_orders_leave_no_event_that_would_wear_the_flash(rig, sender):
    rig.settle()
    before = rig.journal.files()
    sender.key = OTHER_KEY
    for _ in range(50):
        sender.order(orders.LIGHT, 600, MINUTES)
    rig.settle()
    assert rig.journal.files() == before
    assert rig.keeper.events.count == 0


def test_a_count_of_refusals_stops_at_the_end_of_its_register(rig, sender):
    rig.desk.counts[desk.UNSIGNED] = 65535
    sender.key = None
    sender.order(orders.LIGHT, 600, MINUTES)
    assert sender.read("refused_unsigned") == 65535


def test_the_key_is_nowhere_in_the_registers_or_the_journal(rig, sender):
    sender.order(orders.LIGHT, 600, MINUTES)
    rig.run(100)
    rig.settle()
    words = b""
    for first in range(0, 400, 100):
        words += sender.ask(b"\4" + first.to_bytes(2) + (100).to_bytes(2))[2:]
    found = words
    for number, size in rig.journal.files():
        data = bytearray(size)
        rig.journal.read_file(number, 0, data)
        found += data
    for at in range(len(KEY) - 4):
        assert KEY[at : at + 5] not in found


def test_the_reasons_have_a_register_each():
    counted = [row[0] for row in layout.DESK_ROWS
               if row[0].startswith("refused_") and row[0] != "refused_tag"]
    assert len(counted) == desk.REASONS - 1


def test_nonces_of_the_operating_system_differ(rig):
    own = Desk(rig.keeper, KEY)
    assert len({own.nonce(), Desk(rig.keeper, KEY).nonce(), rig.desk.nonce()}) == 3


def test_an_order_is_put_together_as_the_map_says(rig, sender):
    words = order_words(bytes(16), 1, 2, 3, 4, 5, KEY)
    assert len(words) == layout.ORDER_WORDS
    assert words[layout.BLOCK_CODE] == 3
    assert words[layout.BLOCK_A + 1] == 4
    assert words[layout.BLOCK_GO] == 1
