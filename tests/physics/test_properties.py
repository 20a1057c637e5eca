"""What must hold for any tank, pipe, pump, panel and valve, not only for examples."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from keeper.physics import (
    energy,
    generation,
    heat,
    panel,
    pipes,
    pump,
    sensors,
    solar_pump,
    solve,
    suction,
    surge,
    tanks,
    turbine,
    valve,
)

G = 9.80665
NU = 1.0034e-6
TANKS = {
    "rectangular": tanks.Rectangular(1.2, 0.8, 1.0),
    "upright": tanks.UprightCylinder(0.5715, 0.8509),
    "lying": tanks.HorizontalCylinder(1.2, 2.5),
    "table": tanks.LevelTable((0, 0.1, 0.4, 0.8), (0, 0.05, 0.15, 0.41)),
}
MAIN = pipes.Pipe(22.0, 0.020, 1.5e-6, 2.0, NU, G)
PENSTOCK = pipes.Pipe(20.0, 0.025, 1.5e-6, 2.0, NU, G)
SET = generation.TurbineSet(
    PENSTOCK,
    3.46e-6,
    0.97,
    generation.ImpulseWheel(0.05, 0.8, 160.0, 0.1, 1e-4, 1e-8),
    generation.LampCircuit(0.1, 10.0, 1.0, 9.0, 20.0),
    998.2,
    G,
)
CURVE = (17.0, 0.0, 1.5e8)
DRIVEN = solar_pump.DirectPump(3.0, 0.06, 0.005, 1e-5, 350.0, CURVE, (1.5e-7, 0.2), 10.8, MAIN)
shares = st.floats(0, 1)
every_tank = pytest.mark.parametrize("tank", TANKS.values(), ids=TANKS)


@every_tank
@given(share=shares)
def test_the_level_of_the_volume_of_a_level_is_that_level(tank, share):
    level = share * tank.height_m
    assert tank.level_m(tank.volume_m3(level)) == pytest.approx(level, abs=1e-9)
    volume = share * tank.capacity_m3
    assert tank.volume_m3(tank.level_m(volume)) == pytest.approx(volume, abs=1e-12)


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
    parts = tanks.energy_between_J(tank, low, middle, *datum)
    parts += tanks.energy_between_J(tank, middle, high, *datum)
    assert parts == pytest.approx(tanks.energy_between_J(tank, low, high, *datum), abs=1e-6)


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
    assert tanks.energy_J(tank, 0.0, 9.0, 998.2, G) == 0.0
    assert tank.volume_m3(tank.height_m) == pytest.approx(tank.capacity_m3, rel=1e-15)
    assert tank.level_m(tank.capacity_m3) == pytest.approx(tank.height_m, rel=1e-15)


@every_tank
@given(share=st.floats(0.001, 0.999))
def test_the_surface_is_the_slope_of_the_volume(tank, share):
    level, step = share * tank.height_m, 1e-7 * tank.height_m
    slope = tank.slab(level, level + step)[0] / step
    assert slope == pytest.approx(tank.surface_m2(level), rel=1e-3)


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


@given(flow=st.floats(1e-9, 2e-3))
def test_the_flow_of_a_loss_is_the_flow_that_lost_it(flow):
    assert MAIN.flow_m3_s(MAIN.loss_m(flow)) == pytest.approx(flow, rel=1e-9)


def test_no_flow_and_no_head_are_exactly_nothing():
    assert MAIN.loss_m(0.0) == 0.0
    assert MAIN.flow_m3_s(0.0) == 0.0
    assert pipes.reynolds(0.0, 0.02, NU) == 0.0
    assert SET.point(0.0, 1.2) == (0.0, 0.0, 0.0, 0.0)
    assert SET.point(9.5, 0.0) == (0.0, 0.0, 0.0, 0.0)
    assert SET.specific_output_J_L(9.5, 0.0) == 0.0
    assert turbine.runaway_rad_s(0.0, 0.0, 0.05, 0.9, 165.0, 1e-4, 0.0, 998.2) == 0.0
    assert heat.jacket_conductance_W_K(0.0, 2.0, 998.2, 4184.0) == 0.0


@given(
    jet=st.floats(0, 100),
    share=shares,
    k=shares,
    turn=st.floats(90, 180),
    flow=st.floats(0, 0.1),
)
def test_the_power_of_a_jet_is_shaft_and_friction_and_exit(jet, share, k, turn, flow):
    bucket = (flow, jet, share * jet, k, turn, 998.2)
    parts = (
        turbine.bucket_shaft_power_W(*bucket),
        turbine.bucket_friction_W(*bucket),
        turbine.bucket_exit_W(*bucket),
    )
    assert min(parts) >= 0
    assert sum(parts) == pytest.approx(turbine.jet_power_W(flow, jet, 998.2), rel=1e-12)


@given(kvs=st.lists(st.floats(0.02, 1.2), min_size=2, max_size=2), head=st.floats(2, 12))
def test_opening_the_valve_gives_more_flow_more_light_and_more_joules_a_litre(kvs, head):
    narrow, wide = sorted(kvs)
    less, more = SET.point(head, narrow), SET.point(head, wide)
    assert less[0] <= more[0]
    assert less[3] <= more[3] * (1 + 1e-9)
    per_litre = [SET.specific_output_J_L(head, kv) for kv in (narrow, wide)]
    assert per_litre[0] <= per_litre[1] * (1 + 1e-9)


def test_half_the_flow_carries_an_eighth_of_the_power():
    area = 3.46e-6
    full, half = (turbine.jet_power_W(q, q / area, 998.2) for q in (4e-5, 2e-5))
    assert half == pytest.approx(full / 8, rel=1e-12)


conditions = st.tuples(st.floats(1, 1200), st.floats(-20, 75))


def curve_at(irradiance, cell_degC):
    light, dark, ideality, series, shunt = panel.fit_nameplate(29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3)
    return (
        panel.light_current_A(light, 2.25e-3, irradiance, cell_degC),
        panel.saturation_current_A(dark, cell_degC),
        panel.modified_ideality_V(ideality, cell_degC),
        series,
        panel.shunt_resistance_ohm(shunt, irradiance),
    )


@given(condition=conditions, one=shares, other=shares)
def test_a_panels_current_falls_with_voltage_to_nothing_at_open_circuit(condition, one, other):
    curve = curve_at(*condition)
    top = panel.open_circuit_V(*curve)
    low, high = sorted((one * top, other * top))
    at_low, at_high = (panel.terminal_current_A(v, *curve) for v in (low, high))
    assert at_low >= at_high - 1e-12
    assert panel.terminal_current_A(top, *curve) == pytest.approx(0, abs=1e-9)


@given(condition=conditions, share=shares)
def test_no_point_of_a_panel_gives_more_than_its_best(condition, share):
    curve = curve_at(*condition)
    volts = share * panel.open_circuit_V(*curve)
    best = panel.max_power_point(*curve)
    assert volts * panel.terminal_current_A(volts, *curve) <= best[2] * (1 + 1e-12)
    assert panel.terminal_current_A(best[0], *curve) == pytest.approx(best[1], rel=1e-9)


def test_a_panel_in_the_dark_gives_exactly_nothing():
    dark = (0.0, 1e-10, 1.0, 0.3, 1e6)
    assert panel.open_circuit_V(*dark) == 0.0
    assert panel.max_power_point(*dark) == (0.0, 0.0, 0.0)
    assert DRIVEN.point(dark) == (0.0, 0.0, 0.0, 0.0)


@given(sun=st.lists(st.floats(5, 1200), min_size=2, max_size=2))
def test_more_sun_never_pumps_less(sun):
    less, more = (DRIVEN.point(curve_at(s, 25.0)) for s in sorted(sun))
    assert less[2] <= more[2] * (1 + 1e-9)
    assert less[3] <= more[3] * (1 + 1e-9)


@given(sun=st.floats(5, 1200))
def test_a_driven_pump_sits_on_the_panels_curve(sun):
    curve = curve_at(sun, 25.0)
    volts, amps, _, _ = DRIVEN.point(curve)
    assert panel.terminal_current_A(volts, *curve) == pytest.approx(amps, abs=1e-6)


@given(ratio=st.floats(0, 2), static=st.floats(0, 30))
def test_a_pump_moves_water_above_its_threshold_speed_only(ratio, static):
    threshold = pump.threshold_speed_ratio(static, CURVE[0])
    flow = pump.operating_flow_m3_s(ratio, *CURVE, static, 1e7)
    if ratio < threshold * (1 - 1e-12):
        assert flow == 0.0
        assert pump.pipe_operating_flow_m3_s(ratio, *CURVE, static, MAIN) == 0.0
    if ratio > threshold * (1 + 1e-12):
        assert flow > 0
        balance = pump.head_m(flow, ratio, *CURVE) - static - 1e7 * flow * flow
        assert balance == pytest.approx(0, abs=1e-9)


@given(split=shares, dt=st.floats(0.01, 1e4), start=st.floats(-10, 90))
def test_two_steps_of_heating_are_one_long_step(split, dt, start):
    motor = (8.0, 25.0, 5.0, 900.0)
    once = heat.next_temperature_degC(start, *motor, dt)
    first = heat.next_temperature_degC(start, *motor, split * dt)
    assert heat.next_temperature_degC(first, *motor, (1 - split) * dt) == pytest.approx(
        once, abs=1e-9
    )


@given(current=st.floats(1.06, 20), prior=st.floats(0, 1.04))
def test_the_thermal_level_reaches_one_at_the_trip_time(current, prior):
    level = (prior / 1.05) ** 2
    time = heat.hot_trip_time_s(current, prior, 1.05, 600.0)
    assert heat.next_thermal_level(level, current, 1.05, 600.0, time) == pytest.approx(1, abs=1e-9)


def test_an_overload_within_the_limit_never_trips():
    assert heat.cold_trip_time_s(1.05, 1.05, 600.0) == math.inf
    assert heat.hot_trip_time_s(0.0, 0.9, 1.05, 600.0) == math.inf
    assert heat.hot_trip_time_s(2.0, 1.05, 1.05, 600.0) == 0.0
    assert heat.time_to_temperature_s(25.0, 55.0, 55.0, 900.0) == math.inf
    assert heat.time_to_temperature_s(56.0, 55.0, 65.0, 900.0) == 0.0


@given(flow=st.floats(0, 1e-3))
def test_more_cooling_water_never_cools_less(flow):
    still = heat.cooling_resistance_K_W(0.0, 2.0, 5.0, 998.2, 4184.0)
    cooled = heat.cooling_resistance_K_W(flow, 2.0, 5.0, 998.2, 4184.0)
    assert still == 5.0
    assert 1 / (2.0 + 1 / 5.0) <= cooled * (1 + 1e-12)
    assert cooled <= still


@given(travel=shares, rangeability=st.floats(2, 1000))
def test_a_valves_travel_is_found_back_from_its_kv(travel, rangeability):
    kv = valve.equal_percentage_frac(travel, rangeability)
    back = valve.equal_percentage_travel_frac(kv, rangeability)
    assert back == pytest.approx(travel, abs=1e-12)


@given(kv=st.floats(0.001, 1), n=st.floats(1e-6, 1))
def test_an_installed_valve_passes_no_less_than_its_inherent_share(kv, n):
    assert kv * (1 - 1e-12) <= valve.installed_frac(kv, n) <= 1


@given(flow=st.floats(1e-6, 1e-2), kv=st.floats(0.1, 100))
def test_a_valves_head_loss_and_flow_are_inverse(flow, kv):
    drop = valve.head_loss_m(flow, kv, G) * 998.2 * G
    if drop <= 2e6:
        assert valve.flow_m3_s(kv, drop, 998.2) == pytest.approx(flow, rel=1e-12)
    if 1 <= drop <= 2e6:
        assert valve.required_kv_m3_h(flow, drop, 998.2) == pytest.approx(kv, rel=1e-12)


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


@given(raw=st.integers(-880, 2000))
def test_a_thermometer_register_survives_both_ways(raw):
    assert sensors.one_wire_raw(sensors.one_wire_degC(raw % 65536)) == raw % 65536


@given(data=st.binary(max_size=16))
def test_a_message_with_its_check_byte_checks_to_zero(data):
    assert sensors.crc8(data + bytes([sensors.crc8(data)])) == 0


@given(t=st.floats(-40, 125))
def test_a_thermistor_gives_its_temperature_back(t):
    assert sensors.beta_degC(sensors.beta_ohm(t, 1e4, 3950), 1e4, 3950) == pytest.approx(t, 1e-9)
    abc = (8.802056817e-4, 2.528678842e-4, 1.853428869e-7)
    ohm = sensors.steinhart_hart_ohm(t, *abc)
    assert sensors.steinhart_hart_degC(ohm, *abc) == pytest.approx(t, abs=1e-8)
    ratio = sensors.ratio_from_thermistor_frac(ohm, 1e4)
    assert sensors.thermistor_from_ratio_ohm(ratio, 1e4) == pytest.approx(ohm, rel=1e-9)


@given(level=st.floats(0.05, 20), share=st.floats(0, 1), flow=st.floats(2e-5, 1e-3))
def test_meters_give_their_quantity_back(level, share, flow):
    pressure = sensors.level_pressure_Pa(level, 998.2, G, 0.05)
    assert sensors.pressure_level_m(pressure, 998.2, G, 0.05) == pytest.approx(level)
    assert sensors.loop_frac(sensors.loop_mA(share)) == pytest.approx(share, abs=1e-12)
    frequency = sensors.pulse_frequency_Hz(flow, 450.0, 1.6e-5)
    assert sensors.pulse_flow_m3_s(frequency, 450.0) == pytest.approx(flow)


@given(value=st.floats(-50, 50))
def test_a_register_is_within_half_a_step_or_clipped(value):
    raw = sensors.register_raw(value, 0.00125, 0, 32767)
    back = sensors.register_value(raw, 0.00125)
    assert back == pytest.approx(min(max(value, 0), 32767 * 0.00125), abs=0.000626)


@given(joules=st.floats(1e-3, 1e12), power=st.floats(1e-3, 1e6))
def test_energy_power_and_time_fit_together(joules, power):
    assert energy.joules(energy.watt_hours(joules)) == pytest.approx(joules)
    time = energy.duration_s(joules, power)
    if 0.001 <= time <= 1e10:
        assert energy.mean_power_W(joules, time) == pytest.approx(power)
    volume = energy.volume_for_energy_m3(joules, 9.0, 998.2, G)
    assert energy.water_energy_J(volume, 9.0, 998.2, G) == pytest.approx(joules)


@given(root=st.floats(-1e6, 1e6))
def test_a_rising_root_is_found_to_the_last_bit(root):
    found = solve.rising_root(lambda x: x - root, -1e6, 1e6)
    assert found == pytest.approx(root, rel=1e-15, abs=1e-9)


def test_a_root_outside_the_interval_ends_at_its_end():
    assert solve.rising_root(lambda x: x - 5.0, 0.0, 1.0) == 1.0
    assert solve.rising_root(lambda x: x + 5.0, 0.0, 1.0) == pytest.approx(0.0, abs=1e-300)
