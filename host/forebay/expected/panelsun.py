"""The sun by what the panel gave: from volts and amperes to irradiance, minute by minute.

Where the load draws nearly all of the light current, the current tells the sun.  Where it
draws little, the voltage stands near that of the open panel, which a warm cell lowers as much
as a bright sun lifts it: it tells little, and the shape of a clear day bridges.  Each minute
is a small least-squares estimate of two unknowns, sun and warmth of the cells, from the point
that was read and what is known beforehand (Gauss-Newton on the posterior's logarithm).
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from forebay.sun.window import DEFAULT_WIND_M_S
from keeper.physics.panel import (
    REFERENCE_W_M2,
    Panel,
    REFERENCE_degC,
    modified_ideality_V,
    saturation_current_A,
)

# Faiman's constants, as forebay.sun.plane has them of pvlib [W/(m2 K)], [W s/(m3 K)].
COOLED_W_M2_K = 25.0 + 6.84 * DEFAULT_WIND_M_S
CELL_K = 8.0            # cells beside what air and sun would make them, and their volts; a guess
FIRST_CLEAR_FRAC = 0.6  # of a clear sky, before anything is known of the day; a guess
FIRST_U = 0.8           # relative, of that [-]
BRIDGED_U = 0.35        # relative, of that share between two minutes that tell [-]; a guess
TOLD_U = 0.10           # the panel tells the sun where it is known to this [-]
LEAST_W_M2, MOST_W_M2 = 1.0, 1400.0
READ_V = 0.02           # the point that was read is met to this [V]: noise of one row; a guess
READ_A = 0.002          # likewise [A]
LOW_SUN_W_M2 = 120.0    # below it models of the clear sky differ by half; a guess
FAINT_W_M2 = 30.0       # below it an instrument's offset counts beside the sun; a guess
MINUTE_U = 0.05         # of a minute, beside the panel's own: not read at once; a guess
TRIALS = 14
LEAP, LEAP_K = 0.6, 6.0  # most that a trial moves ln(sun) and the cells
GRID_degC = np.arange(-60.0, 121.0)
MOST_RAISED = 60.0      # the diode's exponent of a trial that is far off
AT_END = 0.05
STEP, STEP_K = 1e-4, 1e-2


class Sunlight(NamedTuple):
    """Sun by the minute: arrays, and how well it is known."""

    poa_W_m2: np.ndarray
    cell_degC: np.ndarray
    air_degC: np.ndarray
    u_ln: np.ndarray       # relative standard uncertainty [-]
    is_told: np.ndarray    # by the panel itself, or by a file


class Moved(NamedTuple):
    """What is taken otherwise, to see what it does: relative, but the cells [K]."""

    volts_frac: float = 0.0
    amps_frac: float = 0.0
    before: float = 0.0
    cell_K: float = 0.0


class Curve:
    """The described panel's curve over arrays."""

    def __init__(self, values: Mapping[str, Any]):
        """Take a description by "section.key_unit" [SI]."""
        panel = Panel((
            values["panel.open_circuit_voltage_V"], values["panel.short_circuit_current_A"],
            values["panel.best_voltage_V"], values["panel.best_current_A"],
            values["panel.current_temperature_per_K"], values["panel.voltage_temperature_per_K"]))
        self.panel = panel
        self._dark = np.log([saturation_current_A(panel.dark_ref, float(one))
                             for one in GRID_degC])
        self._ideal = np.array([modified_ideality_V(panel.ideal_ref, float(one))
                                for one in GRID_degC])

    def light_A(self, poa_W_m2, cell_degC):
        """Return the light current [A] under a sun."""
        panel = self.panel
        warmed_A = panel.light_ref + panel.light_per_K * (cell_degC - REFERENCE_degC)
        return poa_W_m2 / REFERENCE_W_M2 * np.maximum(warmed_A, 1e-6)

    def needed_A(self, volts, amps, poa_W_m2, cell_degC):
        """Return the light current [A] that a point of the curve asks for."""
        panel = self.panel
        junction = volts + amps * panel.series
        ideal = np.interp(cell_degC, GRID_degC, self._ideal)
        dark = np.exp(np.interp(cell_degC, GRID_degC, self._dark))
        grown = dark * np.expm1(np.minimum(junction / ideal, MOST_RAISED))
        return np.maximum(amps + grown + junction / panel.shunt_ref * poa_W_m2 / REFERENCE_W_M2,
                          1e-6)


def seen(curve: Curve, volts, amps, clear_W_m2, air_degC, moved: Moved | None = None) -> Sunlight:
    """Return the sun of each minute.

    volts [V], amps [A]: of the panel, NaN where not read; clear_W_m2: what a clear sky would
    give in its plane; air_degC: taken as such.
    """
    moved = moved or Moved()
    volts, amps = volts * (1.0 + moved.volts_frac), amps * (1.0 + moved.amps_frac)
    lit = (clear_W_m2 > LEAST_W_M2) | (amps > 5.0 * READ_A)
    clear = np.maximum(clear_W_m2, LEAST_W_M2)
    before, u_before = np.full(len(clear), np.log(FIRST_CLEAR_FRAC)), np.full(len(clear), FIRST_U)
    found = _estimate(curve, volts, amps, np.log(clear) + before + moved.before * u_before,
                      u_before, air_degC, moved.cell_K)
    told = lit & (found[2] < TOLD_U) & (clear_W_m2 > LEAST_W_M2)
    # Of a low sun a model of the clear sky says little: other minutes come first.
    high = told & (clear_W_m2 > LOW_SUN_W_M2)
    if told.any():
        told = high if high.any() else told
        places = np.arange(len(clear))
        share = np.interp(places, places[told], (found[0] - np.log(clear))[told])
        u_before = np.where(told, FIRST_U, BRIDGED_U)
        found = _estimate(curve, volts, amps, np.log(clear) + share + moved.before * u_before,
                          u_before, air_degC, moved.cell_K)
    poa = np.where(lit, np.exp(found[0]), 0.0)
    return Sunlight(poa, np.where(lit, found[1], air_degC), np.asarray(air_degC, float), found[2],
                    ~lit | (found[2] < TOLD_U))


