"""The balance's arithmetic of uncertainty against the GUM, and its sums against other ways.

GUM: JCGM 100:2008.  Other ways: the library `uncertainties`, integration and statistics by
scipy, and a Monte Carlo that knows nothing of the balance (JCGM 101:2008).
"""

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import linregress
from uncertainties import correlated_values
from uncertainties import umath as library

from forebay.balance import balance_of
from forebay.balance.blame import blame_of
from forebay.balance.intervals import half_95
from forebay.balance.leaks import _rates
from forebay.balance.measured import Measured
from forebay.balance.plant import Store
from tests.balance import rig as plant
from tests.balance.test_leaks import METERS, STORE, levels_of, resting
from tests.bench.coverage.monte_carlo import half_widths

# GUM H.2, table H.2: five observations of volts, milliamps and phase [rad].
VOLTS = [5.007, 4.994, 5.005, 4.990, 4.999]
MILLIAMPS = [19.663, 19.639, 19.640, 19.685, 19.678]
PHASE = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]
# GUM H.3, table H.6: readings of a thermometer and the corrections observed [degC]; read in
# the worked examples of two libraries of metrology, which agree to the last digit.
READ_DEGC = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010,
             26.511]
CORRECTION_K = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161,
                -0.160]


def correlated(values, covariance):
    """Quantities whose errors are combinations of as many that are independent."""
    root = np.linalg.cholesky(covariance)
    return [Measured(float(value), dict(enumerate(map(float, row))))
            for value, row in zip(values, root, strict=True)]


def correlation(one, other):
    shared = sum(part * other.parts.get(source, 0.0) for source, part in one.parts.items())
    return shared / one.u / other.u


def test_gum_h2_resistance_and_reactance_agree_with_its_tables_and_with_uncertainties():
    data = np.array([VOLTS, [1e-3 * one for one in MILLIAMPS], PHASE])
    means, covariance = data.mean(axis=1), np.cov(data) / data.shape[1]
    volt, amp, phi = correlated(means, covariance)
    cosine = math.cos(phi.value) - math.sin(phi.value) * (phi - phi.value)
    sine = math.sin(phi.value) + math.cos(phi.value) * (phi - phi.value)
    mine = {"R": volt / amp * cosine, "X": volt / amp * sine, "Z": volt / amp}
    U: Any
    U, I, P = correlated_values(means, covariance)      # noqa: E741
    maths: Any = library       # made at run time, out of a type checker's sight
    theirs = {"R": U / I * maths.cos(P), "X": U / I * maths.sin(P), "Z": U / I}
    # Table H.4: values, standard uncertainties and correlations [ohm].
    for name, value, u in (("R", 127.732, 0.071), ("X", 219.847, 0.295), ("Z", 254.260, 0.236)):
        assert mine[name].value == pytest.approx(value, abs=6e-4)
        assert mine[name].u == pytest.approx(u, abs=6e-4)
        assert mine[name].u == pytest.approx(theirs[name].std_dev, rel=1e-9)
    for pair, printed in (("RX", -0.588), ("RZ", -0.485), ("XZ", 0.993)):
        assert correlation(*[mine[one] for one in pair]) == pytest.approx(printed, abs=6e-4)


def fitted():
    """Intercept [K] and slope [-] of H.3 about 20 degC, with the covariance of its fit."""
    x, y = np.array(READ_DEGC) - 20.0, np.array(CORRECTION_K)
    (slope, intercept), covariance = np.polyfit(x, y, 1, cov=True)
    return correlated((intercept, slope), covariance[::-1, ::-1])


def test_gum_h3_calibration_of_a_thermometer():
    # H.3.3 and H.3.4: y1 = -0.1712(29) degC, y2 = 0.00218(67), r = -0.930; the correction at
    # 30 degC is -0.1494(41) degC.  Printed results from memory.
    y1, y2 = fitted()
    assert (y1.value, y2.value) == (pytest.approx(-0.1712, abs=5e-5),
                                    pytest.approx(0.00218, abs=5e-6))
    assert (y1.u, y2.u) == (pytest.approx(0.0029, abs=5e-5), pytest.approx(0.00067, abs=5e-6))
    assert correlation(y1, y2) == pytest.approx(-0.930, abs=5e-4)
    at_30 = y1 + y2 * 10.0
    assert at_30.value == pytest.approx(-0.1494, abs=5e-5)
    assert at_30.u == pytest.approx(0.0041, abs=5e-5)
    u1: Any
    u2: Any
    u1, u2 = correlated_values((y1.value, y2.value), [
        [y1.u**2, correlation(y1, y2) * y1.u * y2.u], [correlation(y1, y2) * y1.u * y2.u,
                                                       y2.u**2]])
    assert at_30.u == pytest.approx((u1 + 10.0 * u2).std_dev, rel=1e-9)


