# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""The valve's drives: pulses that a servo may follow, and pulses that end by themselves."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper.boards import wiring as wr
from keeper.boards.kinds import PICO
from keeper.boards.pins import gpio
from keeper.channels import INVALID, NO_ANSWER, OPEN, OUT_DRIVE, OUT_VALVE, SHORT, VALVE_PERMILLE
from keeper.drivers.pulse import TICKS_PER_MS, Pulse
from keeper.drivers.valve import Servo
from tests.drivers import fake
from tests.drivers.bench import Rig, analog

PULSE, OPENS, SHUTS = gpio("valve_pwm"), gpio("valve_open"), gpio("valve_close")
RUNS, TURNS_BACK = PICO.valve_machines
SCAN_MS = 100
STALL_MS = 1200          # the longest stall of the flash: three sector erases


def pulse_us(chip):
    """The newest pulse width [us]."""
    return chip.lines[PULSE].pwm.widths[-1] / 1000


def test_a_servo_gets_its_first_pulse_with_its_frequency_and_before_its_supply(chip):
    Servo(PULSE, OPENS, 1000, 2000, 300)
    pwm = chip.lines[PULSE].pwm
    assert (pwm.frequency, pwm.widths) == (50, [1300000])
    assert chip.level(OPENS) == 0


# By hand: shut 1000 us, open 2000 us, a permille is 1 us.
@pytest.mark.parametrize(("permille", "wanted_us"), [(0, 1000), (250, 1250), (1000, 2000)])
def test_a_position_becomes_a_pulse_width(chip, permille, wanted_us):
    servo = Servo(PULSE, OPENS, 1000, 2000, 500)
    servo.drive(permille, 0)
    assert pulse_us(chip) == wanted_us
    assert chip.level(OPENS) == 1


def test_a_servo_that_turns_the_other_way(chip):
    servo = Servo(PULSE, OPENS, 2000, 1000, 0)
    servo.drive(250, 0)
    assert pulse_us(chip) == 1750


@pytest.mark.parametrize(("wanted", "limit_us"), [(-50, 1000), (1500, 2000)])
def test_no_order_drives_a_servo_beyond_its_ends(chip, wanted, limit_us):
    servo = Servo(PULSE, OPENS, 1000, 2000, 500)
    servo.drive(wanted, 0)
    assert pulse_us(chip) == limit_us


def test_safe_leaves_a_servo_where_it_was_told_to_stand(chip):
    servo = Servo(PULSE, OPENS, 1000, 2000, 0)
    servo.drive(400, 0)
    servo.safe()
    assert pulse_us(chip) == 1400
    assert servo.is_moving() is False


def high_ms(chip, line, ms, number):
    """For how long a pin is high in a time [ms]: the state machine alone, nobody else runs."""
    high = 0
    for _ in range(ms * TICKS_PER_MS):
        high += chip.level(line)
        chip.machines[number].run(1)
    return high / TICKS_PER_MS


@pytest.mark.parametrize("ms", [1, 20, 100])
def test_a_pulse_is_as_long_as_told_and_ends_while_the_processor_stands_still(chip, ms):
    pulse = Pulse(RUNS, OPENS)
    pulse.put(ms)
    # Two ticks to take it and to let it fall.
    assert high_ms(chip, OPENS, STALL_MS, RUNS) == pytest.approx(ms, abs=3 / TICKS_PER_MS)
    assert chip.level(OPENS) == 0


def test_pulses_that_follow_each_other_are_one_and_no_more_than_one_waits(chip):
    pulse = Pulse(RUNS, OPENS)
    high = 0.0
    for _ in range(50):
        pulse.put(SCAN_MS)
        high += high_ms(chip, OPENS, SCAN_MS, RUNS)
    assert high == pytest.approx(50 * SCAN_MS, rel=0.01)
    for _ in range(20):
        pulse.put(SCAN_MS)       # a scan that runs wild
    assert high_ms(chip, OPENS, STALL_MS, RUNS) <= 2 * SCAN_MS + 1


def test_stop_ends_a_pulse_at_once_and_for_good(chip):
    pulse = Pulse(RUNS, OPENS)
    pulse.put(SCAN_MS)
    high_ms(chip, OPENS, 10, RUNS)
    assert chip.level(OPENS) == 1
    pulse.stop()
    assert chip.level(OPENS) == 0
    assert high_ms(chip, OPENS, STALL_MS, RUNS) == 0


def motor_rig(kind=wr.MOTOR, **more):
    return Rig([("valve_kind", kind), *more.items()])


def scan(chip, rig, ms, wanted=500):
    """A scan that drives; returns how long each direction's pin is high until the next [ms]."""
    rig.outputs[OUT_DRIVE] = ms
    rig.outputs[OUT_VALVE] = wanted
    rig.scan()
    high = [0, 0]
    for _ in range(SCAN_MS * TICKS_PER_MS):
        assert not (chip.level(OPENS) and chip.level(SHUTS))
        high[0] += chip.level(OPENS)
        high[1] += chip.level(SHUTS)
        for number in PICO.valve_machines:
            if number in chip.machines:
                chip.machines[number].run(1)
    return [one / TICKS_PER_MS for one in high]


