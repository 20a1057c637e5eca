"""The half-width of a 95 % interval, against Monte Carlo (JCGM 101) and known distributions."""

import math

import numpy as np
import pytest
from scipy.stats import triang, uniform

from forebay.balance.intervals import half_95
from forebay.balance.measured import Measured

DRAWS = 400_000


def of(**parts):
    """A figure with such parts; a name with _ is another error of the tag before it."""
    return Measured(7.0, {name.replace("__", " ").replace("_", "-"): part
                          for name, part in parts.items()})


def by_draws(limited, normal):
    """Half of the 95 % interval of a sum of rectangles and normals of such deviations."""
    draw = np.random.default_rng(1)
    sums = sum(u * math.sqrt(3) * draw.uniform(-1, 1, DRAWS) for u in limited)
    sums = sums + sum(u * draw.standard_normal(DRAWS) for u in normal)
    return float(np.quantile(np.abs(sums), 0.95))


def test_one_meter_alone_is_a_rectangle_and_two_alike_a_triangle():
    assert half_95(of(FI_UP=2.0)) == pytest.approx(2 * uniform(-3**0.5, 2 * 3**0.5).ppf(0.975))
    # GUM 4.3.9 note 2; a triangle of half-width a has a deviation of a / sqrt 6.
    assert half_95(of(FI_UP=1.0, II_PAN=1.0)) == pytest.approx(
        triang(0.5, -12**0.5, 2 * 12**0.5).ppf(0.975), rel=1e-3)


def test_noise_alone_is_normal_and_nothing_is_nothing():
    assert half_95(Measured(1.0).with_noise(0.5)) == pytest.approx(0.98, rel=1e-4)
    assert half_95(Measured(1.0, {"model.nozzle_frac": 0.5})) == pytest.approx(0.98, rel=1e-4)
    assert half_95(Measured(1.0)) == 0.0


def test_floor_and_rim_are_two_shares_of_one_error():
    assert half_95(of(LI_UP__floor=0.6, LI_UP__rim=-0.8)) == pytest.approx(half_95(of(FI_UP=1.0)))
    # The floor of a flow meter is an error of its own.
    assert half_95(of(FI_UP__floor=0.6, FI_UP=0.8)) > half_95(of(FI_UP=1.0))


@pytest.mark.parametrize(("limited", "normal"), [
    ((1.0,), (0.2,)), ((1.0,), (1.0,)), ((1.0, 0.5), ()), ((1.0, 0.5), (0.3,)),
    ((1.0, 1.0, 1.0), ()), ((2.0, 1.0, 0.5, 0.5), (0.5,))])
def test_a_sum_of_meters_and_noise_is_as_wide_as_draws_say(limited, normal):
    tags = ("FI-UP", "FI-DN", "II-PAN", "II-PMP")
    figure = Measured(0.0, dict(zip(tags, limited, strict=False)))
    for one in normal:
        figure = figure.with_noise(one)
    assert half_95(figure) == pytest.approx(by_draws(limited, normal), rel=0.03)
