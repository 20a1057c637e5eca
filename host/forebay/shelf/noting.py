"""The time that a person gives a note: of what has been, as far as clocks can tell."""

from datetime import UTC, datetime, tzinfo

import numpy as np

from forebay.shelf.certainty import TELLING_BOUND_S
from forebay.shelf.local import TimeError, iso_local, moment_of
from forebay.shelf.query import segments_between
from forebay.shelf.store import Shelf


def note_time(shelf: Shelf, rig_id: int, text: str | None, zone: tzinfo) -> float:
    """Return the time [s since 1970 UTC] that a person gives a note: local, None = now.

    Raises InputError for a text that is no time, and for one that is yet to come: beyond now,
    and beyond the end of the rig's record, which of a rehearsal may be any day.
    """
    now_s = datetime.now(UTC).timestamp()
    if text is None:
        return now_s
    utc_s = moment_of(text, zone)
    latest_s = max(now_s, _record_ends_s(shelf, rig_id)) + TELLING_BOUND_S
    if utc_s > latest_s:
        raise TimeError(f"--at {text}: that is yet to come, and a note is of what has been: from"
                        f" 1970 to {iso_local(latest_s, zone, '%Y-%m-%dT%H:%M')}; give a time in"
                        " that, or leave --at out for now")
    return utc_s


def _record_ends_s(shelf, rig_id):
    """Return the latest that a rig's record can end [s since 1970 UTC], 0 if nothing bounds it."""
    held = segments_between(shelf, rig_id, shelf.clock(rig_id))
    if not held:
        return 0.0
    ends = np.array([(one.generation, *one.last) for one in held]).T
    latest_s = shelf.clock(rig_id).times(*ends).latest_s
    return float(np.max(latest_s[np.isfinite(latest_s)], initial=0.0))
