# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""A whole board: what it reads and drives, what it does when something fails, its pins."""

from typing import Any

import pytest
from machine import Pin

from keeper.boards import lamp
from keeper.boards import wiring as wr
from keeper.boards.base import Board
from keeper.boards.kinds import OTHER, PICO, PICO2, PICO2_W
from keeper.boards.pins import P_GPIO, P_KIND, P_NAME, gpio, outputs
from keeper.channels import (
    BUTTON,
    C_71H_LO,
    C_71H_UP,
    C_71HH_UP,
    C_71L_LO,
    C_71L_UP,
    C_STOP,
    CONTACTS,
    FLOW_DOWN,
    FLOW_UP,
    INVALID,
    LEVEL_MM,
    LOOP_71HH,
    LOOP_CUT,
    LOOP_HEALTHY,
    MOTOR_MDEGC,
    NO_ANSWER,
    OUT_DUMP,
    OUT_LAMPS_OFF,
    OUT_PUMP,
    OUT_VALVE,
    PANEL_MV,
    READ,
    SHORT,
    VALVE_PERMILLE,
    WATER_MDEGC,
)
from tests.drivers.bench import Rig, wiring_with

FLOATS = (C_71H_UP, C_71HH_UP, C_71L_UP, C_71L_LO, C_71H_LO, C_STOP)


def test_a_healthy_rig_reads_values_in_all_places_but_the_two_flows(chip):
    rig: Any = Rig()
    rig.values[:] = [None] * len(rig.values)
    values = rig.scan(20)
    assert values[FLOW_UP] is None
    assert values[FLOW_DOWN] is None
    assert values[READ:] == [None] * (len(values) - READ)
    others = [values[place] for place in range(READ) if place not in (FLOW_UP, FLOW_DOWN)]
    assert all(isinstance(value, int) and value > INVALID + 100 for value in others)
    assert [values[place] for place in FLOATS] == [1] * len(FLOATS)
    assert (values[BUTTON], values[LOOP_71HH]) == (0, LOOP_HEALTHY)
    assert (values[MOTOR_MDEGC], values[WATER_MDEGC]) == (40000, 12000)
    assert values[LEVEL_MM] == pytest.approx(1000, abs=1)


@pytest.mark.parametrize("name", CONTACTS)
def test_each_contact_is_in_its_own_place(chip, name):
    rig = Rig()
    rig.scan(5)
    before = list(rig.values)
    line = chip.lines[gpio(name)]
    line.outside = 1 - line.outside
    rig.scan(2)
    changed = [place for place in range(C_71H_UP, C_STOP + 1)
               if rig.values[place] != before[place]]  # fmt: skip
    assert changed == [C_71H_UP + CONTACTS.index(name)]


def test_a_cut_cable_reads_as_the_dangerous_side(chip):
    rig = Rig()
    rig.scan(5)
    for name in CONTACTS:
        chip.lines[gpio(name)].outside = -1
    rig.scan(2)
    assert [rig.values[place] for place in FLOATS] == [0] * len(FLOATS)


def test_a_supervised_loop_replaces_its_plain_contact(chip):
    rig = Rig([("loop_supervised", 1)])
    chip.lines[gpio("contact_71hh_up")].outside = 1
    rig.scan(3)
    assert (rig.values[C_71HH_UP], rig.values[LOOP_71HH]) == (1, LOOP_HEALTHY)
    chip.analog[gpio("adc_loop")] = 65535
    rig.scan(3)
    assert (rig.values[C_71HH_UP], rig.values[LOOP_71HH]) == (1, LOOP_CUT)


def test_a_thermistor_may_take_the_place_of_the_motors_thermometer(chip):
    rig = Rig([("motor_sensor", wr.THERMISTOR)])
    chip.analog[gpio("adc_valve")] = 32768  # 10 kohm to the rail: 25 degC
    rig.scan(15)
    assert rig.values[MOTOR_MDEGC] == pytest.approx(25000, abs=100)
    assert rig.values[WATER_MDEGC] == 12000
    chip.analog[gpio("adc_valve")] = 0
    assert rig.scan()[MOTOR_MDEGC] == INVALID + SHORT


def test_what_is_not_fitted_reads_no_answer_and_costs_no_fault(chip):
    changes = [(name, 0) for name in wr.SHUNTS]
    changes += [("motor_sensor", 0), ("water_sensor", 0), ("level_sensor", 0), ("valve_kind", 0)]
    rig = Rig(changes)
    rig.scan(20)
    missing = (LEVEL_MM, MOTOR_MDEGC, WATER_MDEGC)
    assert [rig.values[place] for place in missing] == [INVALID + NO_ANSWER] * 3
    assert rig.values[VALVE_PERMILLE] == 0  # what is not there is not open
    assert rig.board.faults == 0


SWITCHES = ((OUT_PUMP, "pump_switch"), (OUT_LAMPS_OFF, "lamps_off"), (OUT_DUMP, "dump_switch"))


