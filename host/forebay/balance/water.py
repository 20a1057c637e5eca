"""The water's balance: pumped up, let down, gained by the tank, leg by leg."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from forebay.balance.instruments import HALF_WIDTH, L_PER_M3, Meters
from forebay.balance.levels import Levels
from forebay.balance.measured import Measured
from forebay.balance.plant import Store
from forebay.balance.spans import FILL_STATES, LIGHT_STATES, Spans, keys_of, legs
from forebay.shelf import Rows
from forebay.shelf.clock import DS_PER_S
from keeper import channels as ch
from keeper.channels import TOTALS

# kind of leg, its states, its total, its meter
SIDES = (
    ("fill", FILL_STATES, ch.T_UP, ch.FLOW_UP),
    ("discharge", LIGHT_STATES, ch.T_DOWN, ch.FLOW_DOWN),
)


@dataclass
class Water:
    """Rows and spans of a period, ready to be turned into volumes.

    ends_s: end of each row on the axis [s]; seconds: its length [s]; stretches:
    places [-] of the first and last row of each stretch without a hole.
    """

    rows: Rows
    ends_s: np.ndarray
    seconds: np.ndarray
    spans: Spans
    stretches: list[tuple[int, int]]
    store: Store
    meters: Meters

    def __post_init__(self):
        self.levels = Levels(self.rows, self.ends_s, self.seconds, self.meters,
                             self.store.tank.height_m, self.stretches)

    def volumes(self) -> dict[str, Measured]:
        """Return the volumes [L] by the keys of `model.WATER`."""
        moved = {kind: self._moved(*side) for kind, *side in SIDES}
        found = {"up": moved["fill"], "down": moved["discharge"]}
        gained = self.gained()
        whole = [self._gain(self.store.litres, *ends) for ends in self.levels.shown_s]
        found["gained"] = sum(whole, Measured(0.0))
        found["fill_residual"] = moved["fill"] - gained["fill"]
        found["discharge_residual"] = -gained["discharge"] - moved["discharge"]
        found["rest_change"] = found["gained"] - gained["fill"] - gained["discharge"]
        return found

    def gained(self) -> dict[str, Measured]:
        """Return what the tank gained [L] by legs: "fill" and "discharge"."""
        gained = {"fill": Measured(0.0), "discharge": Measured(0.0)}
        for kind, begin_s, end_s in self.legs:
            gained[kind] += self._gain(self.store.litres, begin_s, end_s)
        return gained

    def energies(self) -> dict[str, Measured]:
        """Return the energies [J] stored while filling and released as light."""
        stored, released = Measured(0.0), Measured(0.0)
        for kind, begin_s, end_s in self.legs:
            gain = self._gain(self.store.joules, begin_s, end_s)
            if kind == "fill":
                stored += gain
            else:
                released -= gain
        return {"stored": stored, "released": released}

    @cached_property
    def legs(self) -> list[tuple[str, float, float]]:
        """Legs of the store's use, see `spans.legs`; none where no level is read."""
        return legs(self.spans) if self.levels.count else []

    def _moved(self, states, total, channel):
        mine = self.spans.of(states)
        litres = mine.growth_si(total) * L_PER_M3
        on = np.isin(self.rows.state, states)
        unseen = self.meters.unseen_litres(self.rows.si(channel)[on], self.seconds[on])
        runs = int(np.count_nonzero(np.diff(np.append(0, on.astype(int))) == 1))
        volume = self.meters.volume(litres, channel, runs, unseen)
        error = mine.error_si(total) * L_PER_M3 * HALF_WIDTH
        return volume.with_part(f"{TOTALS[total]} from rows", error) if error else volume

    def _gain(self, content, begin_s, end_s):
        """Return what the tank's content (of a level) grew by between two moments [s]."""
        if not self.levels.count:
            return Measured(0.0)
        return content(self.level(end_s)) - content(self.level(begin_s))

    def level(self, at_s: float) -> Measured:
        """Return the level [m] at a moment on the axis [s], by the rows near it."""
        level = self.levels.at(at_s)
        return level.with_noise(self._unseen_m(at_s, level.value) * HALF_WIDTH)

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


def row_seconds(rows) -> np.ndarray:
    """Return the length of each row [s]: since the row before, else by its scans."""
    by_scans = rows.scans / DS_PER_S
    since = np.diff(rows.uptime_ds.astype(np.int64)) / DS_PER_S
    follows = (np.diff(rows.seq.astype(np.int64)) == 1) & (np.diff(keys_of(rows)) == 0)
    seconds = by_scans.copy()
    seconds[1:][follows] = since[follows]
    # A boot's first row reaches back to its start at most.
    return np.minimum(seconds, rows.uptime_ds / DS_PER_S)
