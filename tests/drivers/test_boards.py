# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""A whole board: what it reads and drives, what it does when something fails, its pins."""

from typing import Any

import boot
import main
import pytest
from machine import Pin

from keeper.boards import check, pico, pico2, pico_w, start
from keeper.boards import wiring as wr
from keeper.boards.base import Board
from keeper.boards.pins import P_GPIO, P_KIND, P_NAME, P_PULL, PINS, gpio, outputs
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
from tests.drivers import fake
from tests.drivers.bench import Rig, wiring_with

VARIANTS = (pico, pico_w, pico2)
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


@pytest.mark.parametrize("row", CONTACTS, ids=lambda row: row[0])
def test_each_contact_is_in_its_own_place(chip, row):
    rig = Rig()
    rig.scan(5)
    before = list(rig.values)
    line = chip.lines[gpio(row[0])]
    line.outside = 1 - line.outside
    rig.scan(2)
    changed = [place for place in range(C_71H_UP, C_STOP + 1)
               if rig.values[place] != before[place]]  # fmt: skip
    assert changed == [C_71H_UP + CONTACTS.index(row)]


def test_a_cut_cable_reads_as_the_dangerous_side(chip):
    rig = Rig()
    rig.scan(5)
    for row in CONTACTS:
        chip.lines[gpio(row[0])].outside = -1
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
    assert rig.values[VALVE_PERMILLE] == INVALID
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
    rig.outputs[:] = [1, 1000, 1, 1]
    rig.scan(3)
    rig.board.line_enable.value(1)
    rig.board.safe()
    driven = [row[P_NAME] for row in outputs() if chip.level(row[P_GPIO])]
    assert driven == []


@pytest.mark.parametrize("broken", ["pump", "dump", "lamps_off", "valve"])
def test_an_output_that_fails_keeps_no_other_from_being_safe(chip, broken):
    rig = Rig([("valve_kind", wr.MOTOR)])
    rig.outputs[:] = [1, 1000, 1, 1]
    rig.scan(3)
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


# boot.py


def test_the_first_file_drives_the_outputs_of_the_table_of_pins_and_no_others():
    assert sorted(boot.OUTPUTS) == sorted(row[P_GPIO] for row in outputs())
    assert boot.OUTPUTS[0] == gpio("pump_switch")


def test_the_first_file_switches_off_what_an_interrupted_program_left_on(chip):
    Rig()
    for row in outputs():
        Pin(row[P_GPIO], Pin.OUT, value=1)
    boot.safe()
    assert [chip.level(row[P_GPIO]) for row in outputs()] == [0] * len(outputs())


def test_a_pin_that_fails_keeps_no_other_from_being_switched_off(chip, monkeypatch):
    class Failing(Pin):
        def __init__(self, number, *rest, **named):
            if number == boot.OUTPUTS[0]:
                raise ValueError("no such pin")
            super().__init__(number, *rest, **named)

    for row in outputs():
        Pin(row[P_GPIO], Pin.OUT, value=1)
    monkeypatch.setattr(fake.module("machine"), "Pin", Failing)
    boot.safe()
    assert [g for g in boot.OUTPUTS if chip.level(g)] == [boot.OUTPUTS[0]]


# Pins and boards


@pytest.mark.parametrize("variant", VARIANTS, ids=lambda module: module.__name__)
def test_the_table_of_pins_fits_each_board(variant):
    assert check.problems(PINS, variant.RESERVED) == []
    assert start.WATCHDOG_ms < variant.WATCHDOG_MOST_ms


def moved(changes):
    rows = []
    for row in PINS:
        number = changes.get(row[P_NAME], row[P_GPIO])
        rows.append((row[P_NAME], number, *row[P_KIND:]))
    return rows


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [
        ({"pump_switch": 17}, "both on GPIO 17"),
        ({"one_wire": 25}, "GPIO 25 is not ours"),
        ({"one_wire": 30}, "GPIO 30 is not ours"),
        ({"adc_level": 21}, "no analogue input"),
        ({"i2c_sda": 3}, "no pair of one bus"),
        ({"i2c_sda": 2, "uart_de": 3}, "no pair of one bus"),
        ({"uart_tx": 1, "uart_rx": 0}, "no pair of one UART"),
    ],
)
def test_a_pin_that_cannot_do_its_work_is_found(changes, complaint):
    assert complaint in "; ".join(check.problems(moved(changes), pico.RESERVED))


def test_two_pulse_outputs_of_one_slice_are_found():
    twin = [*PINS, ("second", 26, "pwm", "none", "")]
    assert "share a slice" in "; ".join(check.problems(twin, pico.RESERVED))


# RP2040 data sheet, table "GPIO functions" (from memory): the UART and I2C of GPIO 0 to 15.
@pytest.mark.parametrize(
    ("tx", "number"), [(0, 0), (4, 1), (8, 1), (12, 0), (16, 0), (20, 1), (2, -1), (6, -1)]
)
def test_a_pair_of_pins_belongs_to_its_uart(tx, number):
    assert check.uart_number(tx, tx + 1) == number


@pytest.mark.parametrize(
    ("sda", "scl", "number"), [(0, 1, 0), (2, 3, 1), (4, 5, 0), (6, 7, 1), (4, 9, 0), (5, 4, -1)]
)
def test_a_pair_of_pins_belongs_to_its_bus(sda, scl, number):
    assert check.i2c_number(sda, scl) == number


def test_a_board_refuses_to_start_on_a_wrong_pin(chip, monkeypatch):
    from keeper.boards import base

    monkeypatch.setattr(base, "PINS", moved({"pump_switch": 17}))
    with pytest.raises(ValueError, match="both on GPIO 17"):
        Board(pico, wiring_with(), chip.clock)


def test_the_loader_looks_at_the_buttons_pin():
    assert main.BUTTON_GPIO == gpio("button")
    row = [row for row in PINS if row[P_NAME] == "button"][0]
    assert row[P_PULL] == "up"


@pytest.mark.parametrize(
    ("build", "variant"),
    [("RPI_PICO", pico), ("RPI_PICO_W", pico_w), ("RPI_PICO2", pico2), ("RPI_PICO2_W", pico2),
     ("SOMETHING_NEW", pico)],
)  # fmt: skip
def test_the_board_is_known_by_the_name_of_its_build(build, variant, monkeypatch):
    class Implementation:
        _build = build

    monkeypatch.setattr(start.sys, "implementation", Implementation)
    assert start.this_board() is variant


def test_a_panel_that_is_read_before_its_monitor_settled_is_no_answer(chip):
    rig = Rig()
    rig.monitors["panel"].set(0, 800)
    rig.board.read(rig.values)
    assert rig.values[PANEL_MV] == INVALID + NO_ANSWER


def test_the_valve_stands_still_in_the_first_scan_of_a_rig_at_rest(chip):
    rig = Rig()
    rig.scan()
    assert rig.outputs[OUT_VALVE] == rig.values[VALVE_PERMILLE] == 0
