"""One line of time for the boots of a span, and the states on it, as the record tells.

Ticks are of 0.1 s.  A scan belongs to the state that it was judged in: a run of a state ends
with the scan that left it.
"""

from typing import NamedTuple

import numpy as np

from forebay.shelf import Clock, Journal
from keeper import events as ev
from keeper import modes

DS_PER_S = 10
MINUTE_TICKS = 60 * DS_PER_S
BETWEEN_BOOTS = 10        # ticks at least: a board takes a second to start
# A change that no event tells, but that has one cause only.
PLAIN_CAUSES = {(modes.TRIAL, modes.PUMPING): modes.WATER_SEEN,
                (modes.STANDSTILL, modes.TRIAL): modes.SUN_ENOUGH,
                (modes.STANDSTILL, modes.RUNNING): modes.LIGHT_DUE,
                (modes.CLOSING, modes.STANDSTILL): modes.VALVE_SHUT}
ROW_MISSING = 20          # ticks between two rows that no closing of a row explains


class Start(NamedTuple):
    """A boot on the line: its journal's generation and number, ticks of its uptime 0, of its
    first and last record; is_whole: it began within the span, so that it is known from its start.
    """

    generation: int
    boot: int
    offset: int
    first: int
    last: int
    is_whole: bool


class Run(NamedTuple):
    """A state: the ticks of its first and last scan; the cause for which it was left.

    cause: None where no event tells it, or the record ends there.
    """

    first: int
    last: int
    state: int
    cause: int | None


class Timeline(NamedTuple):
    """The boots of a span in order, the runs of each, rows' and events' ticks.

    row_first, row_last: ticks of each row's first and last scan; event: of each event; gaps:
    (from, to) where rows are missing; zero_s [s since 1970 UTC] of tick 0.
    """

    starts: list[Start]
    runs: list[Run]
    row_first: np.ndarray
    row_last: np.ndarray
    event: np.ndarray
    gaps: list[tuple[int, int]]
    zero_s: float

    @property
    def begin(self) -> int:
        """Tick before the first scan."""
        return self.starts[0].first - 1

    @property
    def end(self) -> int:
        """Tick of the last scan."""
        return self.starts[-1].last

    def utc_s(self, tick: float) -> float:
        """Return the time of a tick [s since 1970 UTC]."""
        return self.zero_s + tick / DS_PER_S

    def tick(self, utc_s: float) -> int:
        """Return the tick of a time [s since 1970 UTC]."""
        return round((utc_s - self.zero_s) * DS_PER_S)

    def run_at(self, tick: int) -> Run:
        """Return the run that a scan belongs to, or the nearest one before."""
        firsts = [run.first for run in self.runs]
        return self.runs[max(0, int(np.searchsorted(firsts, tick, side="right")) - 1)]


def timeline_of(journal: Journal, clock: Clock) -> Timeline:
    """Return the line of time of a journal's part; it has a row."""
    rows, events = journal.rows, journal.events
    keys = _keys(rows.generation, rows.boot)
    order = list(dict.fromkeys(keys.tolist()))
    starts: list[Start] = []
    zero_s = None
    for key in order:
        mine = keys == key
        generation, boot = key >> 16, key & 0xFFFF
        first_ds = int(rows.uptime_ds[mine][0]) - int(rows.scans[mine][0])
        last_ds = int(rows.uptime_ds[mine].max())
        own = events[_keys(events["generation"], events["boot"]) == key]
        # A cut leaves events on flash that its last rows did not come to.
        last_ds = max([last_ds, *own["uptime_ds"].tolist()])
        is_whole = bool((own["code"] == ev.BOOT).any())
        if is_whole:
            first_ds = 0
        begin_s = float(clock.utc([generation], [boot], [0])[0])
        if zero_s is None:
            zero_s = begin_s if np.isfinite(begin_s) else 0.0
        offset = round((begin_s - zero_s) * DS_PER_S) if np.isfinite(begin_s) else 0
        if starts:
            offset = max(offset, starts[-1].last + BETWEEN_BOOTS - first_ds)
        starts.append(Start(generation, boot, offset, offset + first_ds + 1, offset + last_ds,
                            is_whole))
    offsets = {(one.generation << 16 | one.boot): one.offset for one in starts}
    row_last = rows.uptime_ds.astype(np.int64) + np.array([offsets[key] for key in keys.tolist()])
    row_first, gaps = _firsts(rows, keys, row_last, {one.offset: one for one in starts}, offsets)
    gaps = sorted([*gaps, *_unwritten(starts, keys, row_last, offsets)])
    event_keys = _keys(events["generation"], events["boot"])
    event = np.array([offsets.get(key, -1) for key in event_keys.tolist()], np.int64)
    event = np.where(event >= 0, event + events["uptime_ds"].astype(np.int64), -1)
    runs = [run for one in starts
            for run in _runs(one, keys, rows, row_first, row_last, events, event)]
    return Timeline(starts, runs, row_first, row_last, event, gaps, float(zero_s or 0.0))


