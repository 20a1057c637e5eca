"""The rig's machines: against balances solved apart, the twin, `fluids`, and worked examples."""

import math
from typing import Any

import fluids
import numpy
import pytest

from forebay.twin.downhill import Downhill
from forebay.twin.uphill import Uphill
from keeper.physics import heat, of_rig, pipes, turbine
from keeper.physics.generation import TurbineSet
from keeper.physics.solar_pump import SolarPump
from tests.physics.drawn import rigs
from tests.reference import apart

SAME = 1e-6
GPM, FOOT, HP = 3.785411784e-3 / 60, 0.3048, 745.69987158
G = 9.80665


def solar_pump(rig, water=None) -> SolarPump:
    return SolarPump(*of_rig.solar_pump(rig, *(water or of_rig.water(rig))))


def turbine_set(rig, water=None) -> TurbineSet:
    return TurbineSet(*of_rig.turbine_set(rig, *(water or of_rig.water(rig))))


def agree(found, expected, least):
    """Whether numbers agree to a millionth, or to a millionth of what counts as something."""
    return all(abs(a - b) <= SAME * max(abs(b), small)
               for a, b, small in zip(found, expected, least, strict=True))


def test_two_hundred_solar_pumps_work_where_balances_solved_apart_say():
    lifted = 0
    for one in rigs():
        found = solar_pump(one.rig).steady(one.irradiance_W_m2, one.cell_degC, one.lift_m)
        pump = apart.Pump(one.rig, of_rig.water(one.rig), one.irradiance_W_m2, one.cell_degC)
        expected = pump.point(one.lift_m)
        assert pump.given_A(expected[1]) == pytest.approx(expected[2], rel=1e-9)   # by pvlib
        assert agree(found, expected, (1e-6, 1.0, 0.01, 0.01)), (one, found, expected)
        lifted += found[0] > 0
    assert 0 < lifted < 200   # with and without flow


def test_two_hundred_turbine_sets_settle_where_balances_solved_apart_say():
    lit = clamped = 0
    for one in rigs():
        machine = turbine_set(one.rig)
        found = machine.steady(one.travel_frac, one.head_m)
        expected = apart.turbine_point(one.rig, of_rig.water(one.rig), one.travel_frac, one.head_m)
        assert agree(found, expected, (1e-7, 1.0, 0.1, 0.01)), (one, found, expected)
        lit += found[3] > 0
        clamped += machine.clamp_A > 0
    assert 0 < clamped < lit < 200   # dark, lit, and held by the clamp


def test_two_hundred_twins_settle_at_the_points_of_their_machines():
    for one in rigs():
        water = of_rig.water(one.rig)
        up = Uphill({**one.rig, "supply.charge_current_A": 0.0}, *water)
        up.shine(one.irradiance_W_m2, one.cell_degC)
        down, machine = Downhill(one.rig, *water), turbine_set(one.rig)
        lifting = solar_pump(one.rig).steady(one.irradiance_W_m2, one.cell_degC, one.lift_m)
        lighting = machine.steady(one.travel_frac, one.head_m)
        down.position = down.commanded = one.travel_frac
        down.travel(one.travel_frac)
        # A step of the wheel's own time: by then two thirds of what was left are gone.
        push = machine.wheel.push_kg_m_s(machine.flow, machine.density)
        dt_s = down.inertia / (push * machine.wheel.radius_m + machine.slope_Nm_s())
        for _ in range(60):
            up.step(0.1, True, one.lift_m, 12.8, 1.0, True)
            down.step(dt_s, one.head_m, True)
        assert agree((up.flow, up.panel_V, up.pump_A, up.ratio), lifting,
                     (1e-6, 1.0, 0.01, 0.01)), (one, lifting)
        assert agree((down.flow, down.speed, down.generator_V, down.generator_V * down.lamp_A),
                     lighting, (1e-7, 1.0, 0.1, 0.01)), (one, lighting)


def test_the_losses_of_a_pump_are_all_that_the_water_does_not_get():
    for one in rigs():
        machine = solar_pump(one.rig)
        flow, volts, amps, _ = machine.steady(one.irradiance_W_m2, one.cell_degC, one.lift_m)
        lost_W = volts * amps - machine.weight * flow * one.lift_m
        assert sum(machine.losses_W(True)) == pytest.approx(lost_W, rel=1e-6, abs=1e-9)
        assert min(machine.losses_W(True)) >= -1e-9


