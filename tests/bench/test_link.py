"""What the line promises: speed of a pull, cost of a request.

Wall time on a loaded machine proves little: the suite's bounds are loose, the
figures are in the report, and `python -m tests.bench.pull_speed` measures.
"""

import os

import pytest

from tests.bench import link_cost, pull_speed

pty = pytest.mark.skipif(os.name == "nt", reason="no pseudo terminals on this system")
# Where the suite runs, other tests take turns with this one: the aim is 0.9.
LOOSE_FRACTION = 0.3
SHARE_BYTES = 10000
# Opcodes of CPython for one answer, feeding apart: counts, so they do not waver.
MOST_OPCODES = {"121 words of a file": 6000, "125 registers": 12000, "4 registers": 4000,
                "an order, written": 3500}
MOST_OPCODES_PIECE = 2500


def test_the_ceiling_is_that_of_the_protocol():
    """261 bytes of 10 bits at 115 200 baud and twice 1.75 ms for 242 bytes: by hand 9252 B/s."""
    assert round(pull_speed.CEILING_B_s) == 9252


@pty
def test_a_paced_line_is_used_and_no_scan_is_lost_while_it_is(record_property):
    found = pull_speed.measure(pull_speed.BAUD, SHARE_BYTES)
    record_property("measured", f"pull at 115 200 baud: {found['B_s']:.0f} B/s,"
                    f" {100 * found['B_s'] / pull_speed.CEILING_B_s:.0f} % of the ceiling"
                    " (on whatever else runs here)")
    assert found["B_s"] > LOOSE_FRACTION * pull_speed.CEILING_B_s
    # Each scan counts the periods that passed since the one before: none may be missing.
    assert abs(found["uptime_ds"] - found["periods"]) <= 2


def test_a_request_costs_the_board_a_bounded_count_of_opcodes(record_property):
    found = link_cost.on_cpython()
    for name, (size, feed, poll) in link_cost.asked(found):
        record_property("measured", f"{name}: {size} B for {feed} + {poll} opcodes")
        assert poll < MOST_OPCODES[name]
    assert len(found["pieces of an order"]) == 4
    assert max(found["pieces of an order"]) < MOST_OPCODES_PIECE
