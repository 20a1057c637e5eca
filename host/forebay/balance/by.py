"""A balance span by span: local days, months, nights, or cycles of the store.

Owns where a span begins and ends.  Spans of a kind follow each other without overlap, in
order of time; what is told of each adds up to what is told of the whole.  Each is worked
out by itself and let go, so that memory does not grow with the period.  Where the rows
tell nothing of a time there is no span; where a time is not known it belongs to none.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from typing import NamedTuple

import numpy as np

from forebay.balance.compute import balance
from forebay.balance.model import Balance
from forebay.balance.spans import axis_of, keys_of, legs, uptime_of
from forebay.balance.spans import spans_of as spans_between_totals
from forebay.shelf import Shelf, ShelfError
from forebay.shelf.local import day_bounds_s, local_days
from forebay.shelf.query import journal_between, parts
from forebay.si import stored_si
from keeper import channels as ch
from keeper.journal import records
from keeper.modes import PUMPING, TRIAL

DAY, NIGHT, MONTH, CYCLE = "day", "night", "month", "cycle"
KINDS = (DAY, NIGHT, MONTH, CYCLE)
# Darker than so long is a night; clouds are shorter. No night outside the polar circles'
# summers is (common practice: civil dusk to dawn at 60 degrees north in June, from memory).
NIGHT_LEAST_S = 3 * 3600.0
# Below this a panel gives nothing: three steps of its monitor's last digit.
DARK_A = 0.003


class Span(NamedTuple):
    """From when to when [s since 1970 UTC]; the end belongs to it, the begin to the one before."""

    begin_s: float
    end_s: float


def balances(shelf: Shelf, rig, rig_id: int, zone: tzinfo, by: str,
             period: tuple[float, float] | None = None
             ) -> Iterator[tuple[float, float, Balance]]:
    """Yield (begin [s since 1970 UTC], end, balance) of each span that holds rows, in order.

    rig: its description (`forebay.rig.load`); rig_id: which rig of the shelf; zone: of
    local days; by: one of KINDS; period: (begin, end) [s since 1970 UTC] that cuts the
    first and the last span, None = all that is there.  Raises ValueError for another kind.
    """
    for span in spans_of(shelf, rig_id, zone, by, period):
        try:
            yield span.begin_s, span.end_s, balance(shelf, rig, rig_id, span)
        except ShelfError:
            continue  # no row of the rig in that span: nothing to balance


def spans_of(shelf: Shelf, rig_id: int, zone: tzinfo, by: str,
             period: tuple[float, float] | None = None) -> Iterator[Span]:
    """Yield the spans of a kind that the journal reaches into; arguments as for `balances`."""
    kinds = {DAY: _days, MONTH: _months, NIGHT: _nights, CYCLE: _cycles}
    if by not in kinds:
        raise ValueError(f"{by} is none of {', '.join(KINDS)}")
    whole = _reach(shelf, rig_id)
    if whole is None:
        return
    low, high = whole if period is None else (max(whole[0], period[0]), min(whole[1], period[1]))
    for begin_s, end_s in kinds[by](shelf, rig_id, zone, Span(low, high)):
        begin_s, end_s = max(begin_s, low), min(end_s, high)
        if end_s > begin_s:
            yield Span(begin_s, end_s)


def _reach(shelf, rig_id):
    """Return the first and the last time that a rig's journal knows; None if it knows none."""
    clock = shelf.clock(rig_id)
    lasts = clock.lasts()
    if not lasts:
        return None
    life, boot = (np.array(side) for side in zip(*lasts, strict=True))
    begins_s = clock.utc(life, boot, np.zeros(len(lasts)))
    ends_s = clock.utc(life, boot, np.array(list(lasts.values())) * 10)
    known = np.isfinite(begins_s) & np.isfinite(ends_s)
    return (float(begins_s[known].min()), float(ends_s[known].max())) if known.any() else None


def _days(shelf, rig_id, zone, within):
    _, days = local_days(np.array(within), zone)
    day = days[0]
    while day <= days[-1]:
        yield day_bounds_s(day, zone)
        day += timedelta(days=1)


def _months(shelf, rig_id, zone, within):
    first = datetime.fromtimestamp(within.begin_s, UTC).astimezone(zone)
    year, month = first.year, first.month
    begin_s = -np.inf
    while begin_s < within.end_s:
        begin_s = datetime(year, month, 1, tzinfo=zone).timestamp()
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
        yield begin_s, datetime(year, month, 1, tzinfo=zone).timestamp()


def _nights(shelf, rig_id, zone, within):
    """Yield from dusk to dawn: rows of a long time without current from the panel or pumping."""
    since_s = None  # the end of the last row by day
    for part in parts(shelf, rig_id, within):
        rows, ends_s = part.rows, part.times.utc_s
        amps = stored_si(rows.stored[ch.PANEL_MA], ch.PANEL_MA)
        is_day = np.isin(rows.state, (TRIAL, PUMPING)) | (amps > DARK_A)
        for end_s, seconds in zip(ends_s[is_day].tolist(), rows.scans[is_day] / 10, strict=True):
            if since_s is not None and end_s - seconds - since_s >= NIGHT_LEAST_S:
                yield since_s, end_s - seconds
            since_s = end_s
    if since_s is not None and within.end_s - since_s >= NIGHT_LEAST_S:
        yield since_s, within.end_s


def _cycles(shelf, rig_id, zone, within):
    """Yield from the begin of a filling to the begin of the next one behind a light."""
    journal = journal_between(shelf, rig_id, within, (records.EVENTS, records.SUMMARY))
    axis = axis_of(journal)
    clock = shelf.clock(rig_id)
    table = np.concatenate([keys_of(journal.events), keys_of(journal.summaries)])
    uptime = np.concatenate([uptime_of(journal.events), uptime_of(journal.summaries)])
    at_s = axis.at(table, uptime)
    order = np.argsort(at_s)
    utc_s = clock.utc(table[order] >> 16, table[order] & 0xFFFF, uptime[order])
    begins, before = [], None
    for kind, begin_s, _ in legs(spans_between_totals(journal, axis)):
        if kind == "fill" and before != "fill":
            begins.append(float(np.interp(begin_s, at_s[order], utc_s)))
        before = kind
    edges = [within.begin_s, *begins, within.end_s]
    yield from zip(edges, edges[1:], strict=False)
