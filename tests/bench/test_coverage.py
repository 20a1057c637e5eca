"""The bench of coverage: what it draws, and that it would notice an interval that is off."""

import random
import statistics
from types import SimpleNamespace

import pytest

from forebay.balance import Measured
from forebay.balance.ways import BOUNDS, MODEL, Told
from forebay.rig.known import MODEL as SECTION
from tests.balance.modest import ORCHARD
from tests.bench.coverage.drawn import day_of, draw_known, off
from tests.bench.coverage.judged import printed

SURELY = 1e-9


def test_errors_have_a_deviation_of_one_and_end_where_a_triangle_does():
    # GUM 4.3.9: a triangle of half-width a has a deviation of a / sqrt 6.
    draw = random.Random(1)
    errors = [off(draw) for _ in range(20000)]
    assert statistics.pstdev(errors) == pytest.approx(1.0, abs=0.02)
    assert 2.3 < max(errors) <= 6**0.5


@pytest.mark.parametrize("key", [key.attribute for key in SECTION.keys])
def test_every_uncertainty_of_a_description_is_drawn(key):
    told = ORCHARD.plant()
    for other in SECTION.keys:
        told[f"model.{other.attribute}"] = 0.05 if other.attribute == key else SURELY
    true = dict(told)
    draw_known(random.Random(1), told, true)
    moved = [name for name in told if isinstance(told[name], float)
             and abs(true[name] - told[name]) > 1e-6 * abs(told[name])]
    assert moved


def test_a_day_follows_from_its_seed():
    assert day_of(ORCHARD, 7) == day_of(ORCHARD, 7)
    assert day_of(ORCHARD, 7).rig != day_of(ORCHARD, 8).rig


def found(value, told):
    return SimpleNamespace(energies={}, steps={}, water={"down": value}, told={"down": told})


@pytest.mark.parametrize(("litres", "holds"), [(101.9, True), (102.1, False), (97.9, False)])
def test_an_interval_holds_what_lies_within_two_standard_uncertainties(litres, holds):
    one = found(Measured(100.0).with_part("a", 1.0), Told(MODEL, "light"))
    ((_, is_bound, _, held),) = printed(one, {"down": litres})
    assert (is_bound, held) == (False, holds)


@pytest.mark.parametrize(("litres", "holds"), [(9.0, False), (11.0, True), (1e6, True)])
def test_bounds_hold_what_lies_between_them_and_an_open_side_holds_all(litres, holds):
    ((_, is_bound, _, held),) = printed(found(None, Told(BOUNDS, "tank", 10.0, None)),
                                        {"down": litres})
    assert (is_bound, held) == (True, holds)
