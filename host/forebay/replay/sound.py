"""Whether a record is one that a keeper can have written: no other is put through one.

A shelf also holds what a board gone mad gave.  Owns what a replay takes for granted of a record;
what `forebay check` says of it is not asked.
"""

import numpy as np

from forebay.replay.timeline import DS_PER_S, Timeline
from forebay.replay.trying import ReplayError
from forebay.shelf import Journal
from keeper import channels as ch
from keeper import events as ev
from keeper import modes
from keeper.protection import elements as el

# Of the events that are read, which arguments a keeper writes; None: it is not looked at.
_ELEMENTS = range(1, el.ROWS + 1)
ARGUMENTS = {
    ev.STATE: (range(len(modes.STATES)), modes.CAUSES),
    ev.ACTED: (_ELEMENTS, None),
    ev.LET_GO: (_ELEMENTS, None),
    ev.LOCKOUT: (_ELEMENTS, None),
    ev.READING_BAD: (range(len(ch.CHANNELS)), ch.REASONS),
}
MOST_TIMES = 2     # the span itself: starts of a board whose times are unsure are put in a row


def refuse_unsound(journal: Journal, time: Timeline, span_s: float) -> None:
    """Raise ReplayError if no keeper writes such rows and events; span_s: how long they are [s].
    """
    table = journal.events
    told = table[table["code"] == ev.STATE]
    states = np.concatenate([journal.rows.state, told["state"]]).astype(int)
    if (states >= len(modes.STATES)).any():
        raise _error(f"it tells of a state {states.max()}, and a keeper knows 0 to"
                     f" {len(modes.STATES) - 1}")
    for code, legal in ARGUMENTS.items():
        for name, which in zip(("argument", "argument2"), legal, strict=True):
            found = set(table[name][table["code"] == code].tolist())
            odd = found.difference(found if which is None else which)
            if odd:
                raise _error(f"it has an event {code} with the {name} {min(odd)}, which no keeper"
                             " writes")
    if (np.diff(time.row_last) <= 0).any():
        raise _error("it has rows of one start that do not follow each other in time")
    if time.end - time.begin > MOST_TIMES * span_s * DS_PER_S:
        raise _error("its starts last longer than the time in which they were")


def _error(why):
    return ReplayError(f"what the shelf holds of that time cannot be replayed: {why}; `forebay"
                       " check` says what else is wrong with it")