def _keys(generation, boot):
    return np.asarray(generation, np.int64) << 16 | np.asarray(boot, np.int64)


def _firsts(rows, keys, row_last, by_offset, offsets):
    """Return (tick of the first scan of each row, gaps where rows are missing)."""
    first = row_last - rows.scans.astype(np.int64) + 1
    gaps = []
    for place in range(len(row_last)):
        if place and keys[place] == keys[place - 1]:
            after = int(row_last[place - 1]) + 1
            if rows.seq[place] == rows.seq[place - 1] + 1:
                first[place] = after    # a late scan stands for several ticks
            elif first[place] - after > ROW_MISSING:
                gaps.append((after, int(first[place]) - 1))
        else:
            begin = by_offset[offsets[int(keys[place])]].first
            if first[place] - begin > ROW_MISSING:
                gaps.append((begin, int(first[place]) - 1))
            first[place] = max(int(first[place]), begin)
    return first, gaps


def _unwritten(starts, keys, row_last, offsets):
    """Return (from, to) behind the last row of each boot, where a cut has taken some."""
    for key, one in zip(offsets, starts, strict=True):
        last = int(row_last[keys == key].max())
        if one.last - last > ROW_MISSING:
            yield last + 1, one.last


def _runs(start, keys, rows, row_first, row_last, events, event):
    """Return the runs of one boot: by its events, and by rows where no event tells a change."""
    inside = (event >= start.first) & (event <= start.last) & (events["code"] == ev.STATE)
    told = [(int(tick), int(left), int(cause), int(state)) for tick, left, cause, state in zip(
        event[inside], events["argument"][inside], events["argument2"][inside],
        events["state"][inside], strict=True)]
    mine = np.flatnonzero(keys == (start.generation << 16 | start.boot))
    shown = [(int(row_first[place]), int(row_last[place]), int(rows.state[place]))
             for place in mine]
    state = modes.SAFE_STATE if start.is_whole or not shown else shown[0][2]
    changes: list[tuple[int, int | None, int]] = [
        (tick, cause, state) for tick, _, cause, state in told]
    for first, last, seen in shown:
        middle = (first + last) // 2
        before = [one for one in changes if one[0] < middle]
        now = before[-1][2] if before else state
        inside_row = any(first - ROW_MISSING <= one[0] <= last for one in changes)
        if now != seen and not inside_row:
            changes.append((first - 1, None, seen))
            changes.sort(key=lambda one: one[0])
    runs, begin = [], start.first
    for tick, cause, after in changes:
        if tick >= begin:
            told = PLAIN_CAUSES.get((state, after)) if cause is None else cause
            runs.append(Run(begin, tick, state, told))
            begin = tick + 1
        state = after
    if begin <= start.last:
        runs.append(Run(begin, start.last, state, None))
    return runs
