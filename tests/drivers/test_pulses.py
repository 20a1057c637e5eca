# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""Flow meters on the PIO: counting, through stalls too, and a machine that falls silent."""

import pytest

from keeper.boards.parts import NoPart, meters
from keeper.channels import INVALID, NO_ANSWER, PULSES_DOWN, PULSES_UP
from keeper.drivers import pulses
from keeper.drivers.pulses import PulseMeter
from tests.drivers.bench import Rig, wiring_with

GPIO = 6


def turn(chip, count, number=0, gpio=GPIO):
    """Pulses of a meter, each level looked at by the machine."""
    for _ in range(count):
        for level in (0, 1):
            chip.lines[gpio].outside = level
            chip.machines[number].run(10)


@pytest.fixture
def meter(chip):
    meter = PulseMeter(0, GPIO)
    chip.lines[GPIO].outside = 0
    meter.read()
    return meter


def test_the_first_reading_only_sets_the_mark(chip):
    meter = PulseMeter(0, GPIO)
    turn(chip, 3)
    assert meter.read() == 0
    turn(chip, 2)
    assert meter.read() == 2


@pytest.mark.parametrize("count", [0, 1, 2, 7, 100])
def test_pulses_are_counted_since_the_reading_before(meter, chip, count):
    turn(chip, count)
    assert meter.read() == count
    assert meter.read() == 0


def test_pulses_during_a_stall_of_many_periods_are_not_lost(meter, chip):
    """The queue is full all the while, and holds counts of long ago."""
    turn(chip, 3000)
    assert meter.read() == 3000


def test_the_count_goes_on_when_its_16_bits_run_over(meter, chip):
    chip.machines[0].x = 5  # counts down: five more and it passes zero
    chip.machines[0].run(40)
    meter.read()
    turn(chip, 20)
    assert meter.read() == 20


def test_a_level_that_stays_makes_no_pulses(meter, chip):
    chip.lines[GPIO].outside = 1
    chip.machines[0].run(1000)
    assert meter.read() == 1
    chip.machines[0].run(1000)
    assert meter.read() == 0


def test_the_machine_looks_often_enough_for_any_meter(meter, chip):
    # Four instructions a look; a meter gives well below 1000 pulses a second.
    assert chip.machines[0].frequency / 4 > 10 * 1000


def test_an_empty_queue_is_no_answer_and_never_waited_for(meter, chip):
    chip.machines[0].dead = True
    while chip.machines[0].waiting:
        chip.machines[0].get([0])
    assert meter.read() == INVALID + NO_ANSWER
    assert meter.faults == 1


def test_a_silent_machine_is_started_again_between_scans(meter, chip):
    chip.machines[0].on = False
    assert meter.read() == INVALID + NO_ANSWER
    assert meter.step()
    assert meter.read() == 0
    turn(chip, 4)
    assert meter.read() == 4
    assert not meter.step()


def test_a_counter_that_cannot_be_had_is_no_answer_and_stops_nothing(chip, monkeypatch):
    def refuse(*_, **__):
        raise ValueError("StateMachine claimed by external resource")

    monkeypatch.setattr(pulses.rp2, "StateMachine", refuse)
    rig = Rig()
    rig.scan(3)
    assert isinstance(rig.board.meter_up, NoPart)
    assert rig.values[PULSES_UP] == rig.values[PULSES_DOWN] == INVALID + NO_ANSWER
    assert rig.board.faults == 2


def test_both_meters_count_apart_with_one_program_in_memory(chip):
    rig = Rig()
    rig.scan()
    rig.pulses("flow_up", 4)
    rig.pulses("flow_down", 2)
    values = rig.scan()
    assert (values[PULSES_UP], values[PULSES_DOWN]) == (4, 2)
    assert len(chip.pio_programs[0]) == 1
    assert chip.pio_programs[1] == []


def test_meters_are_pulled_up_for_their_open_collectors(chip):
    from machine import Pin

    from keeper.boards.kinds import PICO

    meters(PICO, wiring_with())
    assert chip.lines[6].pull == chip.lines[7].pull == Pin.PULL_UP
