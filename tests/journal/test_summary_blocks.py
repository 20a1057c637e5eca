"""What the writer packs of summaries, the reader of the specification unpacks."""

from keeper.records import PAYLOAD_MOST
from keeper.rows import KeptTotals
from keeper.summary import MOST, PAYLOAD_BYTES_MOST, HeldSummaries, SummaryPacker
from tests.journal import reader

LIMB = 10**9


def packed(summaries: list[tuple]) -> tuple[bytes, SummaryPacker]:
    """Packs summaries as `reader.decode_summary` returns them; the first is number 5."""
    held = HeldSummaries()
    for seq, (boot, uptime_ds, seconds, *rest) in enumerate(summaries, 5):
        marks, totals = rest[:42], rest[42:]
        kept = KeptTotals([total % LIMB for total in totals], [total // LIMB for total in totals])
        kept.uptime_ds = uptime_ds
        held.add(seq, boot, seconds, marks, kept)
    packer = SummaryPacker()
    packer.begin(held.first_seq, held.count)
    while not packer.step(held):
        pass
    return bytes(packer.buffer[: packer.size]), packer


def test_the_wildest_summaries_come_back_from_a_block_that_fits_its_buffer_and_the_record():
    most = (2**32 - 1) * LIMB + LIMB - 1
    low = (1, 0, 0, *[-32767, -32767, 32767] * 14, *[0] * 10)
    high = (65535, 2**30 - 1, 65535, *[-32767, 32767, 32767] * 14, *[most] * 10)
    summaries = [low, high] * (MOST // 2)
    buffer_bytes = len(SummaryPacker().buffer)
    record, packer = packed(summaries)
    assert reader.decode_summary_block(record[8:-4]) == summaries
    assert len(record) - 12 <= PAYLOAD_BYTES_MOST <= PAYLOAD_MOST
    assert len(packer.buffer) == buffer_bytes


def test_even_summaries_take_next_to_nothing():
    """By hand, in bits: stepped 6 and the first number, 6 and no differences; plain 6 alone.

    First numbers, zigzag: boot 2 takes 2, uptime 18000 takes 15, seconds 1800 take 11.
    """
    summary = (1, 9000, 900, *[0] * 42, *[0] * 10)
    bits = (12 + 2) + (12 + 15) + (12 + 11) + 14 * (12 + 6 + 6) + 10 * 12
    record, _ = packed([summary] * MOST)
    assert reader.decode_summary_block(record[8:-4]) == [summary] * MOST
    assert len(record) == 12 + 2 + -(-bits // 8)