def test_a_lines_loss_in_the_machines_is_that_of_fluids():
    # 2 %: the explicit friction factor against Colebrook's; laminar exactly.
    for one in rigs():
        for machine, section in ((solar_pump(one.rig), "rising_main"),
                                 (turbine_set(one.rig), "penstock")):
            for flow in (1e-6, 5e-5, 3e-4):
                bore = one.rig[f"{section}.diameter_m"]
                speed = flow / (math.pi / 4 * bore**2)
                reynolds = fluids.Reynolds(speed, bore, nu=of_rig.water(one.rig)[1])
                if 2000 < reynolds < 7000:
                    continue   # blended, then Haaland's own 2.5 %
                factor: Any = fluids.friction_factor(
                    reynolds, one.rig[f"{section}.roughness_m"] / bore)
                K = (fluids.K_from_f(factor, one.rig[f"{section}.length_m"], bore)
                     + one.rig[f"{section}.minor_loss"])
                expected = fluids.head_from_K(K, speed, g=of_rig.water(one.rig)[2])
                assert machine.pipe.loss_m(flow) == pytest.approx(expected, rel=0.02)
                assert machine.pipe.resistance_s2_m5(flow) * flow**2 == pytest.approx(
                    machine.pipe.loss_m(flow), rel=1e-12)


def crane_pump() -> SolarPump:
    """A pump of 400 gpm and 126 ft that takes 17.5 hp at 3500 rpm, on a panel that never ends."""
    main = pipes.Pipe(0.0, 0.1, 0.0, 0.0, 1e-6, G)
    rated_W = 17.5 * HP / 0.9999
    return SolarPump((500.0, 50.0, 420.0, 46.0, 0.0, -3e-3), 400.0, rated_W,
                     3500 * math.pi / 30, 1.25 * 126 * FOOT, 126 * FOOT, 400 * GPM, 0.5,
                     0.001, 0.0, main, 998.2 * G)


def test_a_pump_at_another_speed_is_cranes_worked_example():
    """Crane TP-410 example 7.33, read in a notebook of `fluids`: 3500 to 1700 rpm.

    194 gpm at 29.7 ft, 2.0 hp.
    """
    slow, machine = 1700 / 3500, crane_pump()
    head_m, flow = 29.7257 * FOOT, 194.2857 * GPM
    # What stands at the shaft when the pump moves that flow at that speed.
    spare_m = machine.head_m * slow**2 - head_m
    assert math.sqrt(spare_m / machine.inner_s2_m5) == pytest.approx(flow, rel=1e-5)
    torque_Nm = slow * (machine.torque_0 * slow + machine.torque_q * flow)
    assert torque_Nm * slow * machine.rated_speed == pytest.approx(2.00531 * HP, rel=1e-3)


def test_a_machines_own_solution_is_on_the_pumps_curve_at_any_speed():
    # Affinity: flow goes with the speed, head with its square, power with its cube.
    for one in rigs()[:50]:
        rig = one.rig | {"rising_main.length_m": 0.0, "rising_main.minor_loss": 0.0}
        machine = solar_pump(rig)
        head_m = 0.5 * one.lift_m
        flow, volts, amps, ratio = machine.steady(1000.0, 25.0, head_m)
        lost_m = rig["pump.shut_off_head_m"] - rig["pump.rated_head_m"]
        at_rated_m = lost_m * (flow / ratio / rig["pump.rated_flow_m3_s"]) ** 2
        assert rig["pump.shut_off_head_m"] - at_rated_m == pytest.approx(head_m / ratio**2)
        rated_A = rig["pump.rated_power_W"] / rig["pump.rated_voltage_V"]
        winding_ohm = rig["motor.resistance_ohm"]
        back_V = rig["pump.rated_voltage_V"] - rated_A * winding_ohm
        assert volts == pytest.approx(back_V * ratio + winding_ohm * amps)


def wheel_power_W(wheel, jet, bucket, flow, density=1000.0):
    return wheel.torque_Nm(bucket / wheel.radius_m, flow, jet, density) * bucket / wheel.radius_m


def test_a_wheel_gives_what_a_textbooks_pelton_wheel_gives():
    # From memory: Bansal, 30 m, 0.7 m3/s, buckets at 10 m/s that turn by 160 deg, Cv 0.98,
    # g 9.81: 186.97 kW.  The book rounds its steps.
    wheel = turbine.ImpulseWheel(1.0, 1.0, 160.0, 1.0, 0.0)
    jet = turbine.jet_velocity_m_s(30.0, 0.98, 9.81)
    assert wheel_power_W(wheel, jet, 10.0, 0.7) == pytest.approx(186.97e3, rel=1e-3)


@pytest.mark.parametrize(("speed_ratio", "efficiency"), [
    (0.3, 0.785120), (0.4, 0.897280), (0.46, 0.928685), (0.5, 0.934667), (0.6, 0.897280),
    (1.0, 0.0)])
def test_a_wheels_efficiency_is_eulers(speed_ratio, efficiency):
    # Published relation, any handbook of water turbines: 2 x (1 - x) (1 + k cos g), for
    # k 0.9 and g 15 deg.
    wheel = turbine.ImpulseWheel(0.05, 0.9, 165.0, 1.0, 0.0)
    power_W = wheel_power_W(wheel, 12.0, speed_ratio * 12.0, 5e-5)
    assert power_W / turbine.jet_power_W(5e-5, 12.0, 1000.0) == pytest.approx(efficiency, abs=1e-6)


