"""What is kept of the journal for a balance: sums, spans, and the rows where something changes.

Owns what may be let go.  Windows come in order and are each reduced at once; parts of a
period put together are the whole, whichever way it was cut.
"""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from forebay.balance.dark import DARK_KINDS, dark_of
from forebay.balance.leaks import FLOATS
from forebay.balance.levels import REST_STATES
from forebay.balance.moving import Moving
from forebay.balance.rests import Rests
from forebay.balance.shares import SAME_S, Cut, between
from forebay.balance.spans import (
    FILL_STATES,
    LIGHT_STATES,
    Course,
    Spans,
    among,
    keys_of,
    legs,
    uptime_of,
)
from forebay.balance.sums import Summing, Sums
from forebay.balance.windows import CONTEXT_ROWS, Window
from forebay.shelf import Clock, Rows
from forebay.shelf.clock import DS_PER_S
from forebay.si import are_trusted, stored_si
from keeper import channels as ch
from keeper import events
from keeper.modes import CLOSING
from keeper.protection import elements

# Rows with a level that are kept to each side of a moment at which one is asked for.
NEAR_ROWS = 5
# Of so many rows one is asked for the bound of its time, and those beside the greatest.
BOUND_ROWS = 64
# Elements that trip or lock, by number: what they did again is told as a count.
TRIPPING = [number for number, row in enumerate(elements.ELEMENTS, 1)
            if row[elements.E_ACTION] >= elements.TRIP]


class Stretch(NamedTuple):
    """A time without a hole: places of its first and last row among those kept.

    begin_utc_s, end_utc_s: NaN where not known; begin_s, end_s: on the axis, where a period
    cut it, else None.
    """

    first: int
    last: int
    begin_utc_s: float
    end_utc_s: float
    begin_s: float | None
    end_s: float | None


@dataclass
class Gathered:
    """What is kept.

    sums; spans: those of one state as one; course: their order; dark: their parts without
    sun, each as one, by the kinds of `dark.DARK_KINDS`; rests: rows at rest; rows, ends_s,
    seconds: the rows kept; own: mask of those that lie in the period, the others are their
    neighbours; linked: mask of those in front of which no row with a level was left out;
    stretches; cuts; boots: keys of rows and events; bounds_s: greatest bound of a time [s] by
    boot's key; missing: (first, last) numbers of rows that are not there; moving: what a model
    needs of all rows, None where none is asked; goes_on: whether it begins where the
    part before it ended.
    """

    sums: Sums
    spans: Spans
    course: Course
    dark: dict[int, Spans]
    rests: Rests
    rows: Rows
    ends_s: np.ndarray
    seconds: np.ndarray
    own: np.ndarray
    linked: np.ndarray
    stretches: list[Stretch]
    cuts: list[Cut] = field(default_factory=list)
    from_rows_s: float = 0.0
    gaps: int = 0
    gap_s: float = 0.0
    trips: int = 0
    boots: set[int] = field(default_factory=set)
    bounds_s: dict[int, float] = field(default_factory=dict)
    is_time_known: bool = False
    missing: list[tuple[int, int]] = field(default_factory=list)
    goes_on: bool = False
    moving: Moving | None = None

    @classmethod
    def none(cls) -> "Gathered":
        """Return nothing."""
        none = Spans.none()
        return cls(Sums(), none, Course.of([none]), dict.fromkeys(DARK_KINDS, none),
                   Rests.none(), Rows.empty(0), np.empty(0), np.empty(0), np.empty(0, bool),
                   np.empty(0, bool), [])

    @classmethod
    def joined(cls, parts: list["Gathered"]) -> "Gathered":
        """Return parts of one period, in order, as one."""
        if len(parts) < 2:
            return parts[0] if parts else cls.none()
        found = cls.none()
        kept = [one._within(one.goes_on, later is not None and later.goes_on)
                for one, later in zip(parts, [*parts[1:], None], strict=True)]
        found.rows = Rows.joined([one.rows for one in kept])
        for name in ("ends_s", "seconds", "own", "linked"):
            setattr(found, name, np.concatenate([getattr(one, name) for one in kept]))
        found.spans = Spans.all_of([one.spans for one in parts]).by_state()
        found.course = Course.of([one.course for one in parts])
        found.dark = {kind: Spans.all_of([one.dark[kind] for one in parts]).whole()
                      for kind in DARK_KINDS}
        found.rests = Rests.joined([one.rests for one in parts])
        base = 0
        for one in kept:
            _go_on(found.stretches, one.stretches, base, one.goes_on)
            base += len(one.ends_s)
            found.boots |= one.boots
            for key, bound_s in one.bounds_s.items():
                found.bounds_s[key] = max(found.bounds_s.get(key, 0.0), bound_s)
            for name in ("sums", "cuts", "missing", "from_rows_s", "gaps", "gap_s", "trips"):
                setattr(found, name, getattr(found, name) + getattr(one, name))
            found.is_time_known |= one.is_time_known
        return found

    def _within(self, is_before, is_behind):
        """Return this without its neighbours' rows where the neighbour is there itself."""
        mine = np.flatnonzero(self.own)
        first = int(mine[0]) if is_before and len(mine) else 0
        end = int(mine[-1]) + 1 if is_behind and len(mine) else len(self.own)
        some = slice(first, end)
        return _with(self, rows=self.rows.take(some), ends_s=self.ends_s[some],
                     seconds=self.seconds[some], own=self.own[some], linked=self.linked[some],
                     stretches=[one._replace(first=one.first - first, last=one.last - first)
                                for one in self.stretches])


