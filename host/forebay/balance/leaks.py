"""Whether the upper tank keeps its water: a verdict with its size, from rows at rest.

While nothing moves the level should stand still.  Two tests: the slope of the level over
all stretches at rest, and what is left of the tank's gain outside of its legs, which also
holds what went while the board was off.  Knows nothing of pumps, lamps or pages.
"""

from dataclasses import dataclass

import numpy as np

from forebay.balance.instruments import Meters, rounding_bias, stored_step
from forebay.balance.levels import Levels
from forebay.balance.measured import Measured
from forebay.balance.plant import Store
from forebay.balance.rests import Rests
from forebay.balance.spans import FILL_STATES, LIGHT_STATES
from keeper import channels as ch

TIGHT, LEAK, DRIFT, GAIN, UNKNOWN = "tight", "leak", "drift", "gain", "unknown"
S_PER_H, H_PER_DAY = 3600.0, 24.0
# Standard uncertainties beyond which a change is one.  To one side a normal error passes
# them in 2.3 % of tight tanks; there are two tests, so in less than 5 %.
SURE_U = 2.0
SHOWN_U = 2.0          # what is shown as plus or minus
# A line through a sawtooth of rounding: 6 (sin a - a cos a) / a2 of its amplitude at worst,
# 2.62 at a = 2.08, by calculus.
SAWTOOTH = 2.62
GRID = 65              # levels at which the tank's surface is taken
TELLING_U = 3.0        # by which a drift must have moved a float's mark to be told
# From a tank that stands empty nothing leaks: so near to its floor, in standard uncertainties
# of the level, a run at rest tells nothing.
EMPTY_U = 3.0
FLOATS = (("full_float", ch.C_71H_UP), ("over_full_float", ch.C_71HH_UP),
          ("empty_float", ch.C_71L_UP))
# Floats that say the level by a move of theirs, and in which states.
MARKING = {"full_float": FILL_STATES, "empty_float": LIGHT_STATES}


@dataclass(frozen=True)
class Leak:
    """The verdict.  kind: as above; litres: lost outside of filling and light [L], as it is
    read; litres_h: lost at rest [L/h]; rest_h: how long rows show it at rest [h]; words: for
    a person.  Figures are None where no level tells them.
    """

    kind: str
    litres: Measured | None
    litres_h: Measured | None
    rest_h: float
    words: str


def leak_of(rests: Rests, store: Store, meters: Meters, rest_change: Measured | None,
            moves: "Moves | None" = None) -> Leak:
    """Return the verdict.  rest_change [L]: as the balance has it; moves: of the floats."""
    metres_s, litres_h, rest_s = _rates(rests, store, meters)
    if rest_change is None or litres_h is None or metres_s is None:
        return Leak(UNKNOWN, None, None, rest_s / S_PER_H,
                    "Whether the tank is tight is unknown: no level was read at rest.")
    litres = -rest_change
    signs = [one.normalised or 0.0 for one in (litres, litres_h)]
    kind = TIGHT
    if max(signs) > SURE_U:
        kind = LEAK
    elif min(signs) < -SURE_U:
        kind = GAIN
    told = None
    if kind != TIGHT and moves and metres_s is not None and abs(signs[1]) > SURE_U:
        told = moves.told(metres_s)
    if told == DRIFT:
        kind = DRIFT
    return Leak(kind, litres, litres_h, rest_s / S_PER_H,
                _words(kind, litres, litres_h, told, signs))


def _rates(rests, store, meters):
    """Return (level's rise at rest [m/s], water lost at rest [L/h], None = unknown; rest [s])."""
    runs = rests.long()
    runs = runs.where(runs.wy > EMPTY_U * meters.sensors.level_uncertainty_m * runs.w)
    if not len(runs.w):
        return None, None, 0.0
    middle_m = runs.wy / runs.w
    spread = runs.wtt - runs.wt**2 / runs.w
    slope_m_s = (runs.wty - runs.wt * middle_m) / spread
    span_s = runs.end_s - runs.begin_s
    scans, place = np.unique(np.round(runs.scans / runs.rows), return_inverse=True)
    bias_m = np.array([rounding_bias(stored_step(ch.LEVEL_MM),
                                     meters.sensors.level_noise_m / one**0.5)
                       for one in scans.tolist()])[place]
    u_m_s = np.sqrt(1 / spread + (SAWTOOTH * bias_m / span_s) ** 2)
    grid_m = np.linspace(0.0, store.tank.height_m, GRID)
    surface = [store.litres_of(one)[1] for one in grid_m.tolist()]
    litres_m = np.interp(middle_m, grid_m, surface)
    rise = _mean(slope_m_s, u_m_s)
    lost = _mean(-slope_m_s * litres_m * S_PER_H, u_m_s * litres_m * S_PER_H)
    return rise, lost, float(span_s.sum())


