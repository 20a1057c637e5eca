"""A review of figures alone, without its plot and its events: in memory that does not grow."""

from datetime import tzinfo

import numpy as np

from forebay.balance import balance
from forebay.review.gather import Review, Series
from forebay.rig import remaining, summary
from forebay.shelf import Shelf
from forebay.shelf.certainty import contacts_said


def figures_of(shelf: Shelf, rig, rig_id: int, zone: tzinfo, period=None, notes=()) -> Review:
    """Return what a terminal says of a balance; arguments as for `gather.review_of`."""
    found = balance(shelf, rig, rig_id, period)
    none = np.empty(0)
    return Review(
        name=rig.rig.name, zone=zone, balance=found,
        series=Series(none, none, none, none, none, none, none, []), events=[],
        tank_height_m=rig.upper.height_m,
        notes=[*notes, *found.notes, *contacts_said(shelf.clock(rig_id), zone)],
        lacking=summary.full(rig.plant()) if remaining.absent(rig.plant()) else [],
        lacking_short=summary.short(rig.plant()),
    )
