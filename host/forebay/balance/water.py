"""The water's balance: pumped up, let down, gained by the tank, leg by leg."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from forebay.balance.electric import with_cuts
from forebay.balance.instruments import HALF_WIDTH, L_PER_M3, Meters
from forebay.balance.leaks import first_moves
from forebay.balance.levels import Levels
from forebay.balance.measured import Measured
from forebay.balance.plant import Store
from forebay.balance.shares import Cut
from forebay.balance.spans import Course, Spans, legs
from forebay.balance.sums import SIDES, Sums
from forebay.shelf import Rows
from keeper.channels import TOTALS

L_PER_UL = 1e-6
# Moments to each side of an outermost one whose noise keeps its name.
NEAR = 4


@dataclass
class Water:
    """Rows and spans of a period, ready to be turned into volumes.

    rows: those near what begins or ends, at least; ends_s: end of each on the axis [s];
    seconds: its length [s]; stretches: places [-] of the first and last row of each stretch
    without a hole; edges_s: where on the axis [s] a period cut each of them, else None;
    cuts: the spans that it cut; linked: see `levels.Levels`; course: of the spans, None = they
    are in order themselves.
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
    course: Course | None = None

    def __post_init__(self):
        self.levels = Levels(self.rows, self.ends_s, self.seconds, self.meters,
                             self.store.tank.height_m, self.stretches, self.edges_s,
                             self.linked)

    def volumes(self) -> dict[str, Measured]:
        """Return the volumes [L] by the keys of `model.WATER`."""
        moved = {kind: self._moved(place, *side) for place, (kind, *side) in enumerate(SIDES)}
        found = {"up": moved["fill"], "down": moved["discharge"]}
        gained = self.gained()
        found["gained"] = self._changes["gained"]
        found["fill_residual"] = moved["fill"] - gained["fill"]
        found["discharge_residual"] = -gained["discharge"] - moved["discharge"]
        found["rest_change"] = found["gained"] - gained["fill"] - gained["discharge"]
        return found

    def gained(self) -> dict[str, Measured]:
        """Return what the tank gained [L] by legs: "fill" and "discharge"."""
        return {kind: self._changes[kind] for kind, *_ in SIDES}

    def energies(self) -> dict[str, Measured]:
        """Return the energies [J] stored while filling and released as light."""
        return {"stored": self._changes["stored"],
                "released": Measured(0.0) - self._changes["released"]}

    @cached_property
    def _changes(self) -> dict[str, Measured]:
        """Sums of what the tank's content grew by: gained in all, "fill", "discharge" [L];
        "stored", "released" [J], the latter below 0 while there is light.
        """
        edges_s = {kind: np.array([leg[1:] for leg in self.legs if leg[0] == kind], float)
                   .reshape(-1, 2) for kind, *_ in SIDES}
        edges_s["gained"] = self.levels.shown_s
        edges_s["stored"], edges_s["released"] = edges_s["fill"], edges_s["discharge"]
        at_s = np.unique(np.concatenate([one.ravel() for one in edges_s.values()]))
        if not self.levels.count or not len(at_s):
            return dict.fromkeys(edges_s, Measured(0.0))
        seen = self.levels.many(at_s)
        at_m = seen.metres.tolist()
        litres = np.array([self.store.litres_of(one) for one in at_m])
        joules = np.array([self.store.joules_of(*one) for one in zip(
            at_m, litres[:, 1].tolist(), strict=True)])
        values, slopes = [], []
        for name, ends_s in edges_s.items():
            content = joules if name in ("stored", "released") else litres
            # How often each moment counts: what one leg ends with, another may begin with.
            count = np.bincount(np.searchsorted(at_s, ends_s[:, 1]), minlength=len(at_s))
            count = count - np.bincount(np.searchsorted(at_s, ends_s[:, 0]), minlength=len(at_s))
            values.append(float(count @ content[:, 0]))
            slopes.append(count * content[:, 1])
        unseen_m = np.array([self._unseen_m(*one) for one in zip(
            at_s.tolist(), seen.metres.tolist(), strict=True)]) * HALF_WIDTH
        parts = seen.parts(np.array(slopes), unseen_m, self._outer(at_s))
        return {name: Measured(value, part)
                for name, value, part in zip(edges_s, values, parts, strict=True)}

    def _outer(self, at_s):
        """Return the mask of moments whose levels another balance may share: the outermost.

        So may a float's mark: its first moves are looked at too.
        """
        outer_s = [*self.levels.shown_s.ravel(), *first_moves(self.rows, self.ends_s).values()]
        places = np.searchsorted(at_s, outer_s)[:, None] + np.arange(-NEAR, NEAR + 1)
        return np.isin(np.arange(len(at_s)), places)

    @cached_property
    def legs(self) -> list[tuple[str, float, float]]:
        """Legs of the store's use, see `spans.legs`; none where no level is read."""
        return legs(self.course or self.spans) if self.levels.count else []

    def _moved(self, place, states, total, channel):
        mine = self.spans.of(states)
        litres = mine.growth_si(total) * L_PER_M3
        volume = self.meters.volume(litres, channel, int(self.sums.runs[place]),
                                    float(self.sums.unseen_L[place]))
        error = mine.error_si(total) * L_PER_M3 * HALF_WIDTH
        volume = volume.with_part(f"{TOTALS[total]} from rows", error) if error else volume
        return with_cuts(volume, self.cuts, total, states, L_PER_UL)

    def _unseen_m(self, at_s, metres):
        """Return by how much the level [m] may be another, at a moment that no row shows."""
        gaps_s = self.levels.gaps_s
        if not len(gaps_s):
            return 0.0
        within = gaps_s[(gaps_s[:, 0] < at_s) & (at_s < gaps_s[:, 1])]
        if not len(within):
            return 0.0
        begin_s, end_s = within[0]
        course = self.course or self.spans
        inside = (course.end_s > begin_s) & (course.begin_s < end_s)
        moved_L = float(course.moved_uL[inside].sum()) * L_PER_UL
        more_L = self.store.litres(Measured(metres, {"level": 1.0})).parts["level"]
        return moved_L / more_L