def _mean(values, u):
    """Return the mean of independent values by their variances (GUM, as least squares)."""
    weight = u**-2.0
    return Measured(float((weight * values).sum() / weight.sum())).with_noise(
        float(weight.sum() ** -0.5))


@dataclass
class Moves:
    """How the level's reading changed between two moves of one float the same way.

    shift_m: the change [m]; apart_s: the time between [s].
    """

    shift_m: Measured
    apart_s: float

    def told(self, rise_m_s: Measured) -> str | None:
        """Return LEAK or DRIFT for a level that rises so at rest [m/s]; None = cannot tell.

        A reading that drifts does so at the float's mark as well; water that leaks leaves
        the mark where it is.
        """
        drifted_m = rise_m_s.value * self.apart_s
        if abs(drifted_m) < TELLING_U * self.shift_m.u:
            return None
        return DRIFT if abs(self.shift_m.value - drifted_m) < abs(self.shift_m.value) else LEAK


def moves_of(rows, ends_s, levels: Levels, rig, fitted) -> Moves | None:
    """Return the longest pair of moves of one of the upper tank's floats; None without one.

    A float moves again within a share of its hysteresis, as the description states it.
    """
    again_m = rig.upper.float_hysteresis_m * rig.model.float_hysteresis_frac
    best = None
    for name, place in FLOATS:
        if name not in fitted or not levels.count:
            continue
        there = rows.contacts >> (place - ch.COLUMNS) & 1
        follows = np.diff(rows.seq.astype(np.int64)) == 1
        for value, states in ((0, FILL_STATES), (1, FILL_STATES), (0, LIGHT_STATES),
                              (1, LIGHT_STATES)):
            moved = np.flatnonzero(follows & (np.diff(there.astype(int)) != 0)
                                   & (there[1:] == value) & np.isin(rows.state[1:], states)) + 1
            if len(moved) < 2:
                continue
            first_s, last_s = float(ends_s[moved[0]]), float(ends_s[moved[-1]])
            if best is None or last_s - first_s > best.apart_s:
                shift = levels.at(last_s) - levels.at(first_s)
                best = Moves(shift.with_noise(2**0.5 * again_m), last_s - first_s)
    return best


def first_moves(rows, ends_s) -> dict[str, float]:
    """Return when [s on the axis] the full float first rose while filling, and the low float
    first hung dry in the light: each at its mark.
    """
    follows = np.diff(rows.seq.astype(np.int64)) == 1
    found = {}
    for name, place in FLOATS:
        dry = rows.contacts >> (place - ch.COLUMNS) & 1 == 0
        states = MARKING.get(name, ())
        moved = np.flatnonzero(follows & dry[1:] & ~dry[:-1] & np.isin(rows.state[:-1], states))
        if len(moved):
            found[name] = float(ends_s[moved[0] + 1])
    return found


def _words(kind, litres, litres_h, told, signs):
    """Return the verdict for a person."""
    rate = f"{_shown(litres_h)} L/h"
    if kind == TIGHT:
        most = max(0.0, litres_h.value + SHOWN_U * litres_h.u)
        return f"No leak is seen: at rest the tank lost no more than {most:.2g} L/h."
    if kind == DRIFT:
        return (f"At rest the level reads as if {rate} went, and at a float's mark it reads"
                " otherwise than before: the level sensor drifts.")
    if kind == GAIN:
        return (f"Outside of filling the tank gained {_shown(-litres)} L: rain, another inflow,"
                " or a level sensor that drifts.")
    if signs[1] <= SURE_U:
        return (f"The tank lost {_shown(litres)} L outside of light, but not steadily at rest:"
                " somebody took it, it went while the board was off, or it spilled.")
    doubt = "" if told == LEAK else " A level sensor that drifts would read the same."
    return (f"The tank loses {rate} at rest, {_shown(litres_h * H_PER_DAY)} L a day: a leak, a"
            f" valve that does not shut, or an open tank in the sun.{doubt}")


def _shown(one):
    """Return a figure and twice its uncertainty to the digits that the latter allows."""
    spread = SHOWN_U * one.u
    digits = max(0, 1 - int(np.floor(np.log10(spread)))) if spread > 0 else 2
    return f"{one.value:.{digits}f} +- {spread:.{digits}f}"
