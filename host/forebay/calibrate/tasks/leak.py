"""What the upper tank loses at rest, from past days: the level's fall, times the plan area.

No figure of the description says it: it is told and kept as a record.
"""

import math

import numpy as np

from forebay.balance.instruments import FULL_WIDTH, stored_step
from forebay.calibrate import fitting
from forebay.calibrate.outcomes import Drawn, Outcome, apart_said, stretched_said
from forebay.calibrate.sitting import CalibrateError, Sitting
from keeper import channels as ch
from keeper import modes
from keeper.physics import of_rig

LEAST_S = 7200.0
S_PER_H, L_PER_M3 = 3600.0, 1e3
GROUP_S = 600.0       # over which a level is averaged: slow waves and warmth go together


def fall(at_s, level_m) -> fitting.Fit:
    """Return the fit of a level at rest = figure 0 + figure 1 x (time - its mean) [m, m/s]."""
    return fitting.straight(at_s, level_m, about=float(np.mean(at_s)))


def lost(line: fitting.Fit, area_m2: float) -> tuple[float, float]:
    """Return what a tank loses by its level's fall and the standard uncertainty [L/h].

    Of few points the scatter itself is little known: by Student's factor, made standard.
    """
    by = area_m2 * L_PER_M3 * S_PER_H
    return -by * float(line.values[1]), by * line.u(1) * line.factor / fitting.NORMAL


def least_u(level_m, seconds: float, area_m2: float, step_m: float) -> float:
    """Return what a rest leaves open whose level reads the same throughout [L/h], else 0.

    step_m: of the reading, or of what is kept of it, whichever is coarser [m].  Each end lies
    anywhere within it (GUM F.2.2.1), which scatter shows only where there is some.
    """
    if np.ptp(level_m) >= step_m / 2:
        return 0.0
    return area_m2 * L_PER_M3 * S_PER_H * step_m * FULL_WIDTH * math.sqrt(2.0) / seconds


def rate(falls_L_h, us_L_h) -> fitting.Fit:
    """Return the weighted mean of what several rests lose, as figure 0 [L/h]."""
    return fitting.constant(falls_L_h, us_L_h)


def run(sitting: Sitting) -> Outcome:
    """Return what the upper tank loses at rest."""
    rig, past, outcome = sitting.rig, sitting.past, Outcome("leak")
    level = past.si(ch.LEVEL_MM)
    rests = past.runs((past.state == modes.STANDSTILL) & np.isfinite(level), LEAST_S)
    tank = of_rig.tank(rig.plant(), "upper.")
    step_m = max(rig.sensors.level_resolution_m, stored_step(ch.LEVEL_MM))
    found, us, levels, names = [], [], [], []
    for one in rests:
        at_s, means = _grouped(past.at_s[one], level[one])
        if len(at_s) < 4:
            continue
        line = fall(at_s, means)
        mid_m = min(max(float(line.values[0]), 0.01), tank.height_m - 0.01)
        area = (tank.volume_m3(mid_m + 0.005) - tank.volume_m3(mid_m - 0.005)) / 0.01
        litres_h, u = lost(line, area)
        found.append(litres_h)
        us.append(max(u, least_u(level[one], float(np.ptp(past.at_s[one])), area, step_m)))
        levels.append(mid_m)
        names.append(f"rest {len(names) + 1}, at {mid_m:.2f} m")
    if not found:
        raise CalibrateError("no rest of two hours with a level is among these days: name other"
                             " days with --from and --to")
    mean = rate(found, us)
    litres_h, u = float(mean.values[0]), mean.u(0)
    is_seen = abs(litres_h) > fitting.APART * u
    outcome.told.append(("lost at rest", f"{litres_h:.3f} L/h (u {u:.2g} L/h):"
                         + (" more than its error" if is_seen else " none to be told")))
    outcome.notes += apart_said(mean, names) + stretched_said(mean, "the rests")
    outcome.notes.append("A tank loses by leaks, a valve that does not seat, and the sun on open"
                         " water; and a sensor drifts with warmth: look before you seal.")
    outcome.drawn.append(Drawn(
        "What each rest lost", "level, m", "L/h", levels, found, us, names, mean.apart(),
        [min(levels), max(levels)], [litres_h, litres_h]))
    return outcome


def _grouped(at_s, level_m):
    """Return means over GROUP_S."""
    group = ((at_s - at_s[0]) // GROUP_S).astype(int)
    count = np.bincount(group)
    full = count > 0
    return (np.bincount(group, at_s)[full] / count[full],
            np.bincount(group, level_m)[full] / count[full])
