"""Moments at which the water in the upper tank is known without a level: floats and an end.

A float that moves says how much there is.  So do lamps that go out while the valve is
told open: the tank ran empty down to its outlet.  What is known of a moment is a row's
end.  Knows nothing of what the water did between.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from forebay.balance.instruments import HALF_WIDTH, L_PER_M3
from forebay.balance.measured import Measured
from forebay.balance.plant import Store
from forebay.balance.spans import FILL_STATES, LIGHT_STATES, keys_of
from forebay.shelf import Rows
from keeper import channels as ch
from keeper.modes import RUNNING
from keeper.physics import of_rig

AREA = "area of the upper tank"
HYSTERESIS = "hysteresis of the upper floats"
# A generator below half the lamps' threshold is not one that dims them; a guess.
DARK_FRAC = 0.5


@dataclass
class Mark:
    """The water in the tank at the end of a row [place in the rows]: litres [L].

    name: of the float that says so, else "".
    """

    row: int
    litres: Measured
    name: str = ""


class Marks:
    """Finds marks in rows.  values: the description by "section.key_unit" [SI]."""

    def __init__(self, values: dict[str, Any], store: Store, fitted):
        """Take the description, its tank and the names of the instruments that are there."""
        self.values, self.store, self.fitted = values, store, fitted
        self.tank = of_rig.tank(values, "upper.")
        self._known: dict[tuple[str, bool], Measured] = {}

    def of(self, before: Rows, rows: Rows, lit: np.ndarray, volts: np.ndarray, is_dry: bool):
        """Return (the marks in order, mask of the rows in which the tank stood empty, since).

        before: the row in front of them, or none; lit: mask of rows with light; volts: of the
        generator [V], NaN where not trusted; is_dry: whether the last light before them ran
        dry; since: the last row [place, -1 = the one in front] known to be dry if the last
        light did, else None.
        """
        found, empty, since = self._ran_dry(rows, lit, volts, is_dry)
        both, shift = Rows.joined([before, rows]), len(before)
        # name of the float, its contact, its volume, what it reads when the water is there
        for name, place, key, there in (
                ("full_float", ch.C_71H_UP, "full", 0),
                ("over_full_float", ch.C_71HH_UP, "over_full", 0),
                ("empty_float", ch.C_71L_UP, "empty", 1)):
            if name in self.fitted:
                found += [Mark(one.row - shift, one.litres, name)
                          for one in self._moves(both, name, place, key, there)]
        return sorted(found, key=lambda one: one.row), empty, since

    def _moves(self, rows, name, place, key, there):
        """Return a mark for each move of a float between two rows that follow each other."""
        wet = (rows.contacts >> (place - ch.COLUMNS) & 1) == there
        follows = (np.diff(keys_of(rows)) == 0) & (np.diff(rows.seq.astype(np.int64)) == 1)
        level_m = self.tank.level_m(self.values[f"upper.{key}_volume_m3"])
        # A float that hangs dry at its volume floats again a little higher, and one that
        # floats at its volume hangs again a little lower.
        hangs = key == "empty"
        states = {True: FILL_STATES, False: LIGHT_STATES}
        for row in (np.flatnonzero(follows & (wet[1:] != wet[:-1])) + 1).tolist():
            rose = bool(wet[row])
            if not np.isin([rows.state[row], rows.state[row - 1]], states[rose]).any():
                continue  # rain, a leak or a wave: no water that is accounted for
            moved_back = rose == hangs
            if (name, rose) not in self._known:
                self._known[name, rose] = self._at(name, level_m, moved_back, rose)
            yield Mark(row, self._known[name, rose])

    def _at(self, name, level_m, moved_back, rose):
        """Return the water [L] where a float moves, as well as its place is known."""
        values = self.values
        level = Measured(level_m).with_part(f"place of {name}", values["model.float_place_m"])
        if moved_back:
            play_m = values["upper.float_hysteresis_m"]
            play = Measured(play_m).with_part(
                HYSTERESIS, play_m * values["model.float_hysteresis_frac"])
            level = level + play if rose else level - play
        litres = self.store.litres(level)
        return litres.with_part(AREA, litres.value * values["model.tank_frac"])

    def _ran_dry(self, rows, lit, volts, is_dry):
        """Return ([a mark at each end of the water], mask of rows with an empty tank, since).

        Lamps went out with the valve told open; while it is opened again and they stay
        dark there is still none, whatever the pump's switch did between.
        """
        out = volts < DARK_FRAC * self.values["lamps.threshold_voltage_V"]
        found, empty, since = [], np.zeros(len(rows), bool), -1 if is_dry else None
        for first, end in _runs(rows):
            shone = np.flatnonzero(lit[first:end])
            went = np.flatnonzero(out[first + shone[-1]:end]) if len(shone) else []
            if len(shone):
                since = None
            if len(went):
                since = first + shone[-1] + int(went[0])
                found.append(Mark(since, self._left_litres()))
            elif since is not None and out[end - 1]:
                found.append(Mark(end - 1, self._left_litres()))
            if since is not None:
                empty[since + 1:end] = True
                since = end - 1
        return found, empty, since

    def _left_litres(self):
        """Return what stays above the outlet when it draws air [L].

        Between nothing and the water a pipe's width deep, from which it may begin to
        (common practice, no source).
        """
        half_L = 0.5 * L_PER_M3 * self.tank.volume_m3(
            min(self.values["penstock.diameter_m"], self.tank.height_m))
        return Measured(half_L).with_noise(half_L * HALF_WIDTH)


def _runs(rows):
    """Return (first, end) places [-] of rows in which light was made without a break."""
    on = rows.state == RUNNING
    joined = on[1:] & on[:-1] & (np.diff(keys_of(rows)) == 0)
    firsts = np.flatnonzero(on & ~np.append(False, joined))
    ends = np.flatnonzero(on & ~np.append(joined, False)) + 1
    return list(zip(firsts.tolist(), ends.tolist(), strict=True))
