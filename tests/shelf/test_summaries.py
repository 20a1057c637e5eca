"""Summaries, in full and packed, against bytes written from the specification."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.shelf import decode
from forebay.shelf.rows import total_values
from keeper.journal.summary import HeldSummaries, SummaryPacker
from tests.shelf import encoder

# Two limbs of which the high one is a u32: just below 2**32 thousand millions.
MOST_TOTAL = 4 * 10**18


def wild(count, seed):
    """Returns summaries with every field anywhere in its range."""
    draw = np.random.default_rng(seed)
    found = []
    for _ in range(count):
        marks = np.sort(draw.integers(-32768, 32768, (14, 3)), axis=1).tolist()
        boot, uptime, seconds = draw.integers(0, [65536, 1 << 30, 65536]).tolist()
        totals = draw.integers(0, MOST_TOTAL // 10 ** draw.integers(0, 17), 10).tolist()
        found.append((boot, uptime, seconds, marks, totals))
    return found


def as_tuples(table):
    return [(int(one["boot"]), int(one["uptime_ds"]), int(one["covered_s"]),
             one["stored"].tolist(), total_values(one["totals"]).tolist()) for one in table]


@given(st.lists(st.tuples(st.integers(1, 8), st.integers(0, 2**32)), min_size=1, max_size=5))
def test_blocks_of_any_summaries_come_back_as_they_went_in(shapes):
    data, expected = encoder.header(2, 1), []
    for count, seed in shapes:
        some = wild(count, seed)
        data += encoder.summary_block(1 + len(expected), some)
        expected += some
    found = decode([data])
    assert as_tuples(found.summaries) == expected
    assert found.summaries["seq"].tolist() == list(range(1, len(expected) + 1))
    assert found.findings.lines() == []


def test_a_summary_in_full_and_in_a_block_counts_once():
    some = wild(8, 1)
    found = decode([encoder.header(2, 1) + encoder.summary_block(1, some),
                    encoder.header(3, 1) + encoder.summary(8, *some[7])
                    + encoder.summary(9, *some[0])])
    assert as_tuples(found.summaries) == [*some, some[0]]
    assert found.findings.lines() == []


def test_a_summary_that_differs_from_its_twin_is_reported():
    one, other = wild(2, 1)
    found = decode([encoder.header(2, 1) + encoder.summary_block(1, [one])
                    + encoder.summary(1, *other)])
    assert found.findings.conflicting_records == 1
    assert as_tuples(found.summaries) == [one]


@pytest.mark.parametrize("change", [
    lambda body: body + b"\0", lambda body: body[:-1], lambda body: b"\2" + body[1:],
    lambda body: body[:1] + b"\0" + body[2:], lambda body: b"", lambda body: body[:2],
    lambda body: body[:2] + b"\xff" * 30])
def test_a_block_that_lies_about_itself_is_refused(change):
    good = encoder.summary_block(1, wild(3, 2))
    forged = encoder.record(6, 1, change(good[8:-4]))
    found = decode([encoder.header(2, 1) + forged + encoder.summary_block(50, wild(2, 3))])
    assert found.summaries["seq"].tolist() == [50, 51]
    assert found.findings.unreadable_records == 1


def test_the_firmwares_packer_and_the_specification_agree_bit_for_bit():
    some = wild(8, 4)
    held = HeldSummaries()
    for place, (boot, uptime, seconds, marks, totals) in enumerate(some):
        flat = [value for three in marks for value in three]
        kept = SimpleNamespace(uptime_ds=uptime, low=[t % 10**9 for t in totals],
                               high=[t // 10**9 for t in totals])
        held.add(5 + place, boot, seconds, flat, kept)
    packer = SummaryPacker(held)
    packer.begin(len(some))
    while not packer.step():
        pass
    assert bytes(packer.buffer[: packer.size]) == encoder.summary_block(5, some)