def test_a_turbine_sets_best_speed_is_half_of_the_jets():
    # Published relation: a wheel without friction does most at half the speed of the jet.
    rig, water = apart.RIG | {"turbine.friction_torque_N_m": 0.0}, apart.WATER
    powers = {}
    for ohm in numpy.geomspace(1.0, 1000.0, 400):
        machine = turbine_set(rig | {"lamps.threshold_voltage_V": 0.0, "lamps.resistance_ohm": ohm,
                                     "generator.rectifier_drop_V": 0.0,
                                     "generator.resistance_ohm": 0.001,
                                     "generator.clamp_voltage_V": 1e4}, water)
        flow, speed, volts, lamp_W = machine.steady(1.0, 9.5)
        powers[lamp_W] = speed * 0.05 / (flow / machine.area)
    assert powers[max(powers)] == pytest.approx(0.5, abs=0.01)


def test_a_runaway_wheel_turns_with_its_jet_without_friction_and_load():
    rig = apart.RIG | {"turbine.friction_torque_N_m": 0.0, "lamps.threshold_voltage_V": 499.0,
                       "generator.clamp_voltage_V": 1e5}
    machine = turbine_set(rig, apart.WATER)
    flow, speed, _, lamp_W = machine.steady(1.0, 9.5)
    assert speed * 0.05 == pytest.approx(flow / machine.area, rel=1e-9)
    assert lamp_W == 0.0


def test_a_jets_power_is_all_found_again_at_the_wheel():
    # 1/2 m v^2 = shaft + buckets + leaving water + splash, for one kilogram.
    for one in rigs():
        wheel, jet = turbine_set(one.rig).wheel, 12.0
        for share in (0.0, 0.3, 0.5, 0.9, 1.0):
            bucket = share * jet
            shaft_J = wheel_power_W(wheel, jet, bucket, 1e-3)   # of 1 kg/s
            assert shaft_J + sum(wheel.lost_J(1.0, jet, bucket)) == pytest.approx(
                0.5 * jet**2, rel=1e-12)


def test_a_generator_on_all_its_loads_keeps_kirchhoffs_laws():
    for one in rigs():
        machine = turbine_set(one.rig)
        for speed in numpy.linspace(0.0, 600.0, 13):
            for machine.lamps_off, machine.dump_on in ((0, 0), (0, 1), (1, 1), (1, 0)):
                torque_Nm = machine.drive_Nm(speed)
                volts, amps = machine.generator_V, machine.generator_A
                assert torque_Nm == pytest.approx(machine.emf * amps)
                if amps:
                    assert machine.emf * speed == pytest.approx(
                        machine.drop_V + machine.winding * amps + volts)
                    step = 1e-6 * speed
                    slope = (machine.drive_Nm(speed + step) - torque_Nm) / step
                    machine.drive_Nm(speed)
                    assert machine.slope_Nm_s() == pytest.approx(slope, rel=1e-5)


def test_a_sun_too_weak_for_the_no_load_current_leaves_the_motor_standing():
    flow, volts, amps, ratio = solar_pump(apart.RIG, apart.WATER).steady(15.0, 20.0, 11.0)
    assert flow == ratio == 0.0
    assert volts == pytest.approx(3.0 * amps)


def test_a_motor_without_flow_draws_what_a_blocked_pump_draws():
    machine = solar_pump(apart.RIG, apart.WATER)
    machine.blocked = True
    machine.shine(600.0, 30.0)
    assert machine.run_m3_s(11.0, 0.0, True) == 0.0
    assert machine.no_flow(machine.ratio) == pytest.approx((machine.panel_V, machine.pump_A))


@pytest.mark.parametrize("dt_s", [0.1, 1.0])
def test_a_motors_heat_follows_the_exact_course_of_a_first_order_body(dt_s):
    motor = heat.MotorHeat(20.0, 2.5, 9.0, 120.0, 20.0)
    exact = 20.0
    for _ in range(round(600 / dt_s)):
        motor.warm(dt_s, 6.0, 14.0, 9.0)
        exact = heat.next_temperature_degC(exact, 6.0, 14.0, 9.0, 9.0 * 120.0, dt_s)
    # An explicit step errs by dt / 2 tau of the way still to go: of 48 K.
    assert motor.degC == pytest.approx(exact, abs=48.0 * dt_s / 2 / 1080.0)
    # The sensor lags by its time constant behind what rises steadily.
    rate_K_s = (6.0 - (motor.degC - 14.0) / 9.0) / 120.0
    assert motor.degC - motor.felt_degC == pytest.approx(20.0 * rate_K_s, rel=0.05)
