"""What must hold for any tank, pipe, valve and surge, not only for examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from keeper.physics import (
    energy,
    pipes,
    suction,
    surge,
    tanks,
    valve,
)

G = 9.80665
TANKS = {
    "rectangular": tanks.Rectangular(1.2, 0.8, 1.0),
    "upright": tanks.UprightCylinder(0.5715, 0.8509),
    "lying": tanks.HorizontalCylinder(1.2, 2.5),
    "table": tanks.LevelTable((0, 0.1, 0.4, 0.8), (0, 0.05, 0.15, 0.41)),
}
MAIN = pipes.Pipe(22.0, 0.020, 1.5e-6, 2.0, 1.0034e-6, G)
shares = st.floats(0, 1)
every_tank = pytest.mark.parametrize("tank", TANKS.values(), ids=TANKS)


@every_tank
@given(share=shares)
def test_the_level_of_the_volume_of_a_level_is_that_level(tank, share):
    level = share * tank.height_m
    assert tank.level_m(tank.volume_m3(level)) == pytest.approx(level, abs=1e-9)
    volume = share * tank.capacity_m3
    assert tank.volume_m3(tank.level_m(volume)) == pytest.approx(volume, abs=1e-12)


sizes = st.floats(0.01, 20)
SHAPES = {
    "rectangular": lambda a, b, c: tanks.Rectangular(a, b, c),
    "upright": lambda a, b, c: tanks.UprightCylinder(a, b),
    "lying": lambda a, b, c: tanks.HorizontalCylinder(a, b),
    "table": lambda a, b, c: tanks.LevelTable((0, a / 3, a), (0, b, b + c)),
}


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
@given(a=sizes, b=sizes, c=sizes, share=shares)
def test_a_tank_of_any_size_gives_its_level_back(shape, a, b, c, share):
    tank = shape(a, b, c)
    volume = share * tank.capacity_m3
    level = tank.level_m(volume)
    assert 0 <= level <= tank.height_m * (1 + 1e-12)
    assert tank.volume_m3(level) == pytest.approx(volume, abs=1e-12 * tank.capacity_m3)


@every_tank
@given(one=shares, other=shares)
def test_more_level_is_more_volume(tank, one, other):
    low, high = sorted((one * tank.height_m, other * tank.height_m))
    assert tank.volume_m3(low) <= tank.volume_m3(high)


@every_tank
@given(cuts=st.lists(shares, min_size=3, max_size=3))
def test_energy_adds_up_over_levels(tank, cuts):
    low, middle, high = sorted(cut * tank.height_m for cut in cuts)
    datum = (9.0, 998.2, G)
    parts = energy.energy_between_J(tank, low, middle, *datum)
    parts += energy.energy_between_J(tank, middle, high, *datum)
    assert parts == pytest.approx(energy.energy_between_J(tank, low, high, *datum), abs=1e-6)


@every_tank
@given(share=shares)
def test_the_centroid_lies_in_the_water_and_a_slab_is_a_difference_of_volumes(tank, share):
    level = share * tank.height_m
    assert 0 <= tank.centroid_m(level) <= level
    volume, centroid = tank.slab(level, tank.height_m)
    assert volume == pytest.approx(tank.capacity_m3 - tank.volume_m3(level), abs=1e-12)
    assert level <= centroid <= tank.height_m


@every_tank
def test_empty_and_full_are_exact(tank):
    assert tank.volume_m3(0.0) == 0.0
    assert tank.level_m(0.0) == 0.0
    assert tank.slab(0.0, 0.0) == (0.0, 0.0)
    assert energy.energy_J(tank, 0.0, 9.0, 998.2, G) == 0.0
    assert tank.volume_m3(tank.height_m) == pytest.approx(tank.capacity_m3, rel=1e-15)
    assert tank.level_m(tank.capacity_m3) == pytest.approx(tank.height_m, rel=1e-15)


def test_lying_tanks_mirror_at_half_full():
    tank = TANKS["lying"]
    for level in (0.0, 1e-6, 0.1, 0.3, 0.6):
        above = tank.capacity_m3 - tank.volume_m3(tank.height_m - level)
        assert above == pytest.approx(tank.volume_m3(level), abs=1e-14)


@given(centre=st.sampled_from([2000.0, 4000.0]), roughness=st.floats(0, 0.05))
def test_friction_has_no_jump_where_the_regimes_meet(centre, roughness):
    below = pipes.friction_factor(centre * (1 - 1e-9), roughness)
    above = pipes.friction_factor(centre * (1 + 1e-9), roughness)
    assert above == pytest.approx(below, rel=1e-7)


@given(one=st.floats(0, 2e-3), other=st.floats(0, 2e-3))
def test_more_flow_loses_more_head(one, other):
    low, high = sorted((one, other))
    assert MAIN.loss_m(low) <= MAIN.loss_m(high)


@given(roughness=st.floats(0, 0.05), numbers=st.lists(st.floats(1e3, 1e4), min_size=2, max_size=2))
def test_more_flow_loses_more_head_in_any_pipe_through_the_transition(roughness, numbers):
    slow, fast = sorted(numbers)
    losses = [re * re * pipes.friction_factor(re, roughness) for re in (slow, fast)]
    assert losses[0] <= losses[1] * (1 + 1e-12)


@given(flow=st.floats(1e-9, 2e-3))
def test_the_flow_of_a_loss_is_the_flow_that_lost_it(flow):
    assert MAIN.flow_m3_s(MAIN.loss_m(flow)) == pytest.approx(flow, rel=1e-9)


@given(travel=shares, rangeability=st.floats(2, 1000))
def test_a_valves_travel_is_found_back_from_its_kv(travel, rangeability):
    kv = valve.equal_percentage_frac(travel, rangeability)
    back = valve.equal_percentage_travel_frac(kv, rangeability)
    assert back == pytest.approx(travel, abs=1e-12)


@given(kv=st.floats(0.001, 1), n=st.floats(1e-6, 1))
def test_an_installed_valve_passes_no_less_than_its_inherent_share(kv, n):
    assert kv * (1 - 1e-12) <= valve.installed_frac(kv, n) <= 1


@given(kv=st.floats(0.01, 100))
def test_a_valves_resistance_and_its_kv_are_inverse(kv):
    resistance = valve.resistance_s2_m5(kv, G)
    assert valve.kv_of_resistance_m3_h(resistance, G) == pytest.approx(kv, rel=1e-12)
    drop_Pa = resistance * 1e-8 * 998.2 * G   # at 0.1 L/s
    if 1 <= drop_Pa <= 2e6:
        assert valve.required_kv_m3_h(1e-4, drop_Pa, 998.2) == pytest.approx(kv, rel=1e-12)


@given(travel=shares, rangeability=st.floats(2, 1000), is_linear=st.booleans())
def test_a_control_valve_gives_its_travel_back_beyond_its_seat(travel, rangeability, is_linear):
    control = valve.ControlValve(1.2, rangeability, is_linear)
    if travel >= 0.02:
        assert control.travel_frac(control.kv_m3_h(travel)) == pytest.approx(travel, abs=1e-9)


def test_a_surge_has_no_jump_at_the_waves_return():
    back = surge.wave_return_s(20.0, 300.0)
    line = (20.0, 0.5, 300.0)
    before = surge.closing_surge_m(*line, back * (1 - 1e-9), G)
    assert surge.closing_surge_m(*line, back * (1 + 1e-9), G) == pytest.approx(before, rel=1e-8)
    assert surge.least_closing_s(*line, 100.0, G) == 0.0


@given(allowed=st.floats(0.01, 10))
def test_the_least_closing_time_gives_the_allowed_surge(allowed):
    line = (20.0, 0.5, 300.0)
    time = surge.least_closing_s(*line, allowed, G)
    assert surge.closing_surge_m(*line, time, G) == pytest.approx(allowed, rel=1e-12)


def test_a_rising_pocket_of_air_costs_no_head():
    assert suction.air_lock_head_m(()) == 0.0
    assert suction.air_lock_head_m(((1.0, 2.0),)) == 0.0


def test_no_flow_and_no_head_are_exactly_nothing_in_a_pipe():
    assert MAIN.loss_m(0.0) == 0.0
    assert MAIN.flow_m3_s(0.0) == 0.0
