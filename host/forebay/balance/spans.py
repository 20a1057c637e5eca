"""When the rig did what: the journal cut at every record that carries totals.

Between two such records of one boot the totals' difference is exact, whatever
became of the rows; the state in force is known from the events.  So an energy
or a volume is assigned to pumping or light without a sample being missed.  A
boot goes on from the totals that the one before it saved: what the next boot
begins with closes a boot that was cut between two records.
"""

from dataclasses import dataclass

import numpy as np

from forebay.shelf import Journal
from forebay.shelf.clock import DS_PER_S
from forebay.shelf.rows import total_values
from forebay.si import unit_of
from keeper import events
from keeper.channels import T_DOWN, T_UP, TOTALS
from keeper.modes import CLOSING, PUMPING, RUNNING, SAFE_STATE, TRIAL

FILL_STATES = (TRIAL, PUMPING)
LIGHT_STATES = (RUNNING, CLOSING)
UNKNOWN_STATE = 255
HOLE_S = 1.0  # between spans, in which nothing is known
TOUCHING_S = 1e-6  # of places on the axis: floats hold years of seconds to less


@dataclass
class Spans:
    """Stretches between totals, in order; one entry each.

    begin_s, end_s: on an axis that lays the boots end to end [s]; key: generation
    and boot as one number [-]; state: in force during it; totals: growth of
    the ten totals [mJ, uL, ms]; error: half-width of what is not known of it,
    0 between two records of totals.
    """

    begin_s: np.ndarray
    end_s: np.ndarray
    key: np.ndarray
    state: np.ndarray
    totals: np.ndarray
    error: np.ndarray

    @classmethod
    def none(cls) -> "Spans":
        """Return no spans."""
        empty = np.empty(0)
        return cls(empty, empty, empty.astype(np.int64), empty.astype(np.int64),
                   np.empty((0, len(TOTALS))), np.empty((0, len(TOTALS))))

    @classmethod
    def all_of(cls, parts: list["Spans"]) -> "Spans":
        """Return the spans of several parts, one after the other."""
        return cls(*[np.concatenate(some) for some in zip(
            *[vars(one).values() for one in parts], strict=True)])

    def whole(self) -> "Spans":
        """Return one span as long as all of these, that grows by as much; none of none."""
        if not len(self.key):
            return self
        ends_s = np.array([self.seconds])
        return Spans(np.zeros(1), ends_s, self.key[:1], self.state[:1],
                     self.totals.sum(axis=0, keepdims=True),
                     self.error.sum(axis=0, keepdims=True))

    def by_state(self) -> "Spans":
        """Return one span for each state of these, as `whole` has it."""
        return Spans.all_of([Spans.none(), *[self.where(self.state == one).whole()
                                             for one in np.unique(self.state)]])

    @property
    def moved_uL(self) -> np.ndarray:
        """What went up and down in each [uL]."""
        return self.totals[:, T_UP] + self.totals[:, T_DOWN]

    def joined(self, other: "Spans") -> "Spans":
        """Return these and others, one after the other."""
        return Spans.all_of([self, other])

    def of(self, states) -> "Spans":
        """Return the spans in some states."""
        return self.where(np.isin(self.state, states))

    def where(self, mask) -> "Spans":
        """Return the spans that a mask, or an order of places [-], selects."""
        some = np.flatnonzero(mask) if mask.dtype == bool else mask
        return Spans(*[part.take(some, axis=0) for part in vars(self).values()])

    def growth(self, total: int) -> int:
        """Return the growth of one total over all spans [unit of the total]."""
        return round(self.totals[:, total].sum())

    def growth_si(self, total: int) -> float:
        """Return the growth of one total over all spans [SI unit]."""
        return self.growth(total) * unit_of(TOTALS[total]).factor

    def error_si(self, total: int) -> float:
        """Return the half-width of what is not known of that growth [SI unit]."""
        return float(self.error[:, total].sum()) * unit_of(TOTALS[total]).factor

    @property
    def seconds(self) -> float:
        """Time covered [s]."""
        return float((self.end_s - self.begin_s).sum())


