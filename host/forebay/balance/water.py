"""The water's balance: pumped up, let down, gained by the tank, leg by leg."""

from dataclasses import dataclass, field

import numpy as np

from forebay.balance.electric import with_cuts
from forebay.balance.instruments import HALF_WIDTH, L_PER_M3, Meters
from forebay.balance.measured import Measured, summed
from forebay.balance.plant import Store
from forebay.balance.shares import Cut
from forebay.balance.spans import HOLE_S, Spans, keys_of, legs
from forebay.balance.sums import SIDES, Sums
from forebay.shelf import Rows
from keeper import channels as ch
from keeper.channels import TOTALS

L_PER_UL = 1e-6
STEP_S = 0.05  # of the level at a restart of the board: half a scan


@dataclass
class Water:
    """Rows and spans of a period, ready to be turned into volumes.

    rows: those near what begins or ends, at least; ends_s: end of each on the axis [s];
    seconds: its length [s]; stretches: places [-] of the first and last row of each stretch
    without a hole; edges_s: where on the axis [s] a period cut each of them, else None;
    cuts: the spans that it cut.
    """

    rows: Rows
    ends_s: np.ndarray
    seconds: np.ndarray
    spans: Spans
    stretches: list[tuple[int, int]]
    store: Store
    meters: Meters
    sums: Sums
    edges_s: list[tuple[float | None, float | None]] = field(default_factory=list)
    cuts: list[Cut] = field(default_factory=list)

    def __post_init__(self):
        middles_s = self.ends_s - self.seconds / 2
        level_m = self.rows.si(ch.LEVEL_MM)
        trusted = np.isfinite(level_m)
        # What happened while the board was off is a step, after its last leg.
        begins_s = (self.ends_s - self.seconds)[trusted]
        first = np.flatnonzero(np.diff(keys_of(self.rows)[trusted])) + 1
        sides = np.stack([first - 1, first], axis=-1).ravel()
        at_s = np.stack([begins_s[first], begins_s[first] + STEP_S], axis=-1).ravel()
        place = np.repeat(first, 2)
        self._level_at_s = np.insert(middles_s[trusted], place, at_s)
        self._level_m = np.insert(level_m[trusted], place, level_m[trusted][sides])
        gaps = np.flatnonzero(begins_s[1:] - self.ends_s[trusted][:-1] > HOLE_S)
        self._gaps_s = np.stack([middles_s[trusted][gaps], middles_s[trusted][gaps + 1]], -1)
        scans = self.rows.scans[trusted]
        self._level_scans = np.insert(scans, place, scans[sides])
        self._levels: dict[float, Measured] = {}

    def volumes(self) -> dict[str, Measured]:
        """Return the volumes [L] by the keys of `model.WATER`."""
        moved = {kind: self._moved(place, *side) for place, (kind, *side) in enumerate(SIDES)}
        found = {"up": moved["fill"], "down": moved["discharge"]}
        gained = self.gained()
        found["gained"] = summed([self._gain(self.store.litres, *ends) for ends in self._whole()])
        found["fill_residual"] = moved["fill"] - gained["fill"]
        found["discharge_residual"] = -gained["discharge"] - moved["discharge"]
        found["rest_change"] = found["gained"] - gained["fill"] - gained["discharge"]
        return found

    def gained(self) -> dict[str, Measured]:
        """Return what the tank gained [L] by legs: "fill" and "discharge"."""
        return self._by_kind(self.store.litres)

    def energies(self) -> dict[str, Measured]:
        """Return the energies [J] stored while filling and released as light."""
        gained = self._by_kind(self.store.joules)
        return {"stored": gained["fill"], "released": Measured(0.0) - gained["discharge"]}

    def _by_kind(self, content):
        gained: dict[str, list[Measured]] = {kind: [] for kind, *_ in SIDES}
        for kind, begin_s, end_s in self._legs():
            gained[kind].append(self._gain(content, begin_s, end_s))
        return {kind: summed(parts) for kind, parts in gained.items()}

    def _legs(self):
        return legs(self.spans) if len(self._level_m) else []

    def _whole(self):
        """Return (begin, end) [s] on the axis of what readings of the level show, by stretch."""
        middles_s = self.ends_s - self.seconds / 2
        known = np.isfinite(self.rows.si(ch.LEVEL_MM))
        found = []
        edges_s = self.edges_s or [(None, None)] * len(self.stretches)
        for (first, last), (begin_s, end_s) in zip(self.stretches, edges_s, strict=True):
            at_s = middles_s[first : last + 1][known[first : last + 1]].tolist()
            begin_s, end_s = ([one for one in edges if one is not None] for edges in (
                (begin_s, *at_s[:1]), (end_s, *at_s[-1:])))
            if begin_s and end_s:
                found.append((begin_s[0], end_s[0]))
        return found

    def _moved(self, place, states, total, channel):
        mine = self.spans.of(states)
        litres = mine.growth_si(total) * L_PER_M3
        volume = self.meters.volume(litres, channel, int(self.sums.runs[place]),
                                    float(self.sums.unseen_L[place]))
        error = mine.error_si(total) * L_PER_M3 * HALF_WIDTH
        volume = volume.with_part(f"{TOTALS[total]} from rows", error) if error else volume
        return with_cuts(volume, self.cuts, total, states, L_PER_UL)

    def _gain(self, content, begin_s, end_s):
        """Return what the tank's content (of a level) grew by between two moments [s]."""
        if not len(self._level_m):
            return Measured(0.0)
        return content(self.level(end_s)) - content(self.level(begin_s))

    def level(self, at_s: float) -> Measured:
        """Return the level [m] at a moment on the axis [s], between the rows next to it."""
        if at_s not in self._levels:
            self._levels[at_s] = self._level(at_s)
        return self._levels[at_s]

    def _level(self, at_s):
        metres = float(np.interp(at_s, self._level_at_s, self._level_m))
        near = min(int(np.searchsorted(self._level_at_s, at_s)), len(self._level_m) - 1)
        level = self.meters.level(metres, self.store.tank.height_m, int(self._level_scans[near]))
        return level.with_noise(self._unseen_m(at_s, metres) * HALF_WIDTH)

    def _unseen_m(self, at_s, metres):
        """Return by how much the level [m] may be another, at a moment that no row shows."""
        within = self._gaps_s[(self._gaps_s[:, 0] < at_s) & (at_s < self._gaps_s[:, 1])]
        if not len(within):
            return 0.0
        begin_s, end_s = within[0]
        inside = self.spans.where((self.spans.end_s > begin_s) & (self.spans.begin_s < end_s))
        moved_L = sum(inside.growth_si(total) * L_PER_M3 for total in (ch.T_UP, ch.T_DOWN))
        more_L = self.store.litres(Measured(metres, {"level": 1.0})).parts["level"]
        return moved_L / more_L
