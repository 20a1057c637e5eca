"""How wrong a plan may be: the parts of figures and model, as the GUM adds them."""

import math

import numpy as np
import pytest

from forebay.plan import spread
from forebay.rig.doubt import doubt
from tests.plan import scene

SUN = scene.half_sines([300.0, 900.0])
KINDS = [("dull", np.array([True, False])), ("clear", np.array([False, True])),
         ("usual", np.array([True, True]))]
POWER_W = 0.6


def lifting_of(doubts, is_modelled=False):
    # The orchard's pump waits for nothing: where one waits, a small change may meet a cloud.
    return spread.of_lifting(scene.values_of("orchard"), doubts, SUN, KINDS, is_modelled)


def light_of(doubts):
    return spread.of_light(scene.values_of("hillside"), doubts, POWER_W)


@pytest.mark.parametrize("doubts", [{}, {"pump.rated_power_W": 0.0, "turbine.hit_frac": 0.0}])
def test_without_doubts_only_the_models_part_is_left(doubts):
    assert list(lifting_of(doubts).frac.values()) == pytest.approx(
        [spread.MODEL_LIFT_FRAC] * 3)
    assert set(light_of(doubts).frac.values()) == {spread.MODEL_LIGHT_FRAC}


def test_a_modelled_sun_is_known_worse_than_a_measured_one():
    measured, modelled = lifting_of({}), lifting_of({}, True)
    assert all(modelled.frac[key] > measured.frac[key] for key in measured.frac)


# So small that all stays in a straight line; a twentieth is what that line may bend.
@pytest.mark.parametrize(("of", "name", "u"), [
    (lifting_of, "pump.rated_power_W", 0.1), (lifting_of, "rising_main.length_m", 0.5),
    (light_of, "turbine.hit_frac", 0.01), (light_of, "turbine.nozzle_diameter_m", 5e-6)])
def test_a_doubt_that_is_doubled_doubles_its_part(of, name, u):
    one, two = of({name: u}).by_figure[name], of({name: 2 * u}).by_figure[name]
    assert any(abs(part) > 1e-6 for part in one.values())
    for key, part in one.items():
        assert two[key] == pytest.approx(2 * part, rel=0.05, abs=1e-6)


def test_parts_add_as_the_root_of_their_squares():
    doubts = {"turbine.hit_frac": 0.03, "turbine.nozzle_diameter_m": 2e-5}
    parts = [light_of({name: u}).by_figure[name] for name, u in doubts.items()]
    for key, frac in light_of(doubts).frac.items():
        assert frac == pytest.approx(math.hypot(
            spread.MODEL_LIGHT_FRAC, *(part[key] for part in parts)))


def test_what_is_shown_covers_two_standard_uncertainties():
    found = light_of({"turbine.hit_frac": 0.03})
    assert found.covering() == {key: 2 * one for key, one in found.frac.items()}


def test_of_a_day_that_lifts_nothing_no_more_than_all_is_in_doubt():
    # Nothing, known to infinity, was no number. 3 m less to lift, and this day would lift some.
    dark = spread.of_lifting(scene.values_of("orchard"), {"lower.base_height_m": 3.0},
                             scene.half_sines([90.0]), [("dull", np.array([True]))], False)
    assert dark.frac["dull"] == math.inf
    assert dark.covering() == {"dull": 1.0}


def test_what_matters_most_comes_first():
    found = light_of(doubt(scene.rig_of("hillside")))
    most = spread.matters(found, "held", 100)
    sizes = [abs(change) for _, change in most]
    assert sizes == sorted(sizes, reverse=True)
    assert {name for name, _ in most} == set(found.by_figure)
    assert spread.matters(found, "held", 3) == most[:3]
    assert all(found.by_figure[name]["held"] == change for name, change in most)


def test_what_two_sides_have_a_part_in_is_known_no_better_than_by_either():
    one, other = light_of({}), light_of(doubt(scene.rig_of("hillside")))
    both = spread.together(one, other, "held")
    assert both.frac["held"] == pytest.approx(math.hypot(one.frac["held"], other.frac["held"]))


def test_a_figure_known_only_badly_is_moved_the_other_way_or_less_far():
    # hit_frac of 0.6 plus 0.5 is beyond 1: less than nothing splashes past.
    found = light_of({"turbine.hit_frac": 0.5})
    assert all(math.isfinite(one) for one in found.frac.values())
    assert found.frac["held"] > spread.MODEL_LIGHT_FRAC


def test_a_figure_known_so_badly_that_no_plan_can_be_made_is_named():
    with pytest.raises(ValueError, match=r"turbine\.hit_frac: known so badly"):
        light_of({"turbine.hit_frac": 50.0})


def test_a_figure_that_acts_on_both_sides_keeps_the_greater_of_its_parts():
    # A height of the inlet is lifted against, and changes no light: its part must not get lost.
    up = spread.Spread({"night": 0.2}, {"upper.inlet_height_m": {"night": -0.2}})
    down = spread.Spread({"night": 0.0}, {"upper.inlet_height_m": {"night": 0.0}})
    for one, other in ((up, down), (down, up)):
        found = spread.together(one, other, "night")
        assert found.by_figure == {"upper.inlet_height_m": {"night": -0.2}}
