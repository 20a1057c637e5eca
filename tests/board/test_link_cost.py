"""What a request costs on the emulated board: milliseconds of its own processor."""

import json

import pytest

from forebay.flash import firmware
from tests.bench import link_cost
from tests.board.session import MPY_FORMAT, prompt, said

# At 115 200 baud an answer of 249 bytes takes 21.6 ms to leave: finding it must
# not take a second as long, or the line stands half of the time.
ANSWER_MOST_us = 25000
PIECE_MOST_us = 10000


@pytest.fixture
def board_files():
    program = firmware.program(MPY_FORMAT)
    compiled = {f"/{place}": data for place, data in program.files.items()}
    return {**compiled, **link_cost.FILES, "/main.py": b"pass\n"}


def test_requests_are_answered_within_what_the_line_takes(make_board, board_files,
                                                          record_property):
    with make_board(board_files) as board:
        board.power_on()
        with prompt(board) as repl:
            found = json.loads(said(repl, link_cost.script(5, 300)))
    for name, (size, feed_us, poll_us) in link_cost.asked(found):
        record_property("measured", f"emulated board, {name}: {size} B answered after"
                        f" {feed_us / 1000:.2f} + {poll_us / 1000:.2f} ms")
        assert feed_us + poll_us < ANSWER_MOST_us
    pieces = found["pieces of an order"]
    record_property("measured", f"emulated board, pieces of an order: {pieces} us")
    assert max(pieces) < PIECE_MOST_us
