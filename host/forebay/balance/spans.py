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
from keeper.channels import TOTALS
from keeper.modes import CLOSING, PUMPING, RUNNING, SAFE_STATE, TRIAL

FILL_STATES = (TRIAL, PUMPING)
LIGHT_STATES = (RUNNING, CLOSING)
UNKNOWN_STATE = 255
HOLE_S = 1.0  # between spans, in which nothing is known


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

    def joined(self, other: "Spans") -> "Spans":
        """Return these and others, one after the other."""
        parts = zip(vars(self).values(), vars(other).values(), strict=True)
        return Spans(*[np.concatenate(both) for both in parts])

    def of(self, states) -> "Spans":
        """Return the spans in some states."""
        return self.where(np.isin(self.state, states))

    def where(self, mask) -> "Spans":
        """Return the spans that a mask selects."""
        return Spans(*[part[mask] for part in vars(self).values()])

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
class Axis:
    """Time without gaps: the boots of a journal laid end to end."""

    bases_s: dict[int, float]

    def at(self, keys, uptime_ds) -> np.ndarray:
        """Return places on the axis [s] for boots' keys [-] and uptimes [0.1 s]."""
        bases = np.array([self.bases_s[int(key)] for key in np.unique(keys)])
        return bases[np.searchsorted(np.unique(keys), keys)] + uptime_ds / DS_PER_S


def keys_of(table) -> np.ndarray:
    """Return generation and boot of rows or records as one rising number [-]."""
    generation, boot = _field(table, "generation"), _field(table, "boot")
    return generation.astype(np.int64) << 16 | boot.astype(np.int64)


def uptime_of(table) -> np.ndarray:
    """Return the uptimes [0.1 s] of rows or records, as whole numbers that may be negative."""
    return _field(table, "uptime_ds").astype(np.int64)


def _field(table, name):
    return table[name] if isinstance(table, np.ndarray) else getattr(table, name)


def axis_of(journal: Journal) -> Axis:
    """Return the axis on which all rows and records of a journal lie."""
    tables = (journal.rows, journal.events, journal.totals, journal.summaries)
    keys = np.concatenate([keys_of(table) for table in tables])
    ends = np.concatenate([uptime_of(table) for table in tables])
    bases, base_s = {}, 0.0
    for key in np.unique(keys):
        bases[int(key)] = base_s
        base_s += ends[keys == key].max() / DS_PER_S
    return Axis(bases)


def spans_of(journal: Journal, axis: Axis) -> Spans:
    """Return the spans of a journal, in order of time."""
    points = _points(journal)
    key, uptime_ds, after, before, totals = points
    state = _states(key, after, before)
    at = axis.at(key, uptime_ds)
    growth = np.diff(totals, axis=0)
    # On the axis a boot begins where the rows of the one before it end.
    carried = (np.diff(key) == 1) & (uptime_ds[1:] == 0) & (growth >= 0).all(axis=1)
    known = (key[1:] == key[:-1]) | carried
    return Spans(at[:-1][known], at[1:][known], key[:-1][known], state[known], growth[known],
                 np.zeros(growth[known].shape))


def _points(journal):
    """Return (key, uptime, state after or unknown, state before or unknown, totals) by time."""
    tables = (journal.events, journal.totals, journal.summaries)
    key = np.concatenate([keys_of(table) for table in tables])
    uptime = np.concatenate([table["uptime_ds"].astype(np.int64) for table in tables])
    totals = np.concatenate([total_values(table["totals"]) for table in tables])
    unknown = np.full(len(key), UNKNOWN_STATE)
    after, before = unknown.copy(), unknown.copy()
    code = journal.events["code"]
    changed = np.flatnonzero(code == events.STATE)
    after[changed] = journal.events["state"][changed]
    before[changed] = journal.events["argument"][changed]
    after[np.flatnonzero(code == events.BOOT)] = SAFE_STATE
    # Changes of state that were only counted: of them the newest.
    counted = np.flatnonzero(code == events.RESTARTED)
    after[counted] = journal.events["state"][counted]
    # Totals of one scan may carry the same uptime: the larger ones came later.
    order = np.lexsort((totals.sum(axis=1), uptime, key))
    key, totals = key[order], totals[order]
    for one in np.unique(key):
        # A late event carries totals a scan or two younger than itself.
        mine = key == one
        totals[mine] = np.maximum.accumulate(totals[mine], axis=0)
    return key, uptime[order], after[order], before[order], totals


def _states(key, after, before):
    """Return the state in force between each point and the next."""
    count = max(len(key) - 1, 0)
    state = np.full(count, UNKNOWN_STATE)
    current = UNKNOWN_STATE
    for index in range(count):
        if index and key[index] != key[index - 1]:
            current = UNKNOWN_STATE
        if after[index] != UNKNOWN_STATE:
            current = after[index]
        state[index] = current
    # Before the first change that is known, the state that it left was in force.
    following = UNKNOWN_STATE
    for index in range(count - 1, -1, -1):
        if key[index + 1] != key[index]:
            following = UNKNOWN_STATE
            continue
        if before[index + 1] != UNKNOWN_STATE:
            following = before[index + 1]
        elif after[index + 1] != UNKNOWN_STATE:
            following = UNKNOWN_STATE
        if state[index] == UNKNOWN_STATE:
            state[index] = following
    return state


def legs(spans: Spans) -> list[tuple[str, float, float]]:
    """Return ("fill" or "discharge", begin [s], end [s]) of each leg of the store's use.

    A leg runs from the first to the last span of its kind with none of the
    other kind between: pauses under a cloud belong to the filling.  A restart
    of the board ends a leg, because nothing was metered while it was off; so
    does a hole in what is known.
    """
    found = []
    key_before = None  # of the last leg found
    known_to_s = -np.inf
    for begin_s, end_s, key, state in zip(
        spans.begin_s, spans.end_s, spans.key, spans.state, strict=True
    ):
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
            found[-1] = (kind, found[-1][1], float(end_s))
        else:
            found.append((kind, float(begin_s), float(end_s)))
            key_before = key
    return found