def test_gum_h3_as_the_fit_of_a_meter_at_fault():
    # The same kind of fit with one unknown: what eleven closures, each an independent
    # observation of 1 u, say of one meter's error is their mean weighted by their slopes.
    slopes = np.array(READ_DEGC)
    closures = {str(place): Measured(float(3 * slope + 40 * residual), {
        "FI-UP": float(slope)}).with_noise(1.0)
        for place, (slope, residual) in enumerate(zip(slopes, CORRECTION_K, strict=True))}
    values = np.array([one.value for one in closures.values()])
    # Three u of one meter is within chance of what is stated of it: nobody is blamed.
    assert blame_of(closures, plant.DEMO.sensors).suspects == ()
    far = {name: Measured(10 * left.value, left.parts) for name, left in closures.items()}
    suspect = blame_of(far, plant.DEMO.sensors).suspects[0]
    expected = float(10 * (slopes @ values) / (slopes @ slopes))
    # A part in 1e9 of each closure keeps the matrix from being singular: times the sum of the
    # squared slopes, 6000, it is what differs.
    assert suspect.off.value == pytest.approx(0.02 * expected, rel=1e-5)
    assert suspect.off.u == pytest.approx(0.02 / math.sqrt(slopes @ slopes), rel=1e-5)


def test_the_slope_at_rest_is_that_of_scipys_regression():
    some = resting(4, -2.8, seed=3)
    levels = levels_of(some)
    rise, lost, rest_s = _rates(levels.rests(), STORE, METERS)
    theirs: Any = linregress(levels.middles_s, levels.level_m)
    assert rise is not None
    assert rise.value == pytest.approx(theirs.slope, rel=1e-9)
    assert lost is not None
    assert lost.value == pytest.approx(-theirs.slope * 1000 * 3600, rel=1e-6)   # 1.0 m2
    assert rest_s == pytest.approx(levels.middles_s[-1] - levels.middles_s[0])


def shapes():
    """(name, tank as the description has it, its plan area at a height [m2])."""
    cone = np.linspace(0.0, 1.1, 12)
    return [
        ("rectangular", SimpleNamespace(shape="rectangular", length_m=0.8, width_m=0.5,
                                        height_m=1.0), lambda _: 0.4),
        ("upright cylinder", SimpleNamespace(shape="upright cylinder", diameter_m=0.6,
                                             height_m=1.0), lambda _: math.pi * 0.09),
        ("table", SimpleNamespace(shape="table", levels_m=cone.tolist(), volumes_m3=[
            0.3 * one + 0.2 * one**2 for one in cone.tolist()]),
         lambda z: 0.3 + 0.2 * (cone[min(int(z / 0.1), 10)] + cone[min(int(z / 0.1), 10) + 1])),
    ]


@pytest.mark.parametrize(("name", "upper", "area"), shapes(), ids=[one[0] for one in shapes()])
def test_potential_energy_is_the_integral_of_its_slabs(name, upper, area):
    # E = rho g integral of A(z) (base + z) dz, by scipy; a table is straight between its lines.
    upper.base_height_m = 9.0
    store = Store(SimpleNamespace(upper=upper, site=plant.DEMO.site), 12.0)
    weight = store.density_kg_m3 * store.gravity_m_s2
    for level_m in (0.05, 0.33, 0.8, 0.97):
        breaks = [one for one in getattr(upper, "levels_m", []) if 0 < one < level_m]
        expected, _ = quad(lambda z: weight * area(z) * (9.0 + z), 0.0, level_m, points=breaks
                           or None, limit=200)
        assert store.joules(Measured(level_m)).value == pytest.approx(expected, rel=1e-8), name


# One day of a plant, by the balance and by draws -------------------------------------------

# A figure's printed half-width over that of the draws: no more than half as wide again is
# asked for, and no narrower than chance among the draws and the day's rounding make it.
LEAST_RATIO, MOST_RATIO = 0.85, 1.5


def test_one_day_by_monte_carlo_has_intervals_as_wide_as_the_balance_says():
    journal = plant.journal_of(plant.Errors(7))
    rig = SimpleNamespace(**{**vars(plant.DEMO), "rig_id": 1})
    widths = half_widths(journal.rows, rig, 1e9)
    found = balance_of(journal, plant.clock(), plant.DEMO)
    ratios = {name: half_95(value) / widths[name]
              for name, value in (found.energies | found.water | found.steps).items()
              if value is not None and widths.get(name, 0.0) > 0}
    assert {"panel", "pump", "generator", "lamps", "charge", "board_load", "stored", "released",
            "up", "down", "gained", "wire_to_water", "round_trip"} <= set(ratios)
    off = {name: ratio for name, ratio in ratios.items()
           if not LEAST_RATIO < ratio < MOST_RATIO}
    assert off == {}
