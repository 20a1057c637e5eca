"""The valve's drives: pulses that a servo may follow, a motor that stops where it should."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper.boards import parts
from keeper.boards.pins import gpio
from keeper.channels import INVALID, OPEN, OUT_VALVE, VALVE_PERMILLE
from keeper.drivers.valve import MotorValve, Servo, _travelled
from tests.drivers import fake
from tests.drivers.bench import Rig, analog, wiring_with
from tests.keeper.small_int import SmallInt

PULSE, OPENS, SHUTS = gpio("valve_pwm"), gpio("valve_open"), gpio("valve_close")


def pulse_us(chip):
    """The newest pulse width [us]."""
    return chip.lines[PULSE].pwm.widths[-1] / 1000


def test_a_servo_gets_its_first_pulse_with_its_frequency_and_before_its_supply(chip):
    Servo(PULSE, OPENS, 1000, 2000, 4000, 300)
    pwm = chip.lines[PULSE].pwm
    assert (pwm.frequency, pwm.widths) == (50, [1300000])
    assert chip.level(OPENS) == 0


# By hand: shut 1000 us, open 2000 us, a permille is 1 us.
@pytest.mark.parametrize(("permille", "wanted_us"), [(0, 1000), (250, 1250), (1000, 2000)])
def test_a_position_becomes_a_pulse_width(chip, permille, wanted_us):
    servo = Servo(PULSE, OPENS, 1000, 2000, 4000, 500)
    servo.drive(permille, 100)
    assert pulse_us(chip) == wanted_us
    assert chip.level(OPENS) == 1


def test_a_servo_that_turns_the_other_way(chip):
    servo = Servo(PULSE, OPENS, 2000, 1000, 4000, 0)
    servo.drive(250, 100)
    assert pulse_us(chip) == 1750


@pytest.mark.parametrize(("wanted", "limit_us"), [(-50, 1000), (1500, 2000)])
def test_no_order_drives_a_servo_beyond_its_ends(chip, wanted, limit_us):
    servo = Servo(PULSE, OPENS, 1000, 2000, 4000, 500)
    servo.drive(wanted, 100)
    assert pulse_us(chip) == limit_us


def test_the_estimate_of_a_servo_travels_at_its_speed(chip):
    servo = Servo(PULSE, OPENS, 1000, 2000, 4000, 0)
    seen = []
    for _ in range(5):
        servo.drive(100, 100)  # 4 s for all of it: 25 permille in 0.1 s
        seen.append(servo.read())
    assert seen == [0, 25, 50, 75, 100]


def test_safe_leaves_a_servo_where_it_was_told_to_stand(chip):
    servo = Servo(PULSE, OPENS, 1000, 2000, 4000, 0)
    servo.drive(400, 100)
    servo.safe()
    assert pulse_us(chip) == 1400


class Plant:
    """A motor valve: moves while one output is high; both high is never allowed."""

    def __init__(self, chip, valve, permille, travel_ms=4000):
        self.chip = chip
        self.valve = valve
        self.at = permille
        self.travel_ms = travel_ms
        self.reversed_at_once = False
        self.last = 0

    def run(self, wanted, periods):
        for _ in range(periods):
            self.valve.drive(wanted, 100)
            opens, shuts = self.chip.level(OPENS), self.chip.level(SHUTS)
            assert not (opens and shuts)
            direction = opens - shuts
            self.reversed_at_once |= direction * self.last < 0
            self.last = direction
            self.at = min(1000, max(0, self.at + direction * 100 * 1000 / self.travel_ms))
        return self.at


def motor(start, sensor=None):
    return MotorValve(OPENS, SHUTS, 4000, 10, 200, start, sensor)


@pytest.mark.parametrize("wanted", [100, 400, 990])
def test_a_motor_valve_stops_near_where_it_should(chip, wanted):
    plant = Plant(chip, motor(0), 0)
    assert plant.run(wanted, 80) == pytest.approx(wanted, abs=35)  # a scan moves it by 25
    assert chip.level(OPENS) == chip.level(SHUTS) == 0


def test_an_unknown_motor_valve_is_driven_shut_for_all_its_travel_and_a_little_more(chip):
    start = parts.unknown_position(wiring_with([("valve_kind", 2)]))
    plant = Plant(chip, motor(start), 1000)
    assert plant.run(0, 42) == 0
    assert chip.level(SHUTS) == 1
    plant.run(0, 20)
    assert chip.level(SHUTS) == 0


def test_an_end_brings_the_estimate_back_to_the_truth(chip):
    """A drive that is believed 15 % further shut than it is: pressing on at the end mends it."""
    valve = motor(300)
    plant = Plant(chip, valve, 450)
    assert plant.run(0, 40) == 0
    assert plant.run(500, 60) == pytest.approx(500, abs=35)


def test_a_change_of_direction_rests_in_between(chip):
    plant = Plant(chip, motor(500), 500)
    plant.run(900, 5)
    plant.run(0, 20)
    assert not plant.reversed_at_once


@given(some.lists(some.integers(-10, 1010), max_size=12), some.integers(0, 1000))
def test_a_motor_valve_never_drives_both_ways_nor_turns_round_at_once(orders, start):
    chip = fake.module("machine").renew()
    plant = Plant(chip, motor(start), start)
    for wanted in orders:
        plant.run(wanted, 7)
    assert not plant.reversed_at_once


def test_safe_stops_a_motor_valve(chip):
    valve = motor(0)
    valve.drive(1000, 100)
    assert chip.level(OPENS) == 1
    valve.safe()
    assert chip.level(OPENS) == chip.level(SHUTS) == 0


FEEDBACK = [("valve_kind", 2), ("valve_feedback", 1)]


@pytest.mark.parametrize(("wanted", "moves"), [(0, True), (500, False), (900, True)])
def test_a_motor_says_that_it_would_run_on_and_a_servo_never_does(chip, wanted, moves):
    valve = motor(500)
    valve.drive(wanted, 100)
    assert valve.is_moving() is moves
    servo = Servo(PULSE, OPENS, 1000, 2000, 4000, 500)
    servo.drive(wanted, 100)
    assert servo.is_moving() is False


def test_the_estimate_knows_how_far_a_motor_ran_on_during_a_stall(chip):
    valve = motor(0)
    valve.drive(900, 100)
    valve.drive(900, 1300)  # 1.2 s without a scan: 1.3 s of 4 s
    assert valve.read() == 325


@given(some.integers(0, 1 << 30), some.integers(500, 120000))
def test_the_travel_of_any_pause_stays_within_31_bits(passed_ms, travel_ms):
    travelled = _travelled(SmallInt(min(passed_ms, (1 << 30) - 1)), SmallInt(travel_ms))
    exact = min(passed_ms, 10000) * 1_000_000 / travel_ms
    assert exact - 11 <= travelled <= exact


def test_a_measured_position_comes_before_the_estimate(chip):
    chip.analog[gpio("adc_valve")] = analog(330)
    rig = Rig(FEEDBACK)
    chip.analog[gpio("adc_valve")] = analog(1650)  # half way between 330 and 2970
    assert rig.scan()[VALVE_PERMILLE] == pytest.approx(500, abs=1)


def test_a_broken_wire_of_the_position_is_seen_and_the_valve_still_shuts(chip):
    rig = Rig(FEEDBACK)
    chip.analog[gpio("adc_valve")] = 0
    rig.outputs[OUT_VALVE] = 1000
    rig.scan(60)
    assert rig.values[VALVE_PERMILLE] == INVALID + OPEN
    rig.outputs[OUT_VALVE] = 0
    rig.scan(10)
    assert chip.level(SHUTS) == 1


def test_the_position_outlives_a_reset_so_that_a_servo_does_not_jump(chip):
    rig = Rig()
    rig.outputs[OUT_VALVE] = 600
    rig.scan(60)
    again = Rig()
    assert chip.lines[PULSE].pwm.widths == [1600000]
    assert again.scan()[VALVE_PERMILLE] == 600


def test_rubbish_in_the_memory_after_power_came_is_no_position(chip):
    Rig()
    assert chip.lines[PULSE].pwm.widths == [1000000]
