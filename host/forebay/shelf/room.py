"""For how long a board's journal has room: one reckoning for all who tell it.

What was pulled may go.  So room counts from a pull on: until the first row
written after it would have to be removed.  The journal's specification,
section 5, says what goes when.
"""

from dataclasses import dataclass

import numpy as np

from forebay.shelf.store import Shelf
from keeper.journal.records import DETAIL, EVENTS, SUMMARY, TAIL
from keeper.journal.segments import FLASH_BLOCK, SEGMENT_MOST, SHARES_PERCENT

DAY_S = 86400.0
# Below this span a rate says nothing about days (a guess).
LEAST_SPAN_S = 3600.0
# A day of which nothing is known yet: 16 h of it running, rows of 10 s and of 60 s at
# 7.6 bytes each, and an eighth more for summaries and events (sizes of docs/journal.md).
ASSUMED_DETAIL_B = (16 * 360 + 8 * 60) * 7.6
ASSUMED_OTHERS_B = ASSUMED_DETAIL_B / 8
PERCENT = 100
# Flash of a full segment over its bytes.
WHOLE_BLOCKS = -(-SEGMENT_MOST // FLASH_BLOCK) * FLASH_BLOCK / SEGMENT_MOST


@dataclass
class Holding:
    """What a board held when its files were listed, and how long its room lasts.

    board: its number, "" = not told; utc_s: when [s since 1970 UTC]; used_B:
    its files [bytes of flash]; budget_B: the room that the board says it
    gives its journal [bytes], None = not known; detail_days, summary_days:
    back to where its rows and summaries reach [days]; fits_days: from a pull
    on until rows that it did not bring must go [days]; None where not known.
    is_measured: whether that is at the rate of those days, or at an assumed one.
    """

    board: str
    utc_s: float
    used_B: int
    budget_B: int | None
    detail_days: float | None
    summary_days: float | None
    fits_days: float | None
    is_measured: bool


def flash_B(files: list[tuple[int, int, int]]) -> dict[int, int]:
    """Return the flash [bytes] that files (stream, number, size [bytes]) take, by stream."""
    used = dict.fromkeys((DETAIL, EVENTS, SUMMARY, TAIL), 0)
    for stream, _, size in files:
        used[stream] = used.get(stream, 0) + -(-size // FLASH_BLOCK) * FLASH_BLOCK
    return used


def fits_days(budget_B: int, files: list[tuple[int, int, int]], detail_days: float | None = None,
              summary_days: float | None = None) -> float:
    """Return from a pull on for how long [days] no row must go that it did not bring.

    budget_B: room of the journal [bytes]; files: (stream, number, size
    [bytes]) in it, grown in so many days of rows and of summaries; None = a
    rate is assumed.
    """
    used = flash_B(files)
    rates = {DETAIL: ASSUMED_DETAIL_B, SUMMARY: ASSUMED_OTHERS_B, EVENTS: 0.0}
    if detail_days:
        others_days = summary_days or detail_days
        rates = {stream: WHOLE_BLOCKS * sum(size for one, _, size in files if one == stream)
                 / (detail_days if stream == DETAIL else others_days) for stream in rates}
    most = {stream: budget_B * percent / PERCENT for stream, percent in SHARES_PERCENT}
    # The segment that was being written at the pull goes whole.
    room_B = budget_B - used[TAIL] - SEGMENT_MOST
    days = 0.0
    for _ in range(len(most) + 1):  # each time one more may have come to its share
        fixed_B, rate = 0.0, rates[DETAIL]
        for stream, most_B in most.items():
            if used[stream] + rates[stream] * days > most_B:
                fixed_B += most_B
            else:
                fixed_B += used[stream]
                rate += rates[stream]
        days = max(room_B - fixed_B, 0.0) / rate if rate else np.inf
    return days


def holdings(shelf: Shelf, rig_id: int) -> list[Holding]:
    """Return what each board of a rig held when it was pulled last, the newest pull last."""
    of = shelf.boards(rig_id)
    found = []
    for utc_s, generation, files in shelf.listings(rig_id):
        used = flash_B(files)
        budget_B = shelf.budget_B(rig_id, generation)
        detail, summary = (_days(shelf, rig_id, utc_s, generation, files, stream)
                           for stream in (DETAIL, SUMMARY))
        is_measured = bool(detail and detail * DAY_S >= LEAST_SPAN_S and used[DETAIL])
        fits = None
        if budget_B:
            fits = fits_days(budget_B, files, *((detail, summary) if is_measured else ()))
        found.append(Holding(of.get(generation, ""), utc_s, sum(used.values()), budget_B, detail,
                             summary, fits, is_measured))
    return found


def _days(shelf, rig_id, when_s, generation, files, stream):
    """Return how far back the files of a stream reach [days], None if not known."""
    numbers = [number for one, number, _ in files if one == stream]
    marks = ", ".join("?" * len(numbers))
    first = shelf.read(
        "SELECT life, first_boot, first_uptime_ds FROM segments WHERE (rig_id, life, stream)"
        f" = (?, ?, ?) AND number IN ({marks}) AND first_seq IS NOT NULL"
        " ORDER BY first_seq LIMIT 1", rig_id, generation, stream, *numbers)
    if not first:
        return None
    begin_s = shelf.clock(rig_id).utc(*[[value] for value in first[0]])[0]
    return None if np.isnan(begin_s) else max(when_s - float(begin_s), 0.0) / DAY_S
