"""The upper tank's volumes from a metered filling: litres by the meter over litres by the level.

A tank of straight walls gets its size so that both agree; one that bends can be written as a
table of levels and volumes.
"""

import math

import numpy as np

from forebay.calibrate import fitting
from forebay.calibrate.outcomes import Drawn, Outcome, apart_said, figure, stretched_said
from forebay.calibrate.sitting import CalibrateError, Sitting
from forebay.rig.schema import CYLINDER, RECTANGULAR, TABLE
from keeper import channels as ch
from keeper import modes
from keeper.physics import of_rig

LEAST_S = 1800.0
BINS = 24             # points of one filling
LEAST_SHARE = 0.2     # of the tank's height that a filling must move
KNOTS = 12            # of a table
L_PER_M3 = 1e3
WHAT = {RECTANGULAR: "upper.width", CYLINDER: "upper.diameter"}
# Tables of which no single figure could be shown beside another.
BEND_U = 3.0


def filling(past, tank) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return (level [m], metered volume [m3], rows) of each point of the largest filling."""
    level, flow = past.si(ch.LEVEL_MM), past.si(ch.FLOW_UP)
    fills = (past.state == modes.PUMPING) & np.isfinite(level) & np.isfinite(flow)
    best, most = None, LEAST_SHARE * tank.height_m
    for one in past.runs(fills, LEAST_S):
        rise = level[one][-1] - level[one][0]
        if rise > most:
            best, most = one, rise
    if best is None:
        raise CalibrateError("no filling of half an hour that lifts the level by a fifth of the"
                             " tank is among these days: name another day with --date")
    added = flow[best] * past.seconds[best]
    middle = np.cumsum(added) - added / 2
    groups = np.array_split(np.arange(len(added)), min(BINS, len(added)))
    return (np.array([level[best][one].mean() for one in groups]),
            np.array([middle[one].mean() for one in groups]),
            np.array([past.seconds[best][one].sum() for one in groups]))


def fit(stated_m3, metered_m3, u_stated_m3, flow_frac, level_moves) -> fitting.Fit:
    """Return the fit of metered = figure 0 + figure 1 x (stated - its mean) [m3].

    u_stated_m3: own errors of the volumes by the level; flow_frac: of the meter [-];
    level_moves: by how much the level sensor's own errors move each stated volume [m3].
    """
    about = float(np.mean(stated_m3))
    metered = np.asarray(metered_m3, float)
    shared = [flow_frac * (metered - metered.mean()), *level_moves]
    return fitting.straight(stated_m3, metered, 0.0, u_stated_m3, shared, about)


def run(sitting: Sitting) -> Outcome:
    """Return the upper tank's size, or its table, from a metered filling of past days."""
    rig, outcome = sitting.rig, Outcome("tank")
    tank = of_rig.tank(rig.plant(), "upper.")
    levels, metered, seconds = filling(sitting.past, tank)
    stated = np.array([tank.volume_m3(min(max(one, 0.0), tank.height_m)) for one in levels])
    if (np.diff(levels) <= 0.0).any() or (np.diff(stated) <= 0.0).any():
        raise CalibrateError("the largest filling of these days does not rise all the way, or"
                             " goes beyond the tank: look at the level's sensor, or name another"
                             " day with --date")
    area = np.gradient(stated, levels)
    sensors = rig.sensors
    own_m = np.hypot(sensors.level_noise_m / np.sqrt(seconds * 10),
                     1e-3 / math.sqrt(12) / np.sqrt(seconds / rig.journal.row_running_s))
    angle = math.pi / 2 * np.clip(levels / tank.height_m, 0.0, 1.0)
    moves = [area * sensors.level_uncertainty_m * one for one in (np.cos(angle), np.sin(angle))]
    found = fit(stated, metered, area * own_m, sensors.flow_frac, moves)
    names = [f"level {one:.3f} m" for one in levels]
    outcome.notes += apart_said(found, names) + stretched_said(found, "the filling")
    scale, u = float(found.values[1]), found.u(1)
    if _is_table(sitting, rig, found):
        _table(rig, outcome, tank, levels, found, scale)
    else:
        _size(rig, outcome, scale, u)
    outcome.told.append(("litres by the meter over litres by the level",
                         f"{scale:.4f} (u {u:.2g})"))
    curve = found.values[0] + scale * (stated - stated.mean())
    outcome.drawn.append(Drawn(
        "Water metered in, by the level", "level, m", "litres", levels.tolist(),
        (metered * L_PER_M3).tolist(), (area * own_m * L_PER_M3 * found.stretch).tolist(), names,
        found.apart(), levels.tolist(), (curve * L_PER_M3).tolist()))
    return outcome


def _is_table(sitting, rig, found):
    """Ask whether to write a table, where the tank's walls are not as its shape says."""
    if rig.upper.shape == TABLE or found.stretch < BEND_U:
        return False
    chosen = sitting.choose(
        "tank_shape", f"The filling bends {found.stretch:.1f} times as much as its errors: the"
        f" tank is not quite {rig.upper.shape}. Keep the shape, or write a table", {
            "keep": "the shape, with the size that fits best", "table": "levels and volumes"})
    return chosen == "table"


def _size(rig, outcome, scale, u):
    """State the size that goes with the volume."""
    upper = rig.upper
    if upper.shape == TABLE:
        # Its doubt is that of the last value; the others go in proportion.
        outcome.facts["upper.volumes"] = [one * scale for one in upper.volumes_m3]
        return
    by_root = upper.shape == CYLINDER
    stood = upper.diameter_m if by_root else upper.width_m
    factor = math.sqrt(scale) if by_root else scale
    u_factor = u / (2 * factor) if by_root else u
    outcome.figures.append(figure(rig, WHAT[upper.shape], stood * factor, stood * u_factor))


def _table(rig, outcome, tank, levels, found, scale):
    """State levels and volumes: the shape's own, scaled, and what the filling lies off it."""
    height = rig.upper.height_m
    knots = np.linspace(0.0, height, KNOTS)
    off = np.interp(knots, levels, found.residuals)
    off -= off[0]
    volumes = np.array([scale * tank.volume_m3(float(one)) for one in knots]) + off
    volumes[0] = 0.0
    outcome.facts.update({
        "upper.shape": TABLE, "upper.levels": [round(float(one), 4) for one in knots],
        "upper.volumes": [round(float(one), 6) for one in volumes],
        **{f"upper.{name}": None for name in ("length", "width", "diameter")
           if getattr(rig.upper, f"{name}_m") is not None}})
