"""The journal of a rig in order, some days at a time: rows with the records of their time.

Owns which segments are open at once, so that a reader's memory does not grow with the
years.  A step is a `Journal` of one life: its rows, and the events, totals and summaries
up to its last row; the event behind it goes with it.  The segments that were decoded last
are kept: whoever asks for day after day decodes each of them once.
"""

from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from forebay.shelf.clock import Clock
from forebay.shelf.decode import Findings, Journal, decode
from forebay.shelf.query import PART_SEGMENTS, Held, grouped, segments_between
from forebay.shelf.rows import Rows
from forebay.shelf.store import Shelf
from keeper.journal import records

# A record may be written so much behind its moment [0.1 s]: up to a sync.
LATE_DS = 600
# Around a period: as much of the journal as shows what went on at its ends, a row of
# the coarse search beside it.
MARGIN_S = 3600.0
COARSE_ROWS = 64
KEPT_DECODED = 6  # groups of segments; those of rows hold some days
TABLES = ("events", "totals", "summaries")


class Step(NamedTuple):
    """A part of the journal.

    next_event: the first event of its life behind it, an array of one or none; ends_life:
    whether no part of its life is behind it; is_last: whether none at all is.
    """

    journal: Journal
    next_event: np.ndarray
    ends_life: bool
    is_last: bool


class Reader:
    """Reads a shelf in steps.

    clock: of the rig's boards; ends_s: last uptime [s] of each (generation, boot).
    """

    def __init__(self, shelf: Shelf, rig_id: int):
        """Take a shelf and which of its rigs."""
        self.shelf = shelf
        self.clock: Clock = shelf.clock(rig_id)
        self.ends_s = self.clock.lasts()
        self.not_pulled = shelf.not_pulled(rig_id)

        def held(*streams):
            return segments_between(shelf, rig_id, self.clock, None, streams)

        self._groups = list(grouped(held(records.DETAIL, records.TAIL), PART_SEGMENTS))
        # What a tail holds besides rows is read with the records of its time.
        self._beside = [[one] for one in held(records.EVENTS, records.SUMMARY, records.TAIL)]
        self._decoded: OrderedDict[tuple, Journal] = OrderedDict()

    def steps(self, period=None) -> Iterator[Step]:
        """Yield the parts that reach into a period (begin, end) [s since 1970 UTC], None = all.

        Of a period all is there that lies MARGIN_S or less outside of it, and more.
        """
        groups = self._reaching(self._groups, period)
        beside = self._reaching(self._beside, period)
        lives = [group[0].generation for group in groups] + [-1]
        of = {life: _Beside(self, [one for one, in beside if one.generation == life])
              for life in lives[:-1]}
        for place, group in enumerate(groups):
            life, following = lives[place: place + 2]
            journal = self.decoded(group)
            last = _moments(journal.rows)[-1] if following == life and len(journal.rows) else None
            whole = replace(journal, findings=replace(journal.findings), **of[life].up_to(last))
            whole.findings.add(of[life].findings())
            behind = of[life].next_event()
            if period is not None:
                whole = near(whole, self.clock, period)
            yield Step(whole, behind, following != life, following < 0)

    def _reaching(self, groups, period):
        if period is None or not groups:
            return groups
        firsts = [(group[0].generation, *min(one.first for one in group)) for group in groups]
        lasts = [(group[0].generation, *max(one.last for one in group)) for group in groups]
        begins_s, ends_s = (self.clock.utc(*np.array(side).T) for side in (firsts, lasts))
        inside = (ends_s >= period[0] - MARGIN_S) & (begins_s <= period[1] + MARGIN_S)
        return [group for group, keep in zip(groups, inside, strict=True) if keep]

    def decoded(self, group: list[Held]) -> Journal:
        """Return what some segments of one life hold; those asked for last are at hand."""
        key = tuple(one.rowid for one in group)
        if key not in self._decoded:
            blobs = (self.shelf.read("SELECT data FROM segments WHERE rowid = ?", one)[0][0]
                     for one in key)
            self._decoded[key] = decode(blobs, group[0].generation)
        self._decoded.move_to_end(key)
        while len(self._decoded) > KEPT_DECODED:
            self._decoded.popitem(last=False)
        return self._decoded[key]


