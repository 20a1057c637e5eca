"""Valve, penstock, wheel and generator against closed forms and `fluids`."""

import math

import pytest
from fluids.fittings import Kv_to_K
from scipy.optimize import brentq

from forebay.twin.effects import apply
from forebay.twin.leads import Leads
from keeper.boards import wiring
from keeper.physics import water
from tests.twin.ledger import RIG, plant
from tests.twin.pipes import GRAVITY, pipe_K
from tests.twin.rigs import HALF, run, steady


@pytest.mark.parametrize("characteristic", ["equal percentage", "linear"])
@pytest.mark.parametrize(("share", "bore"), [
    (0.1, 0.025), (0.3, 0.025), (0.6, 0.025), (1.0, 0.025), (1.0, 0.01)])
def test_the_flow_is_that_of_pipe_valve_and_nozzle_in_a_row(characteristic, share, bore):
    # Kv by the characteristic's definition (IEC 60534-2-4: R^(x-1); linear 1/R + (1 - 1/R) x),
    # K from Kv and friction by fluids, all referred to the penstock's bore: of 25 mm, in
    # which friction is nothing, and of 10 mm, in which it takes a tenth of the head.
    one = plant(steady(0.0), {**HALF, "valve.characteristic": characteristic,
                              "penstock.diameter_m": bore})
    one.command(0, round(1000 * share))
    run(one, 8.0)
    kv = 1.2 * (50.0 ** (share - 1) if characteristic == "equal percentage"
                else 0.02 + 0.98 * share)
    area = math.pi / 4 * bore**2
    jet = (area / (math.pi / 4 * 0.0021**2)) ** 2 / 0.97**2
    head = one.upper.base_m + one.upper.level_m

    def unplaced(flow):
        coefficients = pipe_K(20.0, bore, 2.5, flow) + Kv_to_K(kv, bore) + jet
        return coefficients * (flow / area) ** 2 / (2 * GRAVITY) - head

    # 2 %: the explicit friction factor against Colebrook; of a tenth of the head.
    # Kv_to_K takes a bar as water of 1000 kg/m3 at standard gravity: 0.08 % of the valve.
    assert one.down.flow == pytest.approx(brentq(unplaced, 1e-7, 1e-3), rel=1.5e-3)


@pytest.mark.parametrize("share", [0.005, 0.01, 0.015])
def test_an_equal_percentage_valve_closes_tight_from_its_seat_on(share):
    # R^(x-1) is 1/50 at x = 0; below 2 % of its travel the plug comes down on the seat.
    one = plant(steady(0.0), HALF)
    one.command(0, 1000 * share)
    run(one, 2.0)
    kv = 1.2 * 50.0 ** (share - 1) * share / 0.02
    # The valve takes nearly all: (3600 Q / Kv)^2 bar.
    head = 9.5 - 1e5 / (1000 * GRAVITY) * (3600 * one.down.flow / kv) ** 2
    assert head == pytest.approx(
        0.5 / GRAVITY * (one.down.flow / (0.97 * math.pi / 4 * 0.0021**2)) ** 2, rel=0.05)


def test_the_valve_travels_its_way_in_its_time_both_ways():
    one = plant(steady(0.0), HALF)
    one.command(0, 1000)
    run(one, 1.0)
    assert one.down.position == pytest.approx(0.25)
    run(one, 2.9)
    assert one.down.position == pytest.approx(0.975)
    run(one, 0.2)
    assert one.down.position == 1.0
    one.command(0, 400)
    run(one, 1.2)
    assert one.down.position == pytest.approx(0.7)
    run(one, 1.3)
    assert one.down.position == 0.4
    one.command(0, 0)
    run(one, 1.7)
    assert one.down.position == 0.0
    assert one.down.flow == 0.0


MOTOR = {**HALF, "board.valve_kind": wiring.MOTOR}
TRAVEL_S, PLAY = 4.0, 0.004


def driven(one, *pulses_ms):
    """Lets the motor run for a part of each scan, then come to rest."""
    for ms in (*pulses_ms, 0, 0, 0):
        one.command(0, 0, 0, 0, ms)
        one.step(0.1)
    return one.down.position


@pytest.mark.parametrize(("pulses_ms", "way_s"), [
    ((100,) * 10, 1.0), ((20,), 0.02), ((20, 0, 20, 0, 20), 0.06), ((100, 100, 50), 0.25)])
def test_a_motor_moves_the_plug_for_as_long_as_it_runs_less_its_gear_s_play(pulses_ms, way_s):
    """It starts as late as it runs on: both by its time constant, 12 ms."""
    one = plant(steady(0.0), MOTOR)
    assert driven(one, *pulses_ms) == pytest.approx(way_s / TRAVEL_S - PLAY, abs=1e-6)
    assert one.down.drive.motor_s == pytest.approx(way_s)
    before = one.down.position
    # The other way the play comes first again.
    assert driven(one, -100) == pytest.approx(max(0.0, before - 0.1 / TRAVEL_S + PLAY), abs=1e-6)


def test_a_motor_that_is_switched_off_runs_on_by_its_time_constant():
    one = plant(steady(0.0), MOTOR)
    for ms in (100, 100, 100):
        one.command(0, 0, 0, 0, ms)
        one.step(0.1)
    off = one.down.position
    assert driven(one) - off == pytest.approx(0.012 / TRAVEL_S, rel=0.01)
    assert not one.down.drive.on