def _with(gathered, **changes):
    return Gathered(**{**vars(gathered), **changes})


def _go_on(stretches, more, base, goes_on):
    """Add the stretches of the next part, whose first one may go on where the last one ended."""
    more = [one._replace(first=one.first + base, last=one.last + base) for one in more]
    if stretches and more and goes_on:
        before = stretches.pop()
        more[0] = before._replace(last=more[0].last, end_utc_s=more[0].end_utc_s,
                                  end_s=more[0].end_s)
    stretches += more


@dataclass
class Gatherer:
    """Reduces windows.

    period: (begin, end) [s since 1970 UTC] or None; moving: takes all rows, for what only a
    model of the rig can tell.
    """

    summing: Summing
    clock: Clock
    period: tuple[float, float] | None = None
    moving: Moving | None = None

    def of(self, window: Window) -> Gathered:
        """Return what is kept of a window."""
        own = window.own()
        low_s, high_s = -np.inf, np.inf
        if self.period is not None:
            low_s, high_s = (self._place(own, at_s) for at_s in self.period)
        found = Gathered.none()
        first, end = (int(np.searchsorted(own.ends_s, at_s + SAME_S)) for at_s in (low_s, high_s))
        # Within a row, or within a gap that totals bridge.
        is_between = first < len(own) and max(low_s, own.begins_s[0]) < high_s < np.inf and (
            not first or not window.covered.holes[first - 1])
        if end > first or is_between:
            found = self._rows(window, own, slice(first, end), low_s, high_s)
        self._events(found, window, low_s, high_s)
        self._bounds(found, own.part(first, max(first, end)))
        found.goes_on = window.goes_on
        return found

    def _place(self, own, at_s):
        """Return the place on the axis [s] of a time; -inf before the rows, inf behind them."""
        if not len(own):
            return np.inf
        some = np.unique(np.append(np.arange(0, len(own), BOUND_ROWS), len(own) - 1))
        some_s = self._utc_s(own.rows, some)
        later = np.flatnonzero(some_s > at_s)
        if not len(later):
            return own.ends_s[-1] if at_s <= some_s[-1] + SAME_S else np.inf
        last = int(some[later[0]])
        near = np.arange(max(last - BOUND_ROWS, 0), last + 1)
        near_s = self._utc_s(own.rows, near)
        place = np.flatnonzero(near_s > at_s)[0]
        row = int(near[place])
        place_s = own.ends_s[row] - (near_s[place] - at_s)
        if row == 0:
            return place_s if place_s >= own.begins_s[0] - SAME_S else -np.inf
        return max(place_s, own.ends_s[row - 1])

    def _utc_s(self, rows, places, back_ds=0):
        return self.clock.utc(rows.generation[places], rows.boot[places],
                              rows.uptime_ds[places] - back_ds)

    def _rows(self, window, own, mine, low_s, high_s):
        """Return what is kept of the rows of a window that lie in the period."""
        spans, places, cuts = between(window.covered.spans, own, low_s, high_s, self.period)
        # With its neighbours': what a row is, the one beside it may say.
        inside = slice(window.first, window.end)
        sun = self.summing.sunlit(window.rowed.rows)[inside]
        travel = self.summing.travels(window.rowed.rows, window.rowed.key)[:, inside]
        kinds, dark_rows = dark_of(sun, own, window.covered.spans, window.lit_until_s,
                                   self.summing.press_s)
        part = own.part(mine.start, mine.stop)
        before = window.first + mine.start - 1
        sums = self.summing.of(part.rows, part.seconds, sun[mine], dark_rows[mine],
                               travel[:, mine],
                               window.rowed.rows.state[before] if before >= 0 else None)
        found = Gathered.none()
        found.sums, found.cuts = sums, cuts
        found.spans, found.course = spans.by_state(), Course.of([spans])
        found.dark = {kind: spans.where(kinds[places] == kind).whole() for kind in DARK_KINDS}
        found.rests = self._rests(part)
        if self.moving is not None:
            self.moving.add(part)
        found.from_rows_s = spans.where(window.covered.is_made[places]).seconds
        kept = self._keep(found, window, mine, (low_s, high_s))
        self._stretches(found, window, own, mine, low_s, high_s, kept)
        _gaps(found, window, own, mine, low_s, high_s)
        return found

    def _rests(self, part):
        """Return the runs at rest of rows with a level."""
        read = part.rows.stored[ch.LEVEL_MM]
        level = are_trusted(read)
        some = slice(None) if level.all() else np.flatnonzero(level)
        return Rests.of(
            stored_si(read[some], ch.LEVEL_MM), np.maximum(part.rows.scans[some], 1),
            part.begins_s[some], part.ends_s[some], part.key[some],
            among(part.rows.state[some], REST_STATES), self.summing.meters.level_noise_m)

    def _keep(self, found, window, mine, edges_s):
        """Keep the rows near what begins or ends; return their places in the window."""
        rowed, stretches = window.rowed, window.covered.stretches
        first, end = window.first + mine.start, window.first + mine.stop
        low, high = max(first - CONTEXT_ROWS, 0), min(end + CONTEXT_ROWS, len(rowed))
        level = low + np.flatnonzero(are_trusted(rowed.rows.stored[ch.LEVEL_MM][low:high]))
        floats = self._float_moves(rowed.rows, first, end)
        marks_s = np.concatenate([_marks(found.course), edges_s, rowed.ends_s[floats]])
        near = np.searchsorted(rowed.middles_s[level], marks_s)
        near = np.concatenate([near, np.searchsorted(level, [first, end]), [0, len(level)]])
        near = np.unique(near[:, None] + np.arange(-NEAR_ROWS, NEAR_ROWS))
        # The first and last rows with a level of each stretch show what the whole holds.
        sides = np.array(stretches).ravel() + window.first
        near = np.union1d(near, np.searchsorted(level, sides)[:, None] + np.arange(-2, 3))
        kept = np.unique(np.concatenate([
            level[near[(near >= 0) & (near < len(level))]],
            [first, end - 1] if end > first else [], floats, floats[floats > 0] - 1,
            sides[(sides >= first) & (sides < end)]])).astype(int)
        found.rows, found.own = rowed.rows.take(kept), (kept >= first) & (kept < end)
        found.ends_s, found.seconds = rowed.ends_s[kept], rowed.seconds[kept]
        number = np.searchsorted(level, kept)
        found.linked = np.ones(len(kept), bool)
        shown = np.flatnonzero(np.append(level, -1)[number] == kept)
        found.linked[shown[1:]] = np.diff(number[shown]) == 1
        return kept

    def _float_moves(self, rows, first, end):
        """Return the places of rows in which a float of the upper tank has moved.

        Of each kind of move the first and the last: which water moved, before or behind it.
        """
        base = max(first - 1, 0)
        seq, contacts, state = (one[base:end] for one in (rows.seq, rows.contacts, rows.state))
        some = np.flatnonzero(contacts[1:] != contacts[:-1]) + 1
        some = some[seq[some] - seq[some - 1] == 1]
        changed = contacts[some] ^ contacts[some - 1]
        found = []
        for name, place in FLOATS:
            bit = place - ch.COLUMNS
            moved = some[changed >> bit & 1 > 0]
            if name not in self.summing.fitted or not len(moved):
                continue
            for states in (FILL_STATES, LIGHT_STATES):
                for beside in (moved - 1, moved):
                    on = among(state[beside], states)
                    for value in (0, 1):
                        mine = moved[on & (contacts[moved] >> bit & 1 == value)]
                        found += [base + int(one) for one in (*mine[:1], *mine[-1:])]
        return np.array(sorted(set(found)), int)

    def _stretches(self, found, window, own, mine, low_s, high_s, kept):
        holes = window.covered.holes
        edges = [mine.start, *(np.flatnonzero(holes[mine.start:mine.stop - 1])
                               + mine.start + 1).tolist(), mine.stop]
        firsts, lasts = np.array(edges[:-1]), np.array(edges[1:]) - 1
        back_ds = np.round(own.seconds[firsts] * DS_PER_S).astype(np.int64)
        begins_s = self._utc_s(own.rows, firsts, back_ds)
        ends_s = self._utc_s(own.rows, lasts)
        places = np.searchsorted(kept, np.stack([firsts, lasts]) + window.first)
        columns = (*places.tolist(), begins_s.tolist(), ends_s.tolist())
        found.stretches = [Stretch(first, last, begin_s, end_s, None, None)
                           for first, last, begin_s, end_s in zip(*columns, strict=True)]
        begin_utc_s, end_utc_s = self.period or (np.nan, np.nan)
        if np.isfinite(low_s) and not (mine.start and holes[mine.start - 1]):
            found.stretches[0] = found.stretches[0]._replace(
                begin_utc_s=begin_utc_s, begin_s=low_s)
        is_last = not mine.stop or mine.stop > len(holes) or not holes[mine.stop - 1]
        if np.isfinite(high_s) and is_last:
            found.stretches[-1] = found.stretches[-1]._replace(
                end_utc_s=end_utc_s, end_s=high_s)

    def _events(self, found, window, low_s, high_s):
        """Count what the events of the period tell."""
        table = window.events
        at_s = window.axis.at(keys_of(table), uptime_of(table))
        table = table[(at_s > low_s + SAME_S) & (at_s <= high_s + SAME_S)]
        found.trips = trips(table)
        found.boots = set(np.unique(keys_of(table)).tolist())
        self._bound(found, keys_of(table), uptime_of(table))

    def _bounds(self, found, part):
        """Note how well the times of rows are known."""
        if not len(part):
            return
        edges = np.flatnonzero(np.diff(part.key))
        some = np.unique(np.concatenate([np.arange(0, len(part), BOUND_ROWS), edges, edges + 1,
                                         [len(part) - 1]]))
        found.boots |= set(np.unique(part.key[some]).tolist())
        bounds_s = self._bound(found, part.key[some], part.rows.uptime_ds[some])
        most = int(some[bounds_s.argmax()])
        near = slice(max(most - BOUND_ROWS, 0), most + BOUND_ROWS)
        self._bound(found, part.key[near], part.rows.uptime_ds[near])

    def _bound(self, found, key, uptime_ds):
        """Note the bounds of times by boot; return them [s]."""
        times = self.clock.times(key >> 16, key & 0xFFFF, uptime_ds)
        found.is_time_known |= bool(np.isfinite(times.utc_s).any())
        for boot in np.unique(key).tolist():
            most_s = float(times.bound_s[key == boot].max())
            found.bounds_s[boot] = max(found.bounds_s.get(boot, 0.0), most_s)
        return times.bound_s


