"""A review of a long time: its figures alone, in memory that does not grow with it.

What matters first, the plot and the events are those of some days: they need every row.
"""

from datetime import tzinfo

import numpy as np

from forebay.balance import Balance, balance
from forebay.balance.by import reach
from forebay.balance.leaks import GAIN, LEAK
from forebay.review.finding import LOOK, NOTICE, Finding
from forebay.review.gather import Review, review_of, series_of
from forebay.rig import remaining, summary
from forebay.rig.instruments import fitted
from forebay.shelf import Rows, Shelf
from forebay.shelf.certainty import contacts_said
from forebay.shelf.stepwise import Reader
from forebay.shelf.told import rehearsal_said

S_PER_DAY = 86400.0
MOST_DAYS = 32.0  # that are looked through row by row: some ten megabytes each week
SHORTER = ("Of a time as long as this only the figures are told. What matters first, `forebay"
           " review --from` says of some days, `forebay trend` of all of them.")


def reviewed(shelf: Shelf, rig, rig_id: int, zone: tzinfo, period=None, notes=()) -> Review:
    """Return what a terminal says of a balance; arguments as for `gather.review_of`."""
    reader = Reader(shelf, rig_id)
    low_s, high_s = reach(reader) or (0.0, 0.0)
    if period is not None:
        low_s, high_s = max(low_s, period[0]), min(high_s, period[1])
    if high_s - low_s <= MOST_DAYS * S_PER_DAY:
        return review_of(shelf, rig, rig_id, zone, period, notes)
    found = balance_said(shelf, rig, rig_id, period, reader)
    there, told = frozenset(fitted(rig.sensors)), shelf.rehearsed(rig_id)
    return Review(
        name=rig.rig.name, zone=zone, balance=found,
        series=series_of(Rows.empty(0), np.empty(0), there, [], 0.0), events=[],
        tank_height_m=rig.upper.height_m,
        notes=[*notes, *found.notes, *contacts_said(reader.clock, zone)],
        lacking=summary.full(rig.plant()) if remaining.absent(rig.plant()) else [],
        lacking_short=summary.short(rig.plant()),
        findings=_findings(found), told=shelf.notes(rig_id, None), rehearsed=told, there=there,
    )


def balance_said(shelf: Shelf, rig, rig_id: int, period=None, reader: Reader | None = None
                 ) -> Balance:
    """Return the balance alone, that it is one of a rehearsal among its notes."""
    found = balance(shelf, rig, rig_id, period, reader)
    found.notes[:0] = rehearsal_said(shelf, rig_id)
    return found


def _findings(found):
    """Return what the figures alone say that matters."""
    findings = []
    if found.leak and found.leak.kind in (LEAK, GAIN):
        findings.append(Finding(LOOK, found.leak.words))
    if found.blame and found.blame.suspects:
        findings.append(Finding(LOOK, found.blame.words))
    return [*findings, Finding(NOTICE, SHORTER)]
