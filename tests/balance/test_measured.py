"""Propagation of uncertainty, against the GUM's examples and the library `uncertainties`."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from forebay.balance.measured import Measured, maybe_ratio

small = st.floats(0.1, 100)
error = st.floats(0.001, 5)


def quantity(value, u, source):
    return Measured(value).with_part(source, u)


@given(small, error, small, error, small, error)
def test_sums_products_and_ratios_agree_with_the_library_uncertainties(a, ua, b, ub, c, uc):
    x, y, z = quantity(a, ua, "x"), quantity(b, ub, "y"), quantity(c, uc, "z")
    # The library's operators are made at run time, out of a type checker's sight.
    X: Any = ufloat(a, ua)
    Y: Any = ufloat(b, ub)
    Z: Any = ufloat(c, uc)
    pairs = [
        (x * y / z - x, X * Y / Z - X),
        ((x + y) * (x - y) / (z + 1), (X + Y) * (X - Y) / (Z + 1)),
        (2 * x - y / 3 + 1 - -z, 2 * X - Y / 3 + 1 - -Z),
        (1 / x - (5 - y), 1 / X - (5 - Y)),
    ]
    for mine, theirs in pairs:
        assert mine.value == pytest.approx(theirs.nominal_value, rel=1e-12, abs=1e-9)
        assert mine.u == pytest.approx(theirs.std_dev, rel=1e-9, abs=1e-12)


def test_gum_example_h2_with_its_correlations():
    # JCGM 100:2008 H.2, tables H.2 and H.4: raw data as printed there.
    volts = [5.007, 4.994, 5.005, 4.990, 4.999]
    amps = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3]
    phase = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]
    data = np.array([volts, amps, phase])
    root = np.linalg.cholesky(np.cov(data) / data.shape[1])
    volt, amp, phi = (
        Measured(float(mean), dict(enumerate(map(float, row))))
        for mean, row in zip(data.mean(axis=1), root, strict=True)
    )
    # sine and cosine of phi to first order
    cosine = Measured(math.cos(phi.value)) - math.sin(phi.value) * (phi - phi.value)
    sine = Measured(math.sin(phi.value)) + math.cos(phi.value) * (phi - phi.value)
    results = {"R": volt / amp * cosine, "X": volt / amp * sine, "Z": volt / amp}
    printed = {"R": (127.732, 0.071), "X": (219.847, 0.295), "Z": (254.260, 0.236)}
    for name, (value, u) in printed.items():
        assert results[name].value == pytest.approx(value, abs=6e-4)
        assert results[name].u == pytest.approx(u, abs=6e-4)


def test_gum_example_h1_of_an_end_gauge():
    # JCGM 100:2008 H.1: l = ls + d - ls (dalpha theta + alpha dtheta), and its inputs: a
    # standard of 50 000 623 nm with 25 nm; the difference of 215 nm; coefficients alpha
    # (11.5e-6 +-2e-6) and dalpha (0 +-1e-6), dtheta 0 +-0.05 K, all rectangular; theta
    # -0.1 K with 0.2 and, cyclic, 0.5 / sqrt 2.  Inputs from memory; its components
    # (25, 16.599, 6.7, 5.8, 3.9, 2.887 nm), length and result are those quoted by the
    # Measurement Standards Laboratory's GTC, docs/API/GUM_H1.rst.
    standard = quantity(50000623.0, 25.0, "standard")
    difference = Measured(215.0, {"comparisons": 5.8, "random": 3.9, "systematic": 6.7})
    alpha = quantity(11.5e-6, 2e-6 / math.sqrt(3), "alpha")
    dalpha = quantity(0.0, 1e-6 / math.sqrt(3), "dalpha")
    theta = Measured(-0.1, {"mean": 0.2, "cycle": 0.5 / math.sqrt(2)})
    dtheta = quantity(0.0, 0.05 / math.sqrt(3), "dtheta")
    length = standard + difference - standard * (dalpha * theta + alpha * dtheta)
    assert length.value == 50000838
    sizes = {source: abs(part) for source, part in length.parts.items()}
    printed = {"standard": (25, 0.5), "dtheta": (16.599, 1e-3), "systematic": (6.7, 0.05),
               "comparisons": (5.8, 0.05), "random": (3.9, 0.05), "dalpha": (2.887, 1e-3)}
    for source, (part, digit) in printed.items():
        assert sizes.pop(source) == pytest.approx(part, abs=digit), source
    # Neither temperature nor coefficient counts to first order: their partners are 0.
    assert sizes == {"alpha": 0, "mean": 0, "cycle": 0}
    assert round(length.u) == 32
    assert length.u == pytest.approx(31.67, abs=0.01)


def test_energy_of_a_store_by_the_product_rule():
    # 998.2072(5000) kg/m3 x g x 1.000(10) m3 x 9.00(2) m = 88101.62(903.59) J, by hand.
    energy = (quantity(998.2072, 0.5, "rho") * 9.80665
              * quantity(1.0, 0.01, "V") * quantity(9.0, 0.02, "h"))
    assert energy.value == pytest.approx(88101.62, abs=0.01)
    assert energy.u == pytest.approx(903.59, abs=0.01)


def test_a_ratio_of_two_meters():
    ratio = quantity(4.2, 0.05, 1) / quantity(14.29, 0.14, 2)
    assert ratio.value == pytest.approx(0.293912, abs=1e-6)
    assert ratio.u == pytest.approx(0.004531, abs=1e-6)


def test_one_meter_twice_is_one_error_and_two_meters_are_two():
    x, y = quantity(5, 0.1, "x"), quantity(5, 0.1, "y")
    assert (x - x).u == 0
    assert (x + x).u == pytest.approx(0.2)
    assert (x + y).u == pytest.approx(0.141421, abs=1e-6)
    assert (x.with_noise(0.1) - x.with_noise(0.1)).u == pytest.approx(0.141421, abs=1e-6)


def test_a_ratio_to_what_may_be_nothing_is_undefined():
    assert maybe_ratio(Measured(1.0), Measured(0.0)) is None
    assert maybe_ratio(Measured(1.0), quantity(0.2, 0.1, "x")) is None
    assert maybe_ratio(Measured(1.0), quantity(0.4, 0.1, "x")) is not None