def _marks(course):
    """Return where on the axis [s] a leg may begin or end, whatever lies around this course."""
    # Whether closing belongs to a light may be known in the part before alone.
    shuts = course.state == CLOSING
    edges_s = [at_s for _, *edges_s in legs(course) for at_s in edges_s]
    return np.concatenate([edges_s, course.begin_s[shuts], course.end_s[shuts]])


def _gaps(found, window, own, mine, low_s, high_s):
    """Count the gaps of the rows that are bridged; one that a period cuts counts behind it."""
    seq, base = own.rows.seq, max(mine.start - 1, 0)
    jumps = base + np.flatnonzero(np.diff(seq[base:mine.stop].astype(np.int64)) > 1)
    found.missing = [(int(seq[place]) + 1, int(seq[place + 1]) - 1) for place in jumps.tolist()]
    same = (own.key[jumps] == own.key[jumps + 1]) & ~window.covered.holes[jumps]
    jumps = jumps[same]
    begins_s = own.ends_s[jumps + 1] - own.rows.scans[jumps + 1] / DS_PER_S
    found.gaps = len(jumps)
    length_s = begins_s - np.maximum(own.ends_s[jumps], low_s)
    found.gap_s = float(np.maximum(length_s, 0.0).sum())
    if np.isfinite(high_s) and 0 < mine.stop < len(own) and (
            seq[mine.stop] - seq[mine.stop - 1] > 1 and not window.covered.holes[mine.stop - 1]):
        ends_s = own.ends_s[mine.stop] - own.rows.scans[mine.stop] / DS_PER_S
        begin_s = max(own.ends_s[mine.stop - 1], low_s)
        found.gap_s += max(float(min(high_s, ends_s) - begin_s), 0.0)


def trips(table: np.ndarray) -> int:
    """Return how many protective stops events tell of."""
    acted = table["code"] == events.ACTED
    one_by_one = np.count_nonzero(acted & (table["argument2"] >= elements.TRIP))
    repeated = (table["code"] == events.REPEATED) & np.isin(table["argument"], TRIPPING)
    return int(one_by_one + (table["argument2"][repeated] & events.COUNT_MASK).sum())
