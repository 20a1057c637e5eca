"""The steps of the power: each closes, each follows the one before, and known ends are met."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay import rig as rigs
from forebay.plan import chain
from tests.campaign import rigs as drawn

SEEDS = 24
CLOSES_FRAC = 1e-9
DEMOS = [rigs.load(demo=name).plant() for name in rigs.DEMOS]
# Drawn when a test asks for them: whoever only lists the tests does not wait.
ANY = st.deferred(lambda: st.sampled_from(DEMOS + [plant(seed) for seed in range(SEEDS)]))


def plant(seed):
    return drawn.sound(seed).plant()


def check(steps):
    """Every step closes, none gives more than it takes, and each begins where one ended."""
    for step in steps:
        lost_W = [lost for _, lost in step.losses]
        assert math.isclose(step.W_in, step.W_out + math.fsum(lost_W), rel_tol=CLOSES_FRAC,
                            abs_tol=1e-12)
        assert all(lost >= -CLOSES_FRAC * step.W_in for lost in lost_W), step
    for before, after in zip(steps, steps[1:], strict=False):
        assert before.W_out == after.W_in


@settings(max_examples=200, deadline=None, derandomize=True)
@given(ANY, st.floats(0.0, 1300.0), st.floats(-20.0, 90.0), st.floats(0.0, 1.0))
def test_every_step_uphill_closes_in_any_sun_over_any_lift(values, sun_W_m2, cell_degC, share):
    brim_m = values["lower.base_height_m"] + values["lower.height_m"]
    low_m = values["lower.base_height_m"]
    lift_m = values["upper.inlet_height_m"] - low_m - share * (brim_m - low_m)
    steps = chain.uphill(values, sun_W_m2, cell_degC, lift_m)
    assert tuple(step.name for step in steps) == chain.UPHILL
    check(steps)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(ANY, st.floats(0.01, 1.5), st.floats(0.0, 1.0))
def test_every_step_downhill_closes_at_any_light_under_any_head(values, share, full):
    head_m = values["upper.base_height_m"] + full * values["upper.height_m"]
    steps = chain.downhill(values, share * max(values["lamps.steps_W"]), head_m)
    assert tuple(step.name for step in steps) == chain.DOWNHILL
    check(steps)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(ANY, st.floats(0.0, 1.0))
def test_every_step_downhill_closes_at_any_travel_of_the_valve(values, travel_frac):
    check(chain.at_travel(values, travel_frac, values["upper.base_height_m"]))


@pytest.mark.parametrize("which", [*rigs.DEMOS, *range(6)])
def test_the_lamps_get_what_was_asked_for_and_never_more(which):
    values = plant(which) if which in range(6) else rigs.load(demo=which).plant()
    head_m = chain.stored_head_m(values)
    for power_W in values["lamps.steps_W"]:
        assert chain.downhill(values, power_W, head_m)[-1].W_out == pytest.approx(power_W, 1e-6)
    # A hundred times more than the rig has: the steps are those of the open valve.
    assert chain.downhill(values, 100 * power_W, head_m) == chain.at_travel(values, 1.0, head_m)


def test_the_store_is_mass_times_fall_times_the_height_of_its_middle():
    # m g h by hand: 910 L of 12 degC (999.50 kg/m3, CRC handbook) between 50 and 960 L on
    # 1.0 m2, so 0.505 m over a floor at 9.0 m; g at 38 degrees, 300 m: 9.7991 (WGS 84).
    assert chain.store_J(DEMOS[0]) == pytest.approx(0.910 * 999.50 * 9.7991 * 9.505, rel=2e-4)
    assert chain.stored_head_m(DEMOS[0]) == pytest.approx(9.505)


def test_a_dark_panel_gives_nothing_and_loses_nothing():
    for step in chain.uphill(DEMOS[0], 0.0, 10.0, 10.5):
        assert step.W_in == step.W_out == 0.0


def test_the_panel_gives_its_rated_power_at_test_conditions():
    # IEC 60904: rated power is at 1000 W/m2 and cells of 25 degC; the fit is good to 1 %.
    assert chain.uphill(DEMOS[0], 1000.0, 25.0, 10.5)[0].W_in == pytest.approx(100.0, rel=0.01)


def test_more_stored_height_is_less_drop_from_the_inlet():
    low, high = (chain.uphill(DEMOS[0], 800.0, 40.0, 10.5, head_m)[-1] for head_m in (9.1, 9.9))
    assert low.W_in == high.W_in
    assert low.W_out < high.W_out
    assert low.losses[0][1] > high.losses[0][1]
    assert low.losses[1] == high.losses[1]
