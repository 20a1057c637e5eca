"""The room that is told is the room that there is: against the keeper's own journal."""

import pytest

from forebay.shelf import Anchor, Shelf
from forebay.shelf.room import DAY_S, fits_days, holdings
from forebay.shelf.segments import read, split_file_number
from forebay.watch import due
from keeper.journal.segments import FLASH_BLOCK
from tests import stories
from tests.shelf import encoder, filling
from tests.shelf.test_decode import plain, steady
from tests.watch.test_view import live

BUDGET_B = 20 * FLASH_BLOCK
PULLS_S = (6_000, 20_000, 32_000)
PIECE, PIECES = 5000, 180     # scans; the last pull is seen through by then


def oldest_row(data):
    """Returns the number of the oldest row in a file of blocks."""
    return read(data).records[0].seq


def test_no_row_that_was_not_pulled_goes_before_the_time_that_is_told(tmp_path):
    # A row a second, so that a row's number is the second of its end.
    told, true = {}, {}
    for now_s, files, oldest in stories.told(
            filling.told, str(tmp_path / "j"), BUDGET_B, PIECE, PIECES):
        row = oldest_row(oldest)
        held = [(*split_file_number(number), size) for number, size in files]
        for pull_s in PULLS_S:
            if pull_s not in told and now_s >= pull_s:
                days = (now_s - row) / DAY_S
                told[pull_s] = now_s, fits_days(BUDGET_B, held, days, now_s / DAY_S)
            elif pull_s in told and pull_s not in true and row > told[pull_s][0]:
                true[pull_s] = (now_s - told[pull_s][0]) / DAY_S
    for pull_s in PULLS_S:
        # Whole segments of a fifth of the room go at once: it may be so much longer.
        assert told[pull_s][1] <= true[pull_s] < 2 * told[pull_s][1], pull_s


def test_all_who_tell_the_room_tell_the_same(tmp_path):
    # check used to promise 55 days and watch 14, of a board with room for 38.
    rows = 16384
    with Shelf(tmp_path / "s") as shelf:
        shelf.put_segment(7, 0, 0, 1, encoder.header(0, 1) + encoder.block(1, steady(64)))
        shelf.put_segment(7, 0, 3, 1, encoder.header(3, 1) + plain(steady(3, 6500), 65))
        shelf.add_anchor(7, Anchor(0, 1, 0, 1.5e9, 0.05))
        shelf.note_life(7, 0, "0000000000000abc", 800_000)
        shelf.put_listing(7, 0, 1.5e9 + DAY_S, [(0, 1, rows), (3, 1, 300)])
        held = holdings(shelf, 7)[0]
    assert held.fits_days is not None
    said = due.journal(live(), held, 1.5e9 + DAY_S + 2 * DAY_S)
    assert held.fits_days == pytest.approx((800_000 - 20_000 - 4096) / (1.024 * rows), rel=0.01)
    assert f"room for {held.fits_days:.0f} days" in said
    assert f"pull within {held.fits_days - 2:.0f} days" in said
    late = due.journal(live(), held, 1.5e9 + 90 * DAY_S)
    assert "PULL NOW" in late