def _estimate(curve, volts, amps, ln_before, u_before, air_degC, cell_K):
    """Return (ln of the sun, cells [degC], standard uncertainty of the first) of each minute."""
    is_read = np.isfinite(volts) & np.isfinite(amps)
    volts, amps = np.where(is_read, volts, 0.0), np.maximum(np.where(is_read, amps, 0.0), 0.0)
    most = np.log(MOST_W_M2)
    ln_before = np.clip(ln_before, np.log(LEAST_W_M2), most)
    ln, off_K = ln_before.copy(), np.full(len(ln_before), cell_K)

    def gap(ln, off_K, volts=volts, amps=amps):
        poa = np.exp(ln)
        cell = np.clip(air_degC + poa / COOLED_W_M2_K + off_K, -60.0, 120.0)
        return np.log(curve.light_A(poa, cell) / curve.needed_A(volts, amps, poa, cell))

    def weights(ln, off_K):
        here = gap(ln, off_K)
        by_ln = (gap(ln + STEP, off_K) - here) / STEP
        by_K = (gap(ln, off_K + STEP_K) - here) / STEP_K
        read = np.hypot(gap(ln, off_K, volts + READ_V) - here,
                        gap(ln, off_K, volts, amps + READ_A) - here)
        return here, by_ln, by_K, np.where(is_read, 1.0 / np.maximum(read, 1e-4) ** 2, 0.0)

    for trial in range(TRIALS + 1):
        here, by_ln, by_K, sure = weights(ln, off_K)
        a = by_ln * by_ln * sure + 1.0 / u_before ** 2
        b, c = by_ln * by_K * sure, by_K * by_K * sure + 1.0 / CELL_K ** 2
        least = a * c - b * b
        if trial == TRIALS:
            break
        down_ln = by_ln * sure * here + (ln - ln_before) / u_before ** 2
        down_K = by_K * sure * here + (off_K - cell_K) / CELL_K ** 2
        ln = ln - np.clip((c * down_ln - b * down_K) / least, -LEAP, LEAP)
        off_K = off_K - np.clip((a * down_K - b * down_ln) / least, -LEAP_K, LEAP_K)
        ln = np.clip(ln, np.log(LEAST_W_M2), most)
    cell = np.clip(air_degC + np.exp(ln) / COOLED_W_M2_K + off_K, -60.0, 120.0)
    # At the end of what a sun can be the point tells nothing, however steep it looks there.
    at_end = ln > most - AT_END
    return ln, cell, np.where(at_end, u_before, np.sqrt(np.maximum(c / least, 0.0)))


# A day is cloudless if most of what the panel shows stands evenly below the clear sky, and not
# so far below that only cloud can be the reason; guesses.
EVEN_FRAC, EVEN_SHARE, LEAST_SHARE = 0.15, 0.75, 0.45
CLEAR_U, LEAST_MINUTES = 0.15, 8   # a minute tells so well; so many of them make a day


def cloudless(curve: Curve, volts, amps, clear_W_m2, air_degC) -> float | None:
    """Return the share of a clear sky that the panel shows all day, None on a day with clouds."""
    use = (clear_W_m2 > LOW_SUN_W_M2) & np.isfinite(volts) & np.isfinite(amps)
    ln_clear = np.log(np.maximum(clear_W_m2, LEAST_W_M2))
    ln, _, u = _estimate(curve, volts, amps, ln_clear, np.full(len(ln_clear), FIRST_U), air_degC,
                         0.0)
    sure = use & (u < CLEAR_U)
    if sure.sum() < LEAST_MINUTES:
        return None
    share, weight = np.exp(ln - ln_clear)[sure], 1.0 / u[sure] ** 2
    middle = _weighted_median(share, weight)
    even = np.abs(share / middle - 1.0) < EVEN_FRAC
    if middle < LEAST_SHARE or weight[even].sum() < EVEN_SHARE * weight.sum():
        return None
    return middle


def _weighted_median(values, weight) -> float:
    order = np.argsort(values)
    return float(values[order][np.searchsorted(np.cumsum(weight[order]), 0.5 * weight.sum())])


def beside(curve: Curve, volts, amps, poa_W_m2, air_degC) -> tuple[float, float] | None:
    """Return (the sun that the panel shows over the one that a file tells, its relative u).

    Minutes count by how well the panel tells; what none of them tells is shared by all.  Of
    them the weighted median is taken: at the edge of a cloud a row and a file's minute are of
    two suns.  None where no minute has both.
    """
    use = (poa_W_m2 > FAINT_W_M2) & np.isfinite(volts) & np.isfinite(amps)
    ln_before = np.log(np.maximum(poa_W_m2, LEAST_W_M2))
    ln, _, u = _estimate(curve, volts, amps, ln_before, np.full(len(poa_W_m2), FIRST_U),
                         air_degC, 0.0)
    sure = use & (u < BRIDGED_U)
    if not sure.any():
        return None
    own = np.hypot(u[sure], MINUTE_U)
    weight = 1.0 / own ** 2
    share = _weighted_median((ln - ln_before)[sure], weight)
    return float(np.exp(share)), float((weight * own).sum() / weight.sum())