def test_a_motor_runs_one_way_or_the_other_and_says_that_it_moves(chip):
    rig = motor_rig()
    assert scan(chip, rig, 50) == pytest.approx([50, 0], abs=0.5)
    assert rig.board.is_moving()
    assert scan(chip, rig, 0) == [0, 0]
    assert not rig.board.is_moving()
    scan(chip, rig, 0)
    assert scan(chip, rig, -30) == pytest.approx([0, 30], abs=0.5)


def test_a_change_of_direction_that_comes_too_soon_drives_nothing(chip):
    rig = motor_rig()
    scan(chip, rig, 100)
    assert scan(chip, rig, -100)[1] == 0
    scan(chip, rig, 0)
    assert scan(chip, rig, -100)[1] == 0
    scan(chip, rig, 0)
    scan(chip, rig, 0)
    assert scan(chip, rig, -100)[1] > 0


@given(some.lists(some.integers(-100, 100), max_size=30))
def test_whatever_is_asked_for_both_directions_are_never_on_together(asked):
    chip = fake.module("machine").renew()
    rig = motor_rig()
    for ms in asked:
        scan(chip, rig, ms)


def test_safe_stops_a_motor(chip):
    rig = motor_rig()
    rig.outputs[OUT_DRIVE] = 100
    rig.scan()
    chip.machines[RUNS].run(10)
    assert chip.level(OPENS) == 1
    rig.board.safe()
    assert chip.level(OPENS) == chip.level(SHUTS) == 0
    assert high_ms(chip, OPENS, STALL_MS, RUNS) == 0


def test_a_reversed_motor_has_one_switch_that_runs_and_one_that_turns(chip):
    rig = motor_rig(wr.REVERSED)
    rig.outputs[OUT_DRIVE] = -50
    rig.scan()
    chip.machines[RUNS].run(10)
    assert (chip.level(OPENS), chip.level(SHUTS)) == (1, 1)
    rig.outputs[OUT_DRIVE] = 0
    for _ in range(2):
        chip.machines[RUNS].run(1000)
        rig.scan()
    assert (chip.level(OPENS), chip.level(SHUTS)) == (0, 0)
    rig.outputs[OUT_DRIVE] = 50
    rig.scan()
    chip.machines[RUNS].run(10)
    assert (chip.level(OPENS), chip.level(SHUTS)) == (1, 0)
    rig.board.safe()
    assert (chip.level(OPENS), chip.level(SHUTS)) == (0, 0)


def test_a_spring_is_held_open_until_it_was_driven_shut_and_let_go_when_all_is_to_be_safe(chip):
    rig = motor_rig(wr.SPRING)
    assert chip.level(PULSE) == 0
    scan(chip, rig, 100, wanted=300)
    assert chip.level(PULSE) == 1
    scan(chip, rig, 0, wanted=300)
    scan(chip, rig, 0, wanted=300)
    scan(chip, rig, -100, wanted=0)
    assert chip.level(PULSE) == 1    # it is still driven
    scan(chip, rig, 0, wanted=0)
    assert chip.level(PULSE) == 0
    scan(chip, rig, 0, wanted=0)
    scan(chip, rig, 100, wanted=300)
    rig.board.safe()
    assert chip.level(PULSE) == chip.level(OPENS) == 0


FEEDBACK = [("valve_kind", wr.MOTOR), ("valve_feedback", 1)]


def test_a_motor_without_a_sensor_says_that_it_does_not_know(chip):
    assert motor_rig().scan()[VALVE_PERMILLE] == INVALID + NO_ANSWER


def test_a_sensor_says_where_a_motor_stands(chip):
    rig = Rig(FEEDBACK)
    chip.analog[gpio("adc_valve")] = analog(1650)  # half way between 330 and 2970
    assert rig.scan()[VALVE_PERMILLE] == pytest.approx(500, abs=1)


# Half way from an end of the travel, 330 and 2970 mV, to that of the rail.
@pytest.mark.parametrize(("millivolts", "why"), [(0, OPEN), (163, OPEN), (3137, SHORT),
                                                 (3300, SHORT)])
def test_a_broken_wire_of_the_position_is_seen_and_the_valve_is_still_driven(
    chip, millivolts, why
):
    rig = Rig(FEEDBACK)
    chip.analog[gpio("adc_valve")] = analog(millivolts)
    assert scan(chip, rig, -100)[1] > 0
    assert rig.values[VALVE_PERMILLE] == INVALID + why


def test_the_position_outlives_a_reset_so_that_a_servo_does_not_jump(chip):
    rig = Rig()
    rig.outputs[OUT_VALVE] = 600
    rig.scan(2)
    again = Rig()
    assert chip.lines[PULSE].pwm.widths == [1600000]
    assert again.scan()[VALVE_PERMILLE] == 600


def test_rubbish_in_the_memory_after_power_came_is_no_position(chip):
    Rig()
    assert chip.lines[PULSE].pwm.widths == [1000000]


def test_programs_that_an_earlier_start_left_behind_make_room(chip):
    for _ in range(4):
        chip.pio_programs[0].append(fake.module("rp2").Program())
        chip.pio_programs[0][-1].words = [0] * 8
    rig = motor_rig()
    assert scan(chip, rig, 50)[0] > 0
    rig.pulses("flow_up", 3)
    assert rig.board.faults == 0
