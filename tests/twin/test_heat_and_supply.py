"""Heat of the motor and the buffer battery against closed forms."""

import math

import pytest

from forebay.twin.effects import apply
from forebay.twin.leads import Leads
from forebay.twin.store import Battery
from tests.twin.ledger import RIG, plant
from tests.twin.rigs import HALF, run, steady


def test_a_motor_warms_as_a_heat_capacity_behind_its_jacket():
    # T = Tw + P R (1 - exp(-t / RC)), R 2.5 K/W, C 120 J/K.
    one = plant(steady(600.0), {**HALF, "lower.start_volume_m3": 1.25})
    one.command(1, 0)
    run(one, 100.0)
    begin, degC = one.time_s, one.motor.degC
    run(one, 300.0)
    up = one.up
    loss_W = 3.0 * up.pump_A**2 + 0.12 * 21.75 * up.ratio
    # The lift grows by 2 cm meanwhile, and the loss by less than a part in a thousand.
    share = math.exp(-(one.time_s - begin) / 300.0)
    assert one.motor.degC - 12.0 == pytest.approx(
        2.5 * loss_W + (degC - 12.0 - 2.5 * loss_W) * share, rel=2e-3)


@pytest.mark.parametrize("sun", [0.0, 300.0])
def test_a_resting_motor_cools_towards_the_air(sun):
    # 9 K/W x 120 J/K = 1080 s, towards 14 degC of air.
    one = plant(steady(sun), HALF)
    one.motor.degC = 50.0
    run(one, 1081.0)
    assert one.motor.degC - 14.0 == pytest.approx(36.0 * math.exp(-1.0), rel=3e-3)


def test_a_blocked_jacket_cools_through_still_air_though_water_flows():
    one = plant(steady(600.0), HALF)
    one.jacket_blocked = True
    one.command(1, 0)
    run(one, 10.0)
    loss_W, motor_degC = one.up.motor_loss_W, one.motor.degC
    one.step(0.1)
    warmed = one.motor.degC - motor_degC
    assert warmed == pytest.approx((loss_W - (motor_degC - 14.0) / 9.0) * 0.1 / 120.0, rel=1e-3)


def test_the_motors_sensor_lags_by_its_time():
    one = plant(steady(300.0), HALF)
    one.motor.degC, one.motor.heat_J_K, one.motor.felt_degC = 60.0, 1e9, 20.0
    run(one, 20.0)
    assert one.motor.felt_degC == pytest.approx(60.0 - 40.0 * math.exp(-1.0), rel=3e-3)


def test_a_loose_sensor_feels_the_water():
    one = plant(steady(300.0), HALF)
    apply("motor-sensor-loose", one, Leads())
    one.motor.degC = 60.0
    run(one, 200.0)
    assert one.motor.felt_degC == pytest.approx(12.0, abs=0.01)


def test_a_motor_quicker_than_a_second_is_followed_in_every_scan():
    # 0.01 J/K behind 9 K/W: 0.09 s; in steps of a second it would swing up without bound.
    one = plant(steady(0.0), {**HALF, "motor.heat_capacity_J_K": 0.05,
                              "motor.sensor_lag_s": 0.05})
    one.motor.degC = 50.0
    for _ in range(100):
        before = one.motor.degC
        one.step(0.1)
        assert 14.0 - 1e-9 <= one.motor.degC <= before
        assert one.motor.felt_degC == pytest.approx(one.motor.degC)


def test_the_thermostat_cuts_the_pump_15_kelvin_above_its_limit_and_lets_it_in_15_below():
    one = plant(steady(800.0), HALF)
    one.motor.heat_J_K = 1e9
    one.command(1, 0)
    for degC, turns in ((69.9, True), (70.1, False), (60.0, False), (55.1, False),
                        (54.9, True), (65.0, True)):
        one.motor.degC = degC
        run(one, 0.2)
        assert (one.up.pump_A > 0) == turns, degC


