"""What must hold for any panel, pump, motor and turbine, not only for examples."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from keeper.physics import generation, heat, of_rig, panel, solar_pump, turbine
from tests.reference.apart import RIG, WATER

G = 9.80665
SET = generation.TurbineSet(*of_rig.turbine_set(RIG, *WATER))
DRIVEN = solar_pump.SolarPump(*of_rig.solar_pump(RIG, *WATER))
shares = st.floats(0, 1)


def test_no_flow_and_no_head_are_exactly_nothing_in_a_machine():
    assert SET.steady(1.0, 0.0) == (0.0, 0.0, 0.0, 0.0)
    assert SET.steady(0.0, 9.5) == (0.0, 0.0, 0.0, 0.0)
    assert heat.jacket_conductance_W_K(0.0, 2.0, 998.2, 4184.0) == 0.0


@given(jet=st.floats(0, 100), share=shares, k=shares, turn=st.floats(90, 180),
       hit=st.floats(0.001, 1))
def test_the_power_of_a_jet_is_shaft_and_friction_and_exit(jet, share, k, turn, hit):
    wheel = turbine.ImpulseWheel(1.0, k, turn, hit, 0.0)
    lost_J = wheel.lost_J(1.0, jet, share * jet)
    shaft_J = wheel.torque_Nm(share * jet, 1e-3, jet, 1000.0) * share * jet
    assert min(lost_J) >= 0
    assert shaft_J + sum(lost_J) == pytest.approx(0.5 * jet**2, rel=1e-12, abs=1e-300)


@given(travels=st.lists(st.floats(0.03, 1), min_size=2, max_size=2), head=st.floats(2, 12))
def test_opening_the_valve_gives_more_flow_more_light_and_more_joules_a_litre(travels, head):
    narrow, wide = sorted(travels)
    less, more = SET.steady(narrow, head), SET.steady(wide, head)
    assert less[0] <= more[0]
    assert less[3] <= more[3] * (1 + 1e-9)
    assert less[3] / less[0] <= more[3] / more[0] * (1 + 1e-9)


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
    DRIVEN.steady(800.0, 25.0, 11.0)
    assert DRIVEN.steady(0.0, 25.0, 11.0) == (0.0, 0.0, 0.0, 0.0)


@given(sun=st.lists(st.floats(5, 1200), min_size=2, max_size=2))
def test_more_sun_never_pumps_less(sun):
    less, more = (DRIVEN.steady(s, 25.0, 11.0) for s in sorted(sun))
    assert less[3] <= more[3] * (1 + 1e-9)
    assert less[0] <= more[0] * (1 + 1e-9)


@given(sun=st.floats(5, 1200), lift=st.floats(0, 30))
def test_a_driven_pump_sits_on_the_panels_curve_and_lifts_above_its_threshold_only(sun, lift):
    flow, volts, amps, ratio = DRIVEN.steady(sun, 25.0, lift)
    curve = (DRIVEN.light, DRIVEN.dark, DRIVEN.ideal, DRIVEN.series, DRIVEN.shunt)
    assert panel.terminal_current_A(volts, *curve) == pytest.approx(amps, abs=1e-6)
    spare_m = RIG["pump.shut_off_head_m"] * ratio**2 - lift
    assert (flow > 0) == (spare_m > 0)
    if flow > 0:
        assert DRIVEN.pipe_s2_m5 * flow**2 == pytest.approx(DRIVEN.pipe.loss_m(flow), rel=1e-6)


@given(conductance=st.floats(0, 10), sun=st.floats(1, 1200), cell=st.floats(-20, 75), part=shares)
def test_a_loaded_panel_sits_on_its_curve(conductance, sun, cell, part):
    loaded = panel.Panel((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3))
    beside_A = 0.8 * part * loaded.shine(sun, cell)
    taken_A = loaded.load_A(conductance, beside_A)
    curve = (loaded.light, loaded.dark, loaded.ideal, loaded.series, loaded.shunt)
    assert taken_A == loaded.panel_V * conductance
    assert loaded.panel_A == pytest.approx(taken_A + beside_A)
    assert panel.terminal_current_A(loaded.panel_V, *curve) == pytest.approx(
        loaded.panel_A, abs=1e-9)


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