@dataclass
class Course:
    """When the rig did what, without the totals: one entry a stretch of one state.

    begin_s, end_s, key, state: as of `Spans`; moved_uL: what went up and down in it [uL].
    """

    begin_s: np.ndarray
    end_s: np.ndarray
    key: np.ndarray
    state: np.ndarray
    moved_uL: np.ndarray

    @classmethod
    def of(cls, spans: list) -> "Course":
        """Return the course of spans, or of parts of it, one after the other.

        Those that follow each other in one state, without a break, are one.
        """
        begin_s, end_s, key, state, moved_uL = (
            np.concatenate([getattr(one, name) for one in spans])
            for name in cls.__dataclass_fields__)
        if not len(key):
            return cls(begin_s, end_s, key, state, moved_uL)
        parted = (np.diff(state) != 0) | (np.diff(key) != 0)
        parted |= np.abs(begin_s[1:] - end_s[:-1]) > TOUCHING_S
        first = np.flatnonzero(np.append(True, parted))
        last = np.flatnonzero(np.append(parted, True))
        return cls(begin_s[first], end_s[last], key[first], state[first],
                   np.add.reduceat(moved_uL, first))


@dataclass
class Axis:
    """Time without gaps: the boots of a journal laid end to end."""

    bases_s: dict[int, float]

    @classmethod
    def of_ends(cls, ends_s) -> "Axis":
        """Return the axis of boots that are known by (generation, boot): last uptime [s]."""
        bases, base_s = {}, 0.0
        for (generation, boot), last_s in sorted(ends_s.items()):
            bases[int(generation) << 16 | int(boot)] = base_s
            base_s += float(last_s)
        return cls(bases)

    def at(self, keys, uptime_ds) -> np.ndarray:
        """Return places on the axis [s] for boots' keys [-] and uptimes [0.1 s]."""
        if len(keys) and keys[0] == keys[-1] and (keys == keys[0]).all():
            return self.bases_s[int(keys[0])] + uptime_ds / DS_PER_S
        found, place = np.unique(keys, return_inverse=True)
        return np.array([self.bases_s[int(key)] for key in found])[place] + uptime_ds / DS_PER_S


def among(state: np.ndarray, states) -> np.ndarray:
    """Return the mask of those states that are one of some; for few of them faster than isin."""
    found = state == states[0]
    for one in states[1:]:
        found |= state == one
    return found


def keys_of(table) -> np.ndarray:
    """Return generation and boot of rows or records as one rising number [-]."""
    generation, boot = _field(table, "generation"), _field(table, "boot")
    found = generation.astype(np.int64)
    found <<= 16
    found |= boot
    return found


def uptime_of(table) -> np.ndarray:
    """Return the uptimes [0.1 s] of rows or records, as whole numbers that may be negative."""
    return _field(table, "uptime_ds").astype(np.int64)


def _field(table, name):
    return table[name] if isinstance(table, np.ndarray) else getattr(table, name)


def axis_of(journal: Journal) -> Axis:
    """Return the axis on which all rows and records of a journal lie."""
    ends_s: dict[tuple[int, int], float] = {}
    for table in (journal.rows, journal.events, journal.totals, journal.summaries):
        keys, uptime = keys_of(table), uptime_of(table)
        for key in np.unique(keys).tolist():
            boot = key >> 16, key & 0xFFFF
            ends_s[boot] = max(ends_s.get(boot, 0.0), uptime[keys == key].max() / DS_PER_S)
    return Axis.of_ends(ends_s)


def spans_of(journal: Journal, axis: Axis) -> Spans:
    """Return the spans of a journal, in order of time."""
    return Points.of(journal).spans(axis)