class _Beside:
    """The records of one life beside its rows, in order of their moments."""

    def __init__(self, reader: Reader, held: list[Held]):
        self.reader = reader
        self.held = sorted(held, key=lambda one: one.first)
        self.waiting: dict[str, list[np.ndarray]] = {name: [] for name in TABLES}
        self._findings = Findings()

    def up_to(self, last):
        """Return the tables of records up to a moment, None = all; those waiting no more."""
        while self.held and (last is None or _late(self.held[0]) <= last):
            self._open()
        found = {}
        for name, parts in self.waiting.items():
            table = _in_order(name, parts, self.reader)
            inside = np.ones(len(table), bool) if last is None else _moments(table) <= last
            found[name], self.waiting[name] = table[inside], [table[~inside]]
        return found

    def _open(self):
        one = self.held.pop(0)
        journal = self.reader.decoded([one])
        if one.stream != records.TAIL:
            self._findings.add(journal.findings)
        for name in TABLES:
            self.waiting[name].append(getattr(journal, name))

    def findings(self):
        """Return what was found since the last call in segments that hold no rows."""
        found, self._findings = self._findings, Findings()
        return found

    def next_event(self):
        """Return the first event that is waiting, an array of one or none."""
        while self.held and not sum(map(len, self.waiting["events"])):
            self._open()
        return _in_order("events", self.waiting["events"], self.reader)[:1]


def _late(held):
    boot, uptime_ds = held.first
    return (boot << 32) + max(uptime_ds - LATE_DS, 0)


def _in_order(name, parts, reader):
    """Return one table of several: totals by moment, others by number, each once."""
    some = [part for part in parts if len(part)]
    if not some:
        return parts[0] if parts else getattr(decode([]), name)
    table = np.concatenate(some) if len(some) > 1 else some[0]
    if name == "totals":
        return table[np.argsort(_moments(table), kind="stable")] if len(some) > 1 else table
    numbers, first = np.unique(table["seq"], return_index=True)
    return table[first] if len(some) > 1 or len(numbers) < len(table) else table


def _moments(table):
    """Return boot and uptime of rows or records as one rising number [-]."""
    boot, uptime_ds = ((table.boot, table.uptime_ds) if isinstance(table, Rows) else
                       (table["boot"], table["uptime_ds"]))
    return boot.astype(np.int64) << 32 | uptime_ds.astype(np.int64)


def near(journal: Journal, clock: Clock, period) -> Journal:
    """Return the part of a life's journal near a period [s since 1970 UTC], and some more."""
    rows = journal.rows
    if not len(rows):
        return journal
    places = np.append(np.arange(0, len(rows) - 1, COARSE_ROWS), len(rows) - 1)
    some_s = clock.utc(rows.generation[places], rows.boot[places], rows.uptime_ds[places])
    inside = np.flatnonzero((some_s >= period[0] - MARGIN_S) & (some_s <= period[1] + MARGIN_S))
    if not len(inside):
        # No row near it, but what two rows far apart enclose may be.
        before = np.flatnonzero(some_s < period[0])
        inside = before[-1:] if len(before) else np.array([0])
    moments = _moments(rows)
    low = moments[places[max(inside[0] - 1, 0)]]
    high = moments[places[min(inside[-1] + 1, len(places) - 1)]]
    # With whole spans of totals: from the last record in front to the first behind.
    of = {name: np.sort(_moments(getattr(journal, name))) for name in TABLES}
    low = max((mine[mine <= low][-1] for mine in of.values() if (mine <= low).any()), default=low)
    high = min((mine[mine >= high][0] for mine in of.values() if (mine >= high).any()),
               default=high)
    first = max(int(np.searchsorted(moments, low)) - 1, 0)
    end = int(np.searchsorted(moments, high, side="right")) + 1

    def part(name):
        table = getattr(journal, name)
        mine = _moments(table)
        inside = (mine >= low if first else True) & ((mine <= high) | (end >= len(rows)))
        if name == "events" and first:
            # The last event in front tells the state in which it begins.
            inside |= mine == max(mine[mine < low], default=-1)
        return table[inside]

    return replace(journal, rows=rows.take(slice(first, end)),
                   **{name: part(name) for name in TABLES})
