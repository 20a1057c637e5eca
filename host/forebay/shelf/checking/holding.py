"""How many days the board still holds, from its own list of files at the last pull."""

from dataclasses import dataclass

import numpy as np

from forebay.shelf import Shelf
from keeper.journal.journal import BUDGET_BYTES
from keeper.journal.records import DETAIL, SUMMARY
from keeper.journal.segments import FLASH_BLOCK

DAY_S = 86400.0
# Below this span a rate says nothing about days (a guess).
LEAST_SPAN_S = 3600.0


@dataclass
class Holding:
    """What the board held when it was last asked.

    utc_s: when [s since 1970 UTC]; used_B: its files [bytes of flash];
    detail_days, summary_days: back to where its rows and summaries reach
    [days]; detail_fits_days: for how many days of rows its space lasts at the
    present rate [days]; None where not known.
    """

    utc_s: float | None
    used_B: int
    budget_B: int
    detail_days: float | None
    summary_days: float | None
    detail_fits_days: float | None


def holding(shelf: Shelf, rig_id: int, budget_B: int = BUDGET_BYTES) -> Holding:
    """Return what a rig's board held at the last pull, within a budget [bytes]."""
    when_s, generation, listed = (shelf.listings(rig_id) or [(None, 0, [])])[-1]
    files = [(generation, *file) for file in listed]
    used = {stream: sum(-(-size // FLASH_BLOCK) * FLASH_BLOCK
                        for _, one, _, size in files if one == stream)
            for stream in {file[1] for file in files}}
    detail = _days(shelf, rig_id, when_s, files, DETAIL)
    fits = None
    if detail and detail * DAY_S >= LEAST_SPAN_S and used.get(DETAIL):
        others = sum(used.values()) - used[DETAIL]
        fits = (budget_B - others) / (used[DETAIL] / detail)
    return Holding(when_s, sum(used.values()), budget_B, detail,
                   _days(shelf, rig_id, when_s, files, SUMMARY), fits)


def _days(shelf, rig_id, when_s, files, stream):
    """Return how far back the files of a stream reach [days], None if not known."""
    held = [(generation, number) for generation, one, number, _ in files if one == stream]
    if not held or when_s is None:
        return None
    clock = shelf.clock(rig_id)
    marks = ", ".join(["(?, ?)"] * len(held))
    first = shelf.read(
        "SELECT life, first_boot, first_uptime_ds FROM segments WHERE rig_id = ? AND stream = ?"
        f" AND (life, number) IN (VALUES {marks}) AND first_seq IS NOT NULL"
        " ORDER BY first_seq LIMIT 1",
        rig_id, stream, *[value for pair in held for value in pair])
    if not first:
        return None
    begin_s = clock.utc(*[[value] for value in first[0]])[0]
    return None if np.isnan(begin_s) else max(when_s - float(begin_s), 0.0) / DAY_S
