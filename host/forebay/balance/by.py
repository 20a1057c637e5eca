"""A balance span by span: local days, months, nights, or cycles of the store.

Owns where a span begins and ends.  Spans of a kind follow each other without overlap, in
order of time; energies, volumes and times of them add up to those of the whole.  Each is
worked out by itself and let go, so that memory does not grow with the period.  What a
span says of itself alone does not add up: the board's load by day is the one seen in its
own dark hours, and with it what the charger took; of a leg in whose pause a span ends,
what the level changed in that pause counts as rest.
"""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any, NamedTuple

import numpy as np

from forebay.balance.around import reach
from forebay.balance.compute import maybe_balance
from forebay.balance.model import Balance
from forebay.balance.nights import how_told, nights
from forebay.balance.spans import Axis, Points, legs
from forebay.shelf import Shelf, ShelfError
from forebay.shelf.local import day_bounds_s, local_days
from forebay.shelf.query import no_rows
from forebay.shelf.stepwise import Reader

DAY, NIGHT, MONTH, CYCLE = "day", "night", "month", "cycle"
KINDS = (DAY, NIGHT, MONTH, CYCLE)


class Span(NamedTuple):
    """From when to when [s since 1970 UTC]; its end belongs to it, its begin to the one before."""

    begin_s: float
    end_s: float


def balances(shelf: Shelf, rig_of: Callable[[Span], Any], rig_id: int, zone: tzinfo, by: str,
             period: tuple[float, float] | None = None
             ) -> Iterator[tuple[float, float, Balance]]:
    """Yield (begin [s since 1970 UTC], end, balance) of each span that holds rows, in order.

    rig_of: gives the description (`forebay.rig.load`) that reads a span; rig_id: which rig of
    the shelf; zone: of local days; by: one of KINDS; period: (begin, end) [s since 1970 UTC]
    that cuts the first and the last span, None = all that is there.  Raises ValueError for
    another kind.
    """
    reader = Reader(shelf, rig_id)
    for span in _spans(reader, rig_of, zone, by, period):
        found = maybe_balance(reader, rig_of(span), rig_id, span)
        if found is not None:
            yield span.begin_s, span.end_s, found


def spans_of(shelf: Shelf, rig_of: Callable[[Span], Any], rig_id: int, zone: tzinfo, by: str,
             period: tuple[float, float] | None = None) -> Iterator[Span]:
    """Yield the spans of a kind that the journal reaches into; arguments as for `balances`."""
    return _spans(Reader(shelf, rig_id), rig_of, zone, by, period)


def no_span(shelf: Shelf, rig, rig_id: int, zone: tzinfo, by: str,
            period: tuple[float, float] | None = None) -> ShelfError:
    """Return why `balances` yields nothing; rig: that reads the period; others as for it."""
    reader = Reader(shelf, rig_id)
    if by != NIGHT or next(_spans(reader, lambda _: rig, zone, by, period), None) is not None:
        return no_rows(shelf, rig_id, zone)
    if maybe_balance(reader, rig, rig_id, period) is None:
        return no_rows(shelf, rig_id, zone)
    return ShelfError(f"no night lies in that time. {how_told(rig)} Ask for a longer time, or"
                      " for --by day")


def _spans(reader, rig_of, zone, by, period):
    kinds = {DAY: _days, MONTH: _months, NIGHT: _nights, CYCLE: _cycles}
    if by not in kinds:
        raise ValueError(f"{by} is none of {', '.join(KINDS)}")
    whole = reach(reader)
    if whole is None:
        return
    low, high = whole if period is None else (max(whole[0], period[0]), min(whole[1], period[1]))
    if high <= low:
        return
    within = Span(low, high)
    for begin_s, end_s in kinds[by](reader, zone, within, rig_of(within)):
        begin_s, end_s = max(begin_s, low), min(end_s, high)
        if end_s > begin_s:
            yield Span(begin_s, end_s)


def _days(reader, zone, within, rig):
    _, days = local_days(np.array(within), zone)
    day = days[0]
    while day <= days[-1]:
        yield day_bounds_s(day, zone)
        day += timedelta(days=1)


def _months(reader, zone, within, rig):
    first = datetime.fromtimestamp(within.begin_s, UTC).astimezone(zone)
    year, month = first.year, first.month
    begin_s = -np.inf
    while begin_s < within.end_s:
        begin_s = datetime(year, month, 1, tzinfo=zone).timestamp()
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
        yield begin_s, datetime(year, month, 1, tzinfo=zone).timestamp()


def _nights(reader, zone, within, rig):
    yield from nights(reader, rig, *within)


def _cycles(reader, zone, within, rig):
    """Yield from the begin of a filling to the begin of the next one behind a light."""
    axis = Axis.of_ends(reader.ends_s)
    edge_s, before = within.begin_s, None
    for step in reader.steps(within):
        points = Points.of(step.journal)
        at_s = axis.at(points.key, points.uptime_ds)
        utc_s = reader.clock.utc(points.key >> 16, points.key & 0xFFFF, points.uptime_ds)
        for kind, begin_s, _ in legs(points.spans(axis)):
            if kind == "fill" and before == "discharge":
                begin_utc_s = float(utc_s[int(np.searchsorted(at_s, begin_s))])
                if within.begin_s < begin_utc_s < within.end_s:
                    yield edge_s, begin_utc_s
                    edge_s = begin_utc_s
            before = kind
    yield edge_s, within.end_s
