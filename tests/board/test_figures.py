"""Memory and time of the whole firmware in a start that is left to itself, and the bars for them.

The bars are the project's aims; `python -m tests.bench.board_figures` prints the figures.
"""

import pytest

from forebay.flash import firmware
from tests.bench import board_figures
from tests.board import journals, session, states, watched

FIRST_SCAN_MS = 2500
FREE_B, LARGEST_B = 40_000, 16_384
WHOLE_US, BESIDE_US = 5000, 2000
# What a longer journal may add to its table of segments: a pair of numbers each.
GROWTH_B = 512
SHORT_MIN, MIN, LONG_MIN = 0, 10, 30
SCANS = 20_000
# The clock that a test lets run eight times as fast: 2**7 us count as a millisecond.
FAST = """
import sys, time
class Fast:
    ticks_diff, ticks_add, sleep_us = time.ticks_diff, time.ticks_add, time.sleep_us
    ticks_ms = lambda: time.ticks_us() >> 7
    ticks_us = lambda: (time.ticks_us() & 0x7FFFFFF) << 3  # no more than 30 bits on the way
    sleep_ms = lambda ms: time.sleep_us(ms << 7)
sys.modules["time"] = Fast
import loader
loader.main()
"""
FAST_STEP_MS = 20_000


@pytest.fixture(scope="module")
def figures():
    """The figures of a start from the largest tail, through every state."""
    return board_figures.measure(SHORT_MIN, journals.of_largest_tail())


def test_the_first_scan_comes_in_time(make_board, figures, record_property):
    record_property("measured", "\n".join(board_figures.lines(figures)))
    assert figures["first_scan_ms"] <= FIRST_SCAN_MS


def test_the_heap_has_room_after_a_start_and_every_state(make_board, figures):
    assert figures["free_after_minutes_B"] >= FREE_B
    assert figures["largest_after_minutes_B"] >= LARGEST_B


@pytest.mark.parametrize("state", [row[0] for row in states.modes.STATES])
def test_a_scan_takes_its_time_at_most_in_every_state(make_board, figures, state):
    # Beside the bus on the mean; how far the longest of a state is from that bar is said by
    # `python -m tests.bench.board_figures`.
    found = figures[state]
    assert found["most_us"] <= WHOLE_US
    assert found["beside_mean_us"] <= BESIDE_US


def test_no_scan_from_the_first_one_on_takes_longer(make_board, figures):
    assert figures["scan_most_us"] <= WHOLE_US


@pytest.mark.long
def test_the_heap_has_room_after_ten_minutes_and_does_not_grow_in_thirty(make_board):
    ten = board_figures.measure(MIN, journals.of_largest_tail())
    thirty = board_figures.measure(LONG_MIN, journals.of_largest_tail())

    for figures in (ten, thirty):
        assert figures["free_after_minutes_B"] >= FREE_B
        assert figures["largest_after_minutes_B"] >= LARGEST_B
    assert ten["free_after_minutes_B"] - thirty["free_after_minutes_B"] <= GROWTH_B


@pytest.mark.long
def test_twenty_thousand_scans_allocate_nothing(make_board):
    files = session.flashed_files(with_rig=True) | journals.of_tail(1)
    loader = firmware.loader()["/main.py"]
    files |= {"/main.py": FAST.encode(), "/loader.py": loader}
    with make_board(files, held=True, watched=()) as board:
        session.fit(board)
        found = {"scans": 0}
        while found["scans"] < SCANS:
            board.run_ms(FAST_STEP_MS)
            # A scan that allocated would raise under the locked heap, and restart the board.
            assert board.resets == 0, board.files().get("/last_error", b"no error was kept")
            found = states.live(board)
        watched.assert_real(found, board, boot=2)