@dataclass
class Points:
    """Records that carry totals, in order: boots' keys [-], uptimes [0.1 s], totals.

    after, before: the state that a record says was entered and left, else UNKNOWN_STATE.
    """

    key: np.ndarray
    uptime_ds: np.ndarray
    after: np.ndarray
    before: np.ndarray
    totals: np.ndarray

    @classmethod
    def of(cls, journal: Journal) -> "Points":
        """Return those of a journal."""
        tables = (journal.events, journal.totals, journal.summaries)
        key = np.concatenate([keys_of(table) for table in tables])
        totals = np.concatenate([total_values(table["totals"]) for table in tables])
        after, before = (np.full(len(key), UNKNOWN_STATE) for _ in range(2))
        code = journal.events["code"]
        changed = np.flatnonzero(code == events.STATE)
        after[changed] = journal.events["state"][changed]
        before[changed] = journal.events["argument"][changed]
        after[np.flatnonzero(code == events.BOOT)] = SAFE_STATE
        # Changes of state that were only counted: of them the newest.
        counted = np.flatnonzero(code == events.RESTARTED)
        after[counted] = journal.events["state"][counted]
        return cls(key, np.concatenate([uptime_of(table) for table in tables]), after, before,
                   totals)._in_order()

    def joined(self, other: "Points") -> "Points":
        """Return these and others, in order."""
        parts = zip(vars(self).values(), vars(other).values(), strict=True)
        return Points(*[np.concatenate(both) for both in parts])._in_order()

    def take(self, index) -> "Points":
        """Return those that a mask or slice selects."""
        return Points(*[part[index] for part in vars(self).values()])

    def _in_order(self):
        # Totals of one scan may carry the same uptime: the larger ones came later.
        found = self.take(np.lexsort((self.totals.sum(axis=1), self.uptime_ds, self.key)))
        edges = [0, *(np.flatnonzero(np.diff(found.key)) + 1).tolist(), len(found.key)]
        for first, end in zip(edges, edges[1:], strict=False):
            # A late event carries totals a scan or two younger than itself.
            mine = slice(first, end)
            found.totals[mine] = np.maximum.accumulate(found.totals[mine], axis=0)
        return found

    def spans(self, axis: Axis) -> Spans:
        """Return what lies between these, where it is known."""
        key, at = self.key, axis.at(self.key, self.uptime_ds)
        growth = np.diff(self.totals, axis=0)
        # On the axis a boot begins where the rows of the one before it end.
        carried = (np.diff(key) == 1) & (self.uptime_ds[1:] == 0) & (growth >= 0).all(axis=1)
        known = (key[1:] == key[:-1]) | carried
        return Spans(at[:-1][known], at[1:][known], key[:-1][known], self.states()[known],
                     growth[known], np.zeros(growth[known].shape))

    def states(self) -> np.ndarray:
        """Return the state in force between each point and the next."""
        count = len(self.key)
        if count < 2:
            return np.empty(0, int)
        place = np.arange(count)
        entered = self.after != UNKNOWN_STATE
        last = np.maximum.accumulate(np.where(entered, place, 0))[:-1]
        known = entered[last] & (self.key[last] == self.key[:-1])
        # Before the first change that is known, the state that it left was in force.
        telling = entered | (self.before != UNKNOWN_STATE)
        coming = np.minimum.accumulate(np.where(telling, place, count - 1)[::-1])[::-1][1:]
        left = np.where(self.key[coming] == self.key[:-1], self.before[coming], UNKNOWN_STATE)
        return np.where(known, self.after[last], left)


def legs(spans: Spans | Course) -> list[tuple[str, float, float]]:
    """Return ("fill" or "discharge", begin [s], end [s]) of each leg of the store's use.

    A leg runs from the first to the last span of its kind with none of the
    other kind between: pauses under a cloud belong to the filling.  A restart
    of the board ends a leg, because nothing was metered while it was off; so
    does a hole in what is known.
    """
    found = []
    key_before = None  # of the last leg found
    known_to_s = -np.inf
    columns = (spans.begin_s, spans.end_s, spans.key, spans.state)
    for begin_s, end_s, key, state in zip(*[one.tolist() for one in columns], strict=True):
        if begin_s > known_to_s + HOLE_S:
            key_before = None
        known_to_s = max(known_to_s, end_s)
        last = found[-1][0] if key == key_before else None
        if state in FILL_STATES:
            kind = "fill"
        elif state == RUNNING or (state == CLOSING and last == "discharge"):
            # A keeper starts in the closing state, which alone is no light.
            kind = "discharge"
        else:
            continue
        if kind == last:
            found[-1] = (kind, found[-1][1], end_s)
        else:
            found.append((kind, begin_s, end_s))
            key_before = key
    return found
