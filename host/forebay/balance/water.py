"""The water's balance: pumped up, let down, gained by the tank, leg by leg."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from forebay.balance.electric import with_cuts
from forebay.balance.instruments import HALF_WIDTH, L_PER_M3, Meters
from forebay.balance.levels import Levels
from forebay.balance.measured import Measured, summed
from forebay.balance.plant import Store
from forebay.balance.shares import Cut
from forebay.balance.spans import Spans, legs
from forebay.balance.sums import SIDES, Sums
from forebay.shelf import Rows
from keeper import channels as ch
from keeper.channels import TOTALS

L_PER_UL = 1e-6


@dataclass
class Water:
    """Rows and spans of a period, ready to be turned into volumes.

    rows: those near what begins or ends, at least; ends_s: end of each on the axis [s];
    seconds: its length [s]; stretches: places [-] of the first and last row of each stretch
    without a hole; edges_s: where on the axis [s] a period cut each of them, else None;
    cuts: the spans that it cut; linked: see `levels.Levels`.
    """

    rows: Rows
    ends_s: np.ndarray
    seconds: np.ndarray
    spans: Spans
    stretches: list[tuple[int, int]]
    store: Store
    meters: Meters
    sums: Sums
    edges_s: list[tuple[float | None, float | None]] | None = None
    cuts: list[Cut] = field(default_factory=list)
    linked: np.ndarray | None = None

    def __post_init__(self):
        self.levels = Levels(self.rows, self.ends_s, self.seconds, self.meters,
                             self.store.tank.height_m, self.stretches, self.edges_s,
                             self.linked)
        self._levels: dict[float, Measured] = {}

    def volumes(self) -> dict[str, Measured]:
        """Return the volumes [L] by the keys of `model.WATER`."""
        moved = {kind: self._moved(place, *side) for place, (kind, *side) in enumerate(SIDES)}
        found = {"up": moved["fill"], "down": moved["discharge"]}
        gained = self.gained()
        found["gained"] = summed([self._gain(self.store.litres, *ends)
                                  for ends in self.levels.shown_s.tolist()])
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
        for kind, begin_s, end_s in self.legs:
            gained[kind].append(self._gain(content, begin_s, end_s))
        return {kind: summed(parts) for kind, parts in gained.items()}

    @cached_property
    def legs(self) -> list[tuple[str, float, float]]:
        """Legs of the store's use, see `spans.legs`; none where no level is read."""
        return legs(self.spans) if self.levels.count else []

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
        if not self.levels.count:
            return Measured(0.0)
        return content(self.level(end_s)) - content(self.level(begin_s))

    def level(self, at_s: float) -> Measured:
        """Return the level [m] at a moment on the axis [s], by the rows near it."""
        if at_s not in self._levels:
            level = self.levels.at(at_s)
            self._levels[at_s] = level.with_noise(self._unseen_m(at_s, level.value) * HALF_WIDTH)
        return self._levels[at_s]

    def _unseen_m(self, at_s, metres):
        """Return by how much the level [m] may be another, at a moment that no row shows."""
        gaps_s = self.levels.gaps_s
        within = gaps_s[(gaps_s[:, 0] < at_s) & (at_s < gaps_s[:, 1])]
        if not len(within):
            return 0.0
        begin_s, end_s = within[0]
        inside = self.spans.where((self.spans.end_s > begin_s) & (self.spans.begin_s < end_s))
        moved_L = sum(inside.growth_si(total) * L_PER_M3 for total in (ch.T_UP, ch.T_DOWN))
        more_L = self.store.litres(Measured(metres, {"level": 1.0})).parts["level"]
        return moved_L / more_L
