"""The fits against a printed worked example, general-purpose libraries and sums by hand."""

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.stats import t

from forebay.calibrate import fitting

# JCGM 100:2008 (GUM), annex H.3, table H.6: thermometer readings [degC] and corrections [degC].
READ_degC = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503,
                      26.010, 26.511])
CORRECTION_degC = np.array([-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157,
                            -0.159, -0.161, -0.160])
ABOUT_degC = 20.0


def test_the_straight_line_of_gum_annex_h3_is_reproduced():
    # H.3.2 to H.3.4: y1 = -0.1712 s 0.0029, y2 = 0.00218 s 0.00067, r = -0.930, s = 0.0035;
    # at 30 degC b = -0.1494 u 0.0041.
    fit = fitting.straight(READ_degC, CORRECTION_degC, about=ABOUT_degC)
    assert fit.values[0] == pytest.approx(-0.1712, abs=5e-5)
    assert fit.values[1] == pytest.approx(0.00218, abs=5e-6)
    assert fit.u(0) == pytest.approx(0.0029, abs=5e-5)
    assert fit.u(1) == pytest.approx(0.00067, abs=5e-6)
    assert fit.covariance[0, 1] / (fit.u(0) * fit.u(1)) == pytest.approx(-0.930, abs=5e-4)
    assert fit.stretch == pytest.approx(0.0035, abs=5e-5)
    assert fit.values @ [1.0, 10.0] == pytest.approx(-0.1494, abs=5e-5)
    assert fit.along([1.0, 10.0]) == pytest.approx(0.0041, abs=5e-5)
    assert fit.dof == 9
    assert fit.factor == pytest.approx(2.262, abs=5e-4)  # table G.2: t95 of 9


def test_weighted_lines_are_those_of_a_reference_library():
    # scipy.optimize.curve_fit with absolute_sigma, a general-purpose library.
    draw = np.random.default_rng(1)
    x = np.linspace(0.0, 4.0, 40)
    u = 0.1 + 0.05 * x
    y = 0.3 + 1.7 * x + 0.5 * u * draw.standard_normal(40)
    fit = fitting.straight(x, y, u)
    values, covariance = curve_fit(lambda x, a, b: a + b * x, x, y, sigma=u, absolute_sigma=True)
    assert fit.values == pytest.approx(values, rel=1e-6)
    assert fit.covariance == pytest.approx(covariance, rel=1e-5)
    bent = fitting.curved(lambda p: p[0] + p[1] * x, (1.0, 1.0), y, u)
    assert bent.values == pytest.approx(values, rel=1e-6)
    assert bent.covariance == pytest.approx(covariance, rel=1e-5)


def test_errors_in_x_widen_the_slope_as_if_they_were_in_y():
    # By hand: one point, y = b x, b = 2; u(y) = hypot(0.3, 2 x 0.2) = 0.5; u(b) = 0.5 / 5.
    assert fitting.proportional([5.0], [10.0], 0.3, 0.2).u(0) == pytest.approx(0.1, rel=1e-6)


def test_an_error_that_all_points_share_does_not_fall_with_their_number():
    # By hand: mean of n with own 0.4 and shared 0.3: hypot(0.4 / sqrt(n), 0.3).
    for count in (1, 4, 100):
        fit = fitting.constant(np.full(count, 2.0), 0.4, [np.full(count, 0.3)])
        assert fit.u(0) == pytest.approx(np.hypot(0.4 / count**0.5, 0.3), rel=1e-9)


def test_a_point_that_stands_apart_is_named_and_stays_in_the_fit():
    x = np.arange(8.0)
    y = 2.0 * x
    y[5] += 0.5
    fit = fitting.straight(x, y, 0.1)
    assert fit.apart() == [5]
    assert len(fit.residuals) == 8
    assert fit.stretch > 1


def test_scatter_beyond_what_was_stated_widens_and_less_does_not_narrow():
    draw = np.random.default_rng(3)
    y = draw.standard_normal(400)
    assert fitting.constant(y, 0.5).u(0) == pytest.approx(y.std(ddof=1) / 20, rel=1e-9)
    assert fitting.constant(y, 2.0).u(0) == pytest.approx(0.1, rel=1e-9)


@pytest.mark.parametrize("attempt", [
    lambda: fitting.straight([1.0], [1.0], 0.1), lambda: fitting.straight([1.0] * 3, [1.0] * 3, 1),
    lambda: fitting.straight([1.0, 2.0], [1.0, 2.0]), lambda: fitting.constant([], 0.1),
    lambda: fitting.curved(lambda p: p[0] + p[1] + np.zeros(3), (1.0, 1.0), np.ones(3), 0.1)])
def test_points_that_give_no_figure_are_refused(attempt):
    with pytest.raises(fitting.NoFit):
        attempt()


def test_student_covers_where_the_scatter_alone_is_known():
    # A line of 5 points, 2000 times: 94 to 98 % of the 95 % intervals hold the truth.
    draw = np.random.default_rng(4)
    x = np.arange(5.0)
    held = 0
    for _ in range(2000):
        fit = fitting.straight(x, 1.0 + 0.5 * x + draw.standard_normal(5))
        held += abs(fit.values[1] - 0.5) <= fit.factor * fit.u(1)
    assert fit.factor == pytest.approx(t.ppf(0.975, 3))
    assert 0.94 <= held / 2000 <= 0.98
