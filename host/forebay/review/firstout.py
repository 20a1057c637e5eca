"""The first trip of a time, with the readings of its scan: what there is to look at.

What trips later may come of the first; the first one saw the cause itself.
"""

from dataclasses import dataclass

import numpy as np

from forebay.shelf.fitted import is_there
from forebay.si import stored_si, unit_of
from forebay.words.measured import CHANNELS, CONTACTS
from forebay.words.protection import ELEMENTS
from keeper import channels as ch
from keeper import events
from keeper.protection import elements

DECIMALS = {"W": 2, "V": 2, "A": 3, "L/min": 2, "m": 3, "degC": 1, "%": 1}
# SI unit of the shelf -> what a person reads, and the factor.
SHOWN = {"m3/s": ("L/min", 60e3), "-": ("%", 100.0)}
OPEN, CLOSED = "open", "closed"


@dataclass(frozen=True)
class FirstOut:
    """A trip: its name, what to look at, when [s since 1970 UTC, NaN unknown].

    readings, contacts: (tag, plain name, text) of what the scan read; "not trusted" where a
    reading was not.
    """

    named: str
    look: str
    utc_s: float
    readings: list[tuple[str, str, str]]
    contacts: list[tuple[str, str, str]]


def first_out(table: np.ndarray, utc_s: np.ndarray, absent: np.ndarray) -> FirstOut | None:
    """Return the first trip or lock of events in order, None if there is none.

    utc_s: their times [s since 1970 UTC]; absent: what the rig lacked at each, as bits.
    """
    trips = np.flatnonzero((table["code"] == events.ACTED)
                           & (table["argument2"] >= elements.TRIP))
    if not len(trips):
        return None
    place = int(trips[0])
    event = table[place]
    said = ELEMENTS.get(int(event["argument"]))
    if said is None:
        return None
    lacks = absent[place: place + 1]
    return FirstOut(said.named, said.look, float(utc_s[place]), _readings(event, lacks),
                    _contacts(event, lacks))


def _readings(event, lacks):
    found = []
    for place in range(ch.COLUMNS):
        name = str(ch.CHANNELS[place][ch.CH_NAME])
        if not is_there(lacks, place)[0]:
            continue
        said = CHANNELS[name]
        value = float(stored_si(event["stored"][place: place + 1], place)[0])
        found.append((said.tag, said.plain, _text(value, name)))
    return found


def _text(value, name):
    if not np.isfinite(value):
        return "not trusted"
    unit, factor = SHOWN.get(unit_of(name).text, (unit_of(name).text, 1.0))
    return f"{value * factor:.{DECIMALS.get(unit, 2)}f} {unit}"


def _contacts(event, lacks):
    return [(said.tag, said.plain, CLOSED if event["contacts"] >> place & 1 else OPEN)
            for place, said in enumerate(CONTACTS.values())
            if is_there(lacks, ch.COLUMNS + place)[0]]
