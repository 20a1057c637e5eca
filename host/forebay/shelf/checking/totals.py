"""Do the totals keep their promises: never fall in a boot, go on from what was saved,
and agree with the rows as far as rounding explains?

Owns the bounds of that agreement.  A row is a mean over its scans, rounded to
a step; a total sums every scan.  Energy is the mean of a product, which
differs from the product of the means by at most a quarter of the product of
the two ranges (Gruess 1935); the ranges in a row are taken from its neighbours.
"""

from typing import NamedTuple

import numpy as np

from forebay.shelf.clock import DS_PER_S
from forebay.shelf.decode import Journal
from forebay.shelf.rows import Rows, total_values
from forebay.si import are_trusted, step
from keeper import channels as ch
from keeper.totals import CARRY_AT, UW_PERIODS_PER_MJ

# An event carries the totals as they are when it is written, up to a sync late.
LATE_DS = 600
UJ_PER_MJ = 1000
# Power that reads below 0 is kept back by a total until so much of it has come.
KEPT_BACK_MJ = CARRY_AT // UW_PERIODS_PER_MJ
GRUESS = 0.25
FLOW_WINDOW_S = 2.0  # over which the board measures a flow
PULSES_UL = 10_000   # of a meter, at either end of a stretch (a guess, coarse)
ROUNDING = 3         # a total and its record are cut to whole units


class Sum(NamedTuple):
    """A total that rows give again: its name, gains and losses [indices], the row's factors."""

    name: str
    plus: int
    minus: int | None
    factors: tuple[int, ...]


SUMS = (
    Sum("panel_mJ", ch.T_PANEL, None, (ch.PANEL_MV, ch.PANEL_MA)),
    Sum("pump_mJ", ch.T_PUMP, None, (ch.PANEL_MV, ch.PUMP_MA)),
    Sum("supply_in_mJ less supply_out_mJ", ch.T_SUPPLY_IN, ch.T_SUPPLY_OUT,
        (ch.SUPPLY_MV, ch.SUPPLY_MA)),
    Sum("generator_mJ", ch.T_GENERATOR, None, (ch.GENERATOR_MV, ch.GENERATOR_MA)),
    Sum("lamp_mJ", ch.T_LAMP, None, (ch.GENERATOR_MV, ch.LAMP_MA)),
    Sum("up_uL", ch.T_UP, None, (ch.FLOW_UP,)),
    Sum("down_uL", ch.T_DOWN, None, (ch.FLOW_DOWN,)),
)


class Disagreement(NamedTuple):
    """One promise that is not kept: in which boot, at which uptime [0.1 s], which total, how."""

    generation: int
    boot: int
    uptime_ds: int
    total: str
    text: str


def fallen(journal: Journal) -> list[Disagreement]:
    """Return where a total falls in a boot, or a boot goes on below what was kept."""
    tables = (journal.totals, journal.summaries, journal.events)
    moments = np.concatenate([_moments(table) for table in tables])
    key, uptime = moments >> 32, moments & 0xFFFFFFFF
    totals = np.concatenate([total_values(table["totals"]) for table in tables])
    order = np.lexsort((totals.sum(axis=1), uptime, key))
    key, uptime, totals = key[order], uptime[order], totals[order]
    found = []
    saved = np.zeros(len(ch.TOTALS), np.int64)
    for one in np.unique(key):
        mine = slice(*np.searchsorted(key, [one, one + 1]))
        if one >> 16 != key[max(mine.start - 1, 0)] >> 16:
            saved = np.zeros(len(ch.TOTALS), np.int64)
        found += _fallen(int(one), uptime[mine], totals[mine], saved)
        saved = totals[mine].max(axis=0)
    return found


def _fallen(key, uptime, totals, saved):
    # The last record that is surely older than each one.
    before = np.searchsorted(uptime, uptime - LATE_DS, side="right") - 1
    found = []
    # One total at a time: years of all of them at once take much room.
    for total, name in enumerate(ch.TOTALS):
        mine = totals[:, total]
        older = np.where(before >= 0, np.maximum.accumulate(mine)[before], saved[total])
        for place in np.flatnonzero(mine < older).tolist():
            text = f"falls by {older[place] - mine[place]}"
            found.append((place, Disagreement(key >> 16, key & 0xFFFF, int(uptime[place]), name,
                                              text)))
    return [one for _, one in sorted(found, key=lambda one: one[0])]


