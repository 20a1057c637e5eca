"""The light at night: what is said to last lasts, and what cannot be reached has no number."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay.plan import light, limits
from forebay.rig import governing
from tests.plan import scene

NAMES = st.sampled_from(scene.NAMES)
SHARES = st.floats(0.01, 1.0)
NIGHTS_S = st.floats(1800.0, 24 * 3600.0)


@settings(max_examples=80)
@given(NAMES, SHARES, NIGHTS_S)
def test_light_that_is_said_to_last_the_night_lasts_it(name, share, night_s):
    values = scene.values_of(name)
    water_m3 = share * light.usable_m3(values)
    found_W = light.lasting_W(values, water_m3, night_s)
    needs_m3 = governing.turbine_set(values).flow_for_lamps_m3_s
    if found_W is None:
        least_W = values["night.useful_W"]
        assert (needs_m3(least_W) * night_s > water_m3
                or light.brightest_W(values, governing.lowest_head_m(values)) < least_W)
        return
    assert found_W >= values["night.useful_W"]
    assert needs_m3(found_W) * night_s <= water_m3 * (1 + 1e-6)
    # All the water goes, unless the open valve gives no more light.
    most_W = light.brightest_W(values, governing.lowest_head_m(values))
    assert found_W == most_W or needs_m3(found_W) * night_s == pytest.approx(water_m3, rel=1e-6)


@settings(max_examples=60)
@given(NAMES, SHARES, NIGHTS_S, st.floats(1.0, 3.0))
def test_more_water_or_a_shorter_night_never_dims_the_light(name, share, night_s, more):
    values = scene.values_of(name)
    water_m3 = share * light.usable_m3(values)
    found = [light.lasting_W(values, *one) or 0.0 for one in (
        (water_m3, night_s), (water_m3 * more, night_s), (water_m3, night_s / more))]
    assert found[0] <= min(found[1:]) * (1 + 1e-9)


@settings(max_examples=60)
@given(NAMES, SHARES)
def test_a_brightness_is_held_while_its_flow_drains_the_tank(name, share):
    values = scene.values_of(name)
    found = light.held(values, share * max(values["lamps.steps_W"]))
    assert found is not None
    went_m3 = values["upper.full_volume_m3"] - found.ends_at_m3
    assert found.held_s * found.flow_m3_s == pytest.approx(went_m3)
    assert went_m3 <= light.usable_m3(values) * (1 + 1e-12)
    assert 0.0 < found.opening_frac <= 1.0


@settings(max_examples=40)
@given(NAMES, SHARES, st.floats(1.0, 4.0), st.booleans())
def test_a_larger_tank_never_shortens_the_night(name, share, times, is_longer):
    values = scene.values_of(name)
    moves = {"upper.length_m": times, "upper.diameter_m": times ** 0.5}
    if values["upper.shape"] == "table":
        return
    larger = limits.changed(values, tuple(moves.items()))
    power_W = share * max(values["lamps.steps_W"])
    before, after = (light.held(one, power_W) for one in (values, larger))
    assert before is not None
    assert after is not None
    assert after.held_s >= before.held_s * (1 - 1e-9)
    assert after.held_s <= before.held_s * times * (1 + 1e-6)
    water_m3, night_s = np.array([light.usable_m3(larger)]), np.array([12 * 3600.0])
    lifted = limits.nightly_J(values, water_m3, night_s, power_W)
    more = limits.nightly_J(larger, water_m3, night_s, power_W)
    assert more >= lifted * (1 - 1e-9)


def test_a_brightness_out_of_reach_is_said_and_has_no_number():
    # 1.0 W is within the generator's 1.5 W, but not of a nozzle of 1.5 mm.
    values = {**scene.values_of("hillside"), "turbine.nozzle_diameter_m": 1.5e-3}
    part = light.part(values, {})
    steps = next(table for table in part.tables if table.key == "steps")
    assert [row[0] for row in steps.rows] == values["lamps.steps_W"]
    out = [row for row in steps.rows if row[1] is None]
    assert [row[0] for row in out] == [1.0]
    assert out[0][1:] == (None,) * 4
    assert [said for said in part.warns if "1 W is out of reach" in said]
    assert light.held(values, 1.0) is None


def test_every_step_in_reach_is_dimmer_for_longer():
    for name in scene.NAMES:
        values = scene.values_of(name)
        found = [light.held(values, power_W) for power_W in sorted(values["lamps.steps_W"])]
        assert all(one and other and one.held_s >= other.held_s
                   for one, other in zip(found, found[1:], strict=False))


def test_a_wider_valve_or_a_higher_tank_never_gives_less_light():
    for name in scene.NAMES[:5]:
        values = scene.values_of(name)
        head_m = governing.lowest_head_m(values)
        before_W = light.brightest_W(values, head_m)
        assert light.brightest_W(values, 1.2 * head_m) >= before_W
        wider = {**values, "valve.flow_coefficient_m3_h": 1.5 * values[
            "valve.flow_coefficient_m3_h"]}
        assert light.brightest_W(wider, head_m) >= before_W


def test_the_standing_pressure_is_the_height_of_the_water():
    # 2.31 ft of water weigh 1 psi (handbook figure, to three digits); to the rim it is 10.1 m.
    part = light.part(scene.values_of("hillside"), {})
    found = {one.key: one.value or 0.0 for one in part.figures}
    assert found["still_Pa"] / 6894.757 == pytest.approx(10.1 / 0.3048 / 2.31, rel=0.01)
    assert found["surge_Pa"] >= found["still_Pa"]