@pytest.mark.parametrize(("place", "name"), SWITCHES)
def test_each_output_drives_its_own_pin(chip, place, name):
    rig = Rig()
    rig.outputs[place] = 1
    rig.scan()
    levels = {other: chip.level(gpio(other)) for _, other in SWITCHES}
    assert levels == {other: int(other == name) for _, other in SWITCHES}


@pytest.mark.parametrize("value", [2, -1, 1000])
def test_an_output_that_is_neither_0_nor_1_is_off(chip, value):
    rig = Rig()
    rig.outputs[OUT_PUMP] = value
    rig.scan()
    assert chip.level(gpio("pump_switch")) == 0


def test_safe_switches_everything_off(chip):
    rig = Rig([("valve_kind", wr.MOTOR)])
    rig.outputs[:] = [1, 1000, 1, 1, 100]
    rig.scan(3)
    for machine in chip.machines.values():
        machine.run(10)
    rig.board.line_enable.value(1)
    rig.board.safe()
    driven = [row[P_NAME] for row in outputs() if chip.level(row[P_GPIO])]
    assert driven == []


@pytest.mark.parametrize("broken", ["pump", "dump", "lamps_off", "valve"])
def test_an_output_that_fails_keeps_no_other_from_being_safe(chip, broken):
    rig = Rig([("valve_kind", wr.MOTOR)])
    rig.outputs[:] = [1, 1000, 1, 1, 100]
    rig.scan(3)
    for machine in chip.machines.values():
        machine.run(10)
    part = getattr(rig.board, broken)

    def fail(*_):
        raise OSError(5)

    part.drive = part.safe = fail
    with pytest.raises(OSError, match="5"):
        rig.board.safe()
    expected = {"pump": "pump_switch", "dump": "dump_switch", "valve": "valve_open"}.get(
        broken, broken
    )
    driven = [row[P_NAME] for row in outputs() if chip.level(row[P_GPIO])]
    assert driven == [expected]


def test_outputs_are_driven_low_before_they_become_outputs(chip):
    for row in outputs():
        chip.lines[row[P_GPIO]].records = True
        chip.lines[row[P_GPIO]].out = 1  # as a soft reset leaves a pin
        chip.lines[row[P_GPIO]].mode = Pin.OUT
    Rig([("valve_kind", wr.MOTOR)])
    switched = [row for row in outputs() if row[P_KIND] == "out"]
    assert [chip.lines[row[P_GPIO]].history[0] for row in switched] == [0] * len(switched)


def test_a_reading_step_and_a_slack_step_stay_short_in_a_healthy_rig(chip):
    rig = Rig()
    rig.scan(20)
    began_us = chip.clock.us
    rig.board.read(rig.values)
    assert chip.clock.us - began_us < 2000  # eight registers at 400 kHz: 1 ms


def test_a_panel_that_is_read_before_its_monitor_settled_is_no_answer(chip):
    rig = Rig()
    rig.monitors["panel"].set(0, 800)
    rig.board.read(rig.values)
    assert rig.values[PANEL_MV] == INVALID + NO_ANSWER


def test_the_valve_stands_still_in_the_first_scan_of_a_rig_at_rest(chip):
    rig = Rig()
    rig.scan()
    assert rig.outputs[OUT_VALVE] == rig.values[VALVE_PERMILLE] == 0


# The board's own light

LIGHT = 25              # of the plain boards, by their data sheets; the radio's on a wireless one


@pytest.mark.parametrize("blinks", [lamp.WELL, lamp.NO_JOURNAL, lamp.STANDS_SAFE])
def test_the_light_blinks_so_often_in_every_two_seconds_and_is_dark_between(chip, blinks):
    rig: Any = Rig()
    assert chip.level(LIGHT) == 1  # the start is under way
    rig.board.lamp.show(blinks)
    levels = []
    for _ in range(40):
        rig.board.blink()
        levels.append(chip.level(LIGHT))
    begins = [at for at in range(40) if levels[at] and not levels[at - 1]]
    assert len(begins) == 2 * blinks
    assert sum(levels) == 2 * blinks  # each a tenth of a second
    assert levels[:20] == levels[20:]
    rig.board.safe()
    assert chip.level(LIGHT) == 0


def test_an_accepted_step_is_told_by_long_blinks_without_a_break_then_all_is_as_before(chip):
    rig: Any = Rig()
    rig.board.lamp.show(lamp.WELL)
    rig.board.lamp.say(5)
    levels = []
    for _ in range(40):
        rig.board.blink()
        levels.append(chip.level(LIGHT))
    told, after = levels[:20], levels[20:]
    assert told == 5 * [1, 1, 0, 0]  # 2.5 a second
    assert sum(after) == 1


@pytest.mark.parametrize("kind", [PICO2_W, OTHER])
def test_where_the_light_is_the_radios_or_unknown_its_pin_is_left_alone(chip, kind):
    board = Board(kind, wiring_with(), chip.clock)
    board.blink()
    board.safe()
    assert board.lamp is None
    assert chip.lines[LIGHT].mode == -1


def test_both_boards_without_a_radio_have_a_light():
    assert PICO.light_gpio == PICO2.light_gpio == LIGHT
