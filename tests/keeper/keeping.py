"""A keeper on a memory that a test fills, and what such a memory holds."""

import zlib
from typing import Any

import pytest

from keeper import retained, retained_more
from keeper import settings as st
from keeper.journal.opening import open_journal
from keeper.keeper import Keeper
from keeper.protection import elements as el
from keeper.protection.judging import ROWS
from tests.keeper.scripted import NUMBERS, ScriptedBoard, settings_with

# The numbers of a file behind their count, in their order. A file of an earlier program must
# be read by a later one: a number that moves needs another version of the file.
NAMES = ("lockout", "lockout_element", "first_out", "starts_milli", "heat", "last_night_min",
         "maintenance", "forbidden_min", "drain_min", "elements_mark", "night_mark",
         "start_mark", "lessons")
# What a rig with less has behind them.
MORE = ("low_mL", "high_mL", "travel_mark", "travel_1", "travel_2", "travel_3", "travel_4",
        "travel_5", "travel_6", "travel_7", "travel_8")
POINTS = 8
CURVE = range(1 + len(NAMES), 1 + len(NAMES) + POINTS)
TRIPS = range(CURVE.stop, CURVE.stop + ROWS)
MIN = 600                       # scans of a minute
LEARNED = [5000, 9000, 12000, 15000, 18000, 21000, 23000, 25000]


class Memory:
    """Gives what a test wants it to hold; keeps what is saved.

    Attributes: saved, [(uptime, values)]; broken, whether writes fail now.
    """

    def __init__(self, values=None):
        self.values = values
        self.saved = []
        self.failed = 0
        self.broken = False
        self.keeper: Any = None

    def load(self):
        return None if self.values is None else list(self.values)

    def save(self, values):
        if self.broken:
            self.failed += 1
            return False
        self.saved.append((self.keeper.uptime_ds, list(values)))
        return True


class Calm(Keeper):
    """A keeper that is busy when the test says so."""

    busy: Any = False


@pytest.fixture
def start(tmp_path):
    """Starts a keeper on what a memory holds."""
    def start(values=None, changes=(), memory=None):
        journal = open_journal(str(tmp_path / "journal"), 12345, st.VERSION)
        memory = memory or Memory(values)
        keeper = Calm(settings_with(changes), ScriptedBoard(), journal, memory)
        memory.keeper = keeper
        return keeper

    return start


def saved(**changes):
    """Returns what a memory holds of a healthy rig at rest, with some numbers changed.

    trips: pairs of an element's id and its trips; curve: of the night; where one of MORE is
    among them, it is a rig with less.
    """
    curve, trips = changes.pop("curve", LEARNED), changes.pop("trips", ())
    marks = {"elements_mark": elements_mark(), "night_mark": night_mark()}
    names = NAMES
    if set(MORE) & set(changes):
        names += MORE
        marks |= {"travel_mark": retained_more.travel_mark(settings_with()), "low_mL": -1,
                  "high_mL": -1,
                  **{name: dict(NUMBERS)[f"{name}_permille"] for name in MORE[-POINTS:]}}
    fixed = {**dict.fromkeys(names, 0), **marks, **changes}
    counts = [0] * ROWS
    for element, count in trips:
        counts[el.number(element) - 1] = count
    return [len(names), *fixed.values(), *curve, *counts]


def place(name):
    """Returns where a number stands in a file."""
    return 1 + (NAMES + MORE).index(name)


def elements_mark():
    ids = " ".join(row[el.E_ID] for row in el.ELEMENTS)
    return zlib.crc32(ids.encode()) & 0x3FFFFFFF


def night_mark(changes=()):
    return retained.night_mark(settings_with(changes))
