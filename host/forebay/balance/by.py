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

from forebay.balance.compute import maybe_balance
from forebay.balance.model import Balance
from forebay.balance.spans import FILL_STATES, Axis, Points, legs
from forebay.shelf import Shelf
from forebay.shelf.clock import DS_PER_S
from forebay.shelf.local import day_bounds_s, local_days
from forebay.shelf.stepwise import Reader
from forebay.si import stored_si
from keeper import channels as ch

DAY, NIGHT, MONTH, CYCLE = "day", "night", "month", "cycle"
KINDS = (DAY, NIGHT, MONTH, CYCLE)
# Darker than this long is a night: a pump's hold-off under clouds is shorter. Below 60
# degrees of latitude no night from dusk to dawn is (from memory; a guess in between).
NIGHT_LEAST_S = 4 * 3600.0
# A panel in the dark gives no voltage, in dusk some volts; a guess between both.
DARK_V = 2.0


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
    for span in _spans(reader, zone, by, period):
        found = maybe_balance(reader, rig_of(span), rig_id, span)
        if found is not None:
            yield span.begin_s, span.end_s, found


def spans_of(shelf: Shelf, rig_id: int, zone: tzinfo, by: str,
             period: tuple[float, float] | None = None) -> Iterator[Span]:
    """Yield the spans of a kind that the journal reaches into; arguments as for `balances`."""
    return _spans(Reader(shelf, rig_id), zone, by, period)


def _spans(reader, zone, by, period):
    kinds = {DAY: _days, MONTH: _months, NIGHT: _nights, CYCLE: _cycles}
    if by not in kinds:
        raise ValueError(f"{by} is none of {', '.join(KINDS)}")
    whole = reach(reader)
    if whole is None:
        return
    low, high = whole if period is None else (max(whole[0], period[0]), min(whole[1], period[1]))
    if high <= low:
        return
    for begin_s, end_s in kinds[by](reader, zone, Span(low, high)):
        begin_s, end_s = max(begin_s, low), min(end_s, high)
        if end_s > begin_s:
            yield Span(begin_s, end_s)


def reach(reader: Reader) -> tuple[float, float] | None:
    """Return the first and the last time that a rig's journal knows; None if it knows none."""
    if not reader.ends_s:
        return None
    life, boot = (np.array(side) for side in zip(*reader.ends_s, strict=True))
    begins_s = reader.clock.utc(life, boot, np.zeros(len(life)))
    ends_s = reader.clock.utc(life, boot, np.array(list(reader.ends_s.values())) * DS_PER_S)
    known = np.isfinite(begins_s) & np.isfinite(ends_s)
    return (float(begins_s[known].min()), float(ends_s[known].max())) if known.any() else None


def _days(reader, zone, within):
    _, days = local_days(np.array(within), zone)
    day = days[0]
    while day <= days[-1]:
        yield day_bounds_s(day, zone)
        day += timedelta(days=1)


def _months(reader, zone, within):
    first = datetime.fromtimestamp(within.begin_s, UTC).astimezone(zone)
    year, month = first.year, first.month
    begin_s = -np.inf
    while begin_s < within.end_s:
        begin_s = datetime(year, month, 1, tzinfo=zone).timestamp()
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
        yield begin_s, datetime(year, month, 1, tzinfo=zone).timestamp()


def _nights(reader, zone, within):
    """Yield from dusk to dawn: rows of a long time with a dark panel and no pumping.

    Where nothing reads the panel's voltage, from the last pumping to the next.
    """
    since_s = None  # the end of the last row by day
    for begin_s, end_s in _lit(reader, within):
        if since_s is not None and begin_s - since_s >= NIGHT_LEAST_S:
            yield since_s, begin_s
        since_s = end_s
    if since_s is not None and within.end_s - since_s >= NIGHT_LEAST_S:
        yield since_s, within.end_s


def _lit(reader, within):
    """Yield from when to when [s since 1970 UTC] it was day, row behind row as one."""
    yield within.begin_s - NIGHT_LEAST_S, within.begin_s  # as if: a night may come first
    for step in reader.steps(within):
        rows = step.journal.rows
        volts = stored_si(rows.stored[ch.PANEL_MV], ch.PANEL_MV)
        is_day = np.isin(rows.state, FILL_STATES) | (volts > DARK_V)
        change = np.diff(is_day.astype(np.int8), prepend=0, append=0)
        first, last = np.flatnonzero(change > 0), np.flatnonzero(change < 0) - 1
        begins_s = reader.clock.utc(rows.generation[first], rows.boot[first],
                                    rows.uptime_ds[first] - np.minimum(
                                        rows.scans[first], rows.uptime_ds[first]))
        ends_s = reader.clock.utc(rows.generation[last], rows.boot[last], rows.uptime_ds[last])
        known = np.isfinite(begins_s) & np.isfinite(ends_s)
        yield from zip(begins_s[known].tolist(), ends_s[known].tolist(), strict=True)


def _cycles(reader, zone, within):
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