def test_the_battery_carries_the_board_through_a_dark_hour():
    # 0.2 W for an hour: 720 J; of 6 Ah x 12.8 V a part of 0.0026.
    one = plant(steady(0.0), HALF)
    run(one, 3601.0)
    battery = one.battery
    assert battery.board_J == pytest.approx(720.0, rel=1e-3)
    assert 0.9 - battery.charge_frac == pytest.approx(0.2 / 12.8 * 3600 / (6 * 3600), rel=0.02)
    assert battery.loss_J == pytest.approx(0.05 * (0.2 / 12.8) ** 2 * 3600, rel=0.05)


def test_a_board_that_is_off_takes_nothing():
    one = plant(steady(0.0), HALF)
    one.board_on = False
    run(one, 100.0)
    assert one.battery.board_J == 0
    assert one.battery.amps == 0


def open_J(frac):
    """Energy of the battery's charge [J]: the integral of its open voltage over the charge.

    12.8 V (0.98 + 0.04 x), less 0.2 (1 - x / 0.1) of it below a tenth.
    """
    knee = 0.2 * ((frac - frac**2 / 0.2) if frac < 0.1 else 0.05)
    return 6 * 3600 * 12.8 * (0.98 * frac + 0.02 * frac**2 - knee)


@pytest.mark.parametrize(("begin", "amps", "hours"), [
    (0.3, 0.5, 3), (0.5, -1.0, 2), (0.2, -1.0, 1), (0.02, 0.3, 2)])
def test_what_a_battery_stores_is_the_integral_of_its_open_voltage(begin, amps, hours):
    battery = Battery({**RIG, "supply.start_charge_frac": begin, "supply.board_load_W": 0.0})
    for _ in range(hours * 3600):
        battery.step(1.0, amps, True)
    end = begin + amps * hours / 6
    assert battery.charge_frac == pytest.approx(end)
    assert battery.stored_J == pytest.approx(open_J(end) - open_J(begin), rel=1e-4)
    assert battery.loss_J == pytest.approx(0.05 * amps**2 * hours * 3600)
    assert battery.charged_J == pytest.approx(battery.stored_J + battery.loss_J, rel=1e-6)


@pytest.mark.parametrize(("frac", "volts"), [
    (1.0, 1.02 * 12.8), (0.5, 12.8), (0.1, 0.984 * 12.8), (0.05, (0.982 - 0.1) * 12.8),
    (0.0, 0.78 * 12.8)])
def test_the_open_voltage_falls_off_over_the_last_tenth(frac, volts):
    assert Battery({**RIG, "supply.start_charge_frac": frac}).volts == pytest.approx(volts)


def test_a_current_moves_the_terminals_by_the_inner_resistance():
    battery = Battery({**RIG, "supply.start_charge_frac": 0.5, "supply.board_load_W": 0.0})
    battery.step(0.1, 2.0, True)
    assert battery.volts == pytest.approx(12.8 + 0.05 * 2.0)
    assert battery.amps == 2.0


@pytest.mark.parametrize(("frac", "share"), [(0.5, 1.0), (0.98, 1.0), (0.99, 0.5), (1.0, 0.0),
                                             (1.01, 0.0)])
def test_a_full_battery_takes_less_and_less(frac, share):
    assert Battery({**RIG, "supply.start_charge_frac": frac}).appetite() == pytest.approx(share)


def test_a_full_battery_is_charged_in_the_plant_by_what_it_still_takes():
    one = plant(steady(800.0), {**HALF, "supply.start_charge_frac": 0.99})
    run(one, 20.0)
    assert one.up.charge_A == pytest.approx(0.05, rel=0.01)


def test_a_battery_runs_flat_and_carries_the_board_again_from_two_hundredths_on():
    battery = Battery({**RIG, "supply.start_charge_frac": 1e-6})
    assert not battery.flat
    battery.step(100.0, 0.0, True)
    assert battery.flat
    battery.step(1.0, 0.0, True)
    assert battery.amps == 0.0      # it gives nothing any more
    while battery.flat:
        before = battery.charge_frac
        battery.step(10.0, 0.1, True)
    assert before < 0.02 <= battery.charge_frac
    assert Battery({**RIG, "supply.start_charge_frac": 0.0}).flat