class Agreement:
    """Sums rows as they come and compares with the totals of records that end with a row."""

    def __init__(self, journal: Journal):
        """Take the records that carry totals: those of the tail and the summaries."""
        tables = (journal.totals, journal.summaries)
        moments = np.concatenate([_moments(table) for table in tables])
        totals = np.concatenate([total_values(table["totals"]) for table in tables])
        self.moments, first = np.unique(moments, return_index=True)
        self.totals = totals[first]
        self.compared = 0
        self.found: list[Disagreement] = []
        self._last = None  # the stretch so far: (moment, seq, totals, running sums)
        self._sums = np.zeros((4, len(SUMS)))  # of rows since: sum, bound, negative, not trusted
        self._most = np.zeros(len(SUMS))

    def take(self, rows: Rows) -> None:
        """Take the next rows, in order."""
        if not len(rows):
            return
        moments = _moments(rows)
        place = np.searchsorted(self.moments, moments)
        place = np.minimum(place, max(len(self.moments) - 1, 0))
        is_end = self.moments[place] == moments if len(self.moments) else np.zeros(len(rows), bool)
        broken = np.diff(rows.seq.astype(np.int64), prepend=rows.seq[0]) > 1
        broken |= np.diff(moments >> 32, prepend=moments[0] >> 32) != 0
        parts = contributions(rows)
        edges = np.flatnonzero(is_end | broken)
        begin = 0
        for edge in edges.tolist():
            if broken[edge]:
                self._last = None
                begin = edge
            if is_end[edge]:
                self._add(parts, begin, edge + 1)
                self._end(int(moments[edge]), self.totals[place[edge]])
                begin = edge + 1
        self._add(parts, begin, len(rows))

    def _add(self, parts, begin, end):
        if end > begin:
            self._sums += parts[:4, :, begin:end].sum(axis=2)
            self._most = np.maximum(self._most, parts[4, :, begin:end].max(axis=1))

    def _end(self, moment, totals):
        """Compare a stretch that ends here, then begin the next."""
        last = self._last
        if last and last[0] >> 32 == moment >> 32:
            self._compare(moment, totals - last[1])
        self._last = (moment, totals)
        self._sums = np.zeros_like(self._sums)
        self._most = np.zeros_like(self._most)

    def _compare(self, moment, growth):
        for index, one in enumerate(SUMS):
            total, bound, negative, untrusted = self._sums[:, index]
            if untrusted:
                continue  # such scans count as nothing in a total, and not at all in a mean
            grown = growth[one.plus] - (growth[one.minus] if one.minus is not None else 0)
            low, high = _limits(one, total, bound, negative, self._most[index])
            self.compared += 1
            if not low <= grown <= high:
                key = moment >> 32
                text = f"grew by {grown}, its rows say {total:.0f} (from {low:.0f} to {high:.0f})"
                self.found.append(Disagreement(key >> 16, key & 0xFFFF, moment & 0xFFFFFFFF,
                                               one.name, text))


def _limits(one, total, bound, negative, most_flow):
    bound += ROUNDING
    if len(one.factors) == 1:
        bound += FLOW_WINDOW_S * most_flow + PULSES_UL
        return total - bound, total + bound
    if one.minus is not None:
        return total - bound, total + bound
    return total - bound - KEPT_BACK_MJ, total + bound + negative


def _moments(table):
    """Return generation, boot and uptime as one rising number [-]."""
    generation, boot, uptime_ds = [
        (table[name] if isinstance(table, np.ndarray) else getattr(table, name)).astype(np.int64)
        for name in ("generation", "boot", "uptime_ds")]
    return (generation << 16 | boot) << 32 | uptime_ds


def contributions(rows: Rows, missed_s: np.ndarray | None = None) -> np.ndarray:
    """Return what rows say of the growth of totals: an array (5, SUMS, rows).

    The sum, the most by which it can be wrong, its part below 0 [units of the
    totals each]; whether a factor was not trusted [0 or 1]; the factor itself
    where it is alone (a flow).  missed_s: how much longer each row was than
    its scans [s], None = since the row before it.
    """
    found = np.zeros((5, len(SUMS), len(rows)))
    seconds = rows.scans / DS_PER_S
    if missed_s is None:
        same = np.diff(_moments(rows) >> 32, prepend=-1) == 0
        since_s = np.diff(rows.uptime_ds / DS_PER_S, prepend=0.0)
        # A late scan stands for the periods that were missed, in the totals alone.
        missed_s = np.where(same, np.maximum(since_s - seconds, 0.0), 0.0)
    for index, one in enumerate(SUMS):
        stored = [rows.stored[factor] for factor in one.factors]
        found[3, index] = np.any([~are_trusted(each) for each in stored], axis=0)
        values = [each * step(factor) for each, factor in zip(stored, one.factors, strict=True)]
        if len(values) == 1:
            found[0, index] = values[0] * (seconds + missed_s)
            found[1, index] = step(one.factors[0]) / 2 * seconds + _range(values[0]) * missed_s
            found[4, index] = values[0]
            continue
        power = values[0] * values[1] / UJ_PER_MJ
        half = [step(factor) / 2 for factor in one.factors]
        spread = _range(values[0]) * _range(values[1]) / UJ_PER_MJ
        rounding = (abs(values[0]) * half[1] + abs(values[1]) * half[0] + half[0] * half[1])
        found[0, index] = power * (seconds + missed_s)
        found[1, index] = (rounding / UJ_PER_MJ + GRUESS * spread) * seconds + (
            spread + abs(power)) * missed_s
        found[2, index] = np.maximum(-power, 0) * seconds
    return found


def _range(values):
    """Return the range of each row's value and its two neighbours'."""
    padded = np.concatenate([values[:1], values, values[-1:]])
    three = np.stack([padded[:-2], padded[1:-1], padded[2:]])
    return three.max(axis=0) - three.min(axis=0)