def test_a_motor_takes_its_energy_from_the_board_s_battery():
    one, other = plant(steady(0.0), MOTOR), plant(steady(0.0), MOTOR)
    driven(one, *(100,) * 20)
    driven(other, *(0,) * 20)
    run(one, 2.0)
    run(other, 2.0)
    more_J = one.battery.board_J - other.battery.board_J
    assert more_J == pytest.approx(2.0 * RIG["valve.motor_power_W"], rel=0.01)


def test_starts_of_the_motor_are_counted_and_a_run_on_is_none():
    one = plant(steady(0.0), MOTOR)
    driven(one, 100, 100, 50, 50, 0, 50)
    assert one.down.drive.moves == 3


def test_the_wheel_comes_up_to_its_runaway_speed_as_a_first_order_lag():
    # No load at all: I dw/dt = rho Q f (1 + k cos 15) r (v - w r) - T, a straight line in w.
    one = plant(steady(0.0), HALF)
    one.command(0, 1000, 1, 0)
    down = one.down
    apply("clamp-lost", one, Leads())
    down.position, down.commanded = 0.999999, 1.0
    down.pipe_s2_m5 = pipe_K(20.0, 0.025, 2.5, 4.5e-5) / (
        2 * GRAVITY * (math.pi / 4 * 0.025**2) ** 2)
    one.step(0.1)
    density = water.density_kg_m3(12.0)
    jet = down.flow / (math.pi / 4 * 0.0021**2)
    push = density * down.flow * 0.6 * (1 + 0.9 * math.cos(math.radians(15))) * 0.025
    runaway = jet / 0.025 - 0.93e-3 / (push * 0.025)
    lag_s = 1e-4 / (push * 0.025)
    for seconds in (3.0, 9.0):
        run(one, seconds - one.time_s)
        expected = runaway * (1 - math.exp(-seconds / lag_s))
        assert down.speed == pytest.approx(expected, rel=2e-3)   # steps: (dt / lag)^2 / 12
    assert down.generator_V == pytest.approx(0.0601 * down.speed - 0.7, rel=2e-3)


def test_a_wheel_without_water_coasts_down_on_its_friction():
    # T t / I = w: 0.93 mN m on 1e-4 kg m2 take 9.3 rad/s every second.
    one = plant(steady(0.0), {"upper.start_volume_m3": 0.0})
    one.down.speed = 100.0
    one.command(0, 0, 1, 0)
    run(one, 5.0)
    assert one.down.speed == pytest.approx(100.0 - 5 * 9.3)
    run(one, 5.7)
    assert one.down.speed == pytest.approx(100.0 - 10.7 * 9.3, abs=1e-9)
    run(one, 0.2)
    assert one.down.speed == 0.0


@pytest.mark.parametrize(("lamps_off", "dump"), [(0, 0), (1, 1), (1, 0), (0, 1)])
@pytest.mark.parametrize("speed", [100.0, 200.0, 300.0, 400.0])
def test_the_generators_node_is_solved_as_a_circuit(speed, lamps_off, dump):
    # Kirchhoff at the node, by bisection: source 0.0601 w - 0.7 V behind 10 ohm; lamps
    # from 9 V on with 24 ohm, the clamp from 15 V on with 2 ohm, a dump load of 45 ohm.
    down = plant(steady(0.0)).down
    down.lamps_off, down.dump_on = lamps_off, dump
    down.drive_Nm(speed)

    def loads(volts):
        return (0.0 if lamps_off else max(0.0, volts - 9) / 24, max(0.0, volts - 15) / 2,
                volts / 45 if dump else 0.0)

    volts = brentq(lambda v: (0.0601 * speed - 0.7 - v) / 10 - sum(loads(v)), 0.0, 40.0)
    assert down.generator_V == pytest.approx(volts)
    found = (down.lamp_A, down.clamp_A, down.dump_A)
    assert found == pytest.approx(loads(volts))
    assert down.generator_A == pytest.approx(sum(loads(volts)))


def test_a_wheel_too_slow_for_its_rectifier_drives_nothing():
    down = plant(steady(0.0)).down
    down.dump_on = 1
    down.drive_Nm(0.7 / 0.0601 * 0.99)
    assert (down.generator_V, down.generator_A, down.dump_A) == (0.0, 0.0, 0.0)


def test_a_valve_shuts_though_the_tank_is_empty_and_the_wheel_stands():
    one = plant(steady(0.0), {"upper.start_volume_m3": 0.0})
    one.command(0, 1000)
    run(one, 5.0)
    assert one.down.position == 1.0
    one.command(0, 0)
    run(one, 2.0)
    assert one.down.position == pytest.approx(0.5)


@pytest.mark.parametrize("which", ["tank_valve_open", "shed_valve_open"])
def test_either_hand_valve_shuts_the_penstock(which):
    one = plant(steady(0.0), HALF)
    one.command(0, 1000)
    run(one, 5.0)
    assert one.down.flow > 0
    setattr(one, which, False)
    one.rewire()
    one.step(0.1)
    assert one.down.flow == 0
