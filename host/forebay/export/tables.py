"""From the shelf to tables in parts: columns by name, with the local day of each line."""

import heapq
from collections.abc import Iterator
from datetime import tzinfo
from typing import NamedTuple

import numpy as np

from forebay.shelf import Shelf
from forebay.shelf.clock import Times
from forebay.shelf.columns import Column
from forebay.shelf.local import UNKNOWN_DAY, local_days
from forebay.shelf.query import events_between, fitted_of, parts, totals_between

ROWS, EVENTS, TOTALS = "rows", "events", "totals"
# How other programs name the partition of what has no value (a custom of Hive's layout).
NO_DAY = "__HIVE_DEFAULT_PARTITION__"


class Piece(NamedTuple):
    """Lines of one local day: the day as text, one array a column, times of first and last line.

    begin_s, end_s [s since 1970 UTC], NaN where not known.
    """

    day: str
    values: dict[str, np.ndarray]
    lines: int
    begin_s: float
    end_s: float


def pieces(shelf: Shelf, rig_id: int, columns: tuple[Column, ...], zone: tzinfo, period,
           what: str, progress) -> Iterator[Piece]:
    """Yield what is asked for, day by local day, each piece from one of them.

    Within a day what two boards wrote at once comes one board after the other.

    period: (begin, end) [s since 1970 UTC] or None; what: ROWS, EVENTS or TOTALS;
    progress: called with (segments done, segments in all).
    """
    had = fitted_of(shelf, rig_id)
    if what != ROWS:
        of = events_between if what == EVENTS else totals_between
        table, times = of(shelf, rig_id, period)
        absent = had.absent(table["generation"], table["boot"])
        yield from _by_day(table, times, absent, columns, zone)
        return
    done: dict[int, tuple[int, int]] = {}

    def of_life(life):
        for part in parts(shelf, rig_id, period, life):
            absent = had.absent(part.rows.generation, part.rows.boot)
            yield from _by_day(part.rows, part.times, absent, columns, zone)
            done[life] = part.done, part.total
            progress(*map(sum, zip(*done.values(), strict=True)))

    lives = [of_life(one) for one in shelf.generations(rig_id)]
    # To be merged a piece is held till the next is read: of one life that would be for nothing.
    yield from lives[0] if len(lives) == 1 else heapq.merge(*lives, key=lambda one: one.day)


def _by_day(table, times, absent, columns, zone):
    place, days = local_days(times.utc_s, zone)
    if (np.diff(place) < 0).any():
        order = np.argsort(place, kind="stable")
        table = table.take(order)
        place, absent = place[order], absent[order]
        times = Times(*[each[order] for each in times])
    edges = [0, *(np.flatnonzero(np.diff(place)) + 1).tolist(), len(place)]
    values = {column.name: column.values(table, times, absent) for column in columns}
    for begin, end in zip(edges, edges[1:], strict=False):
        if end > begin:
            known = place[begin] != UNKNOWN_DAY
            yield Piece(days[place[begin]].isoformat() if known else NO_DAY,
                        {name: array[begin:end] for name, array in values.items()}, end - begin,
                        float(times.utc_s[begin]), float(times.utc_s[end - 1]))
