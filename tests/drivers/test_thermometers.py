# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""Thermometers on 1-Wire: conversion and reading in steps, and readings that are refused."""

import pytest
from onewire import OneWire, Thermometer, crc8

from keeper.channels import (
    ALL_ZERO,
    DAMAGED,
    INVALID,
    MOTOR_MDEGC,
    NO_ANSWER,
    POWER_ON_VALUE,
    STALE,
    WATER_MDEGC,
)
from keeper.instruments.thermometers import ANY, Thermometers, rom_code
from tests.drivers.bench import Rig

AGE_LIMIT_SCANS = 100  # 10 s, the default of the wiring


@pytest.fixture
def rig(chip):
    """A rig whose thermometers have been read."""
    rig = Rig()
    rig.scan(15)
    assert rig.values[MOTOR_MDEGC] == 40000
    return rig


# DS18B20 data sheet, table "Temperature/data relationship" (from memory).
TABLE = [
    (125.0, 0x07D0),
    (25.0625, 0x0191),
    (10.125, 0x00A2),
    (0.5, 0x0008),
    (0.0, 0x0000),
    (-0.5, 0xFFF8),
    (-10.125, 0xFF5E),
    (-25.0625, 0xFE6F),
    (-55.0, 0xFC90),
]


@pytest.mark.parametrize(("degC", "register"), TABLE)
def test_register_words_of_the_data_sheet_become_its_temperatures(rig, degC, register):
    rig.motor.sixteenths = register
    rig.scan(25)
    # 62.5 mdegC a step, rounded down
    assert rig.values[MOTOR_MDEGC] == pytest.approx(degC * 1000, abs=0.5)
    assert rig.values[WATER_MDEGC] == 12000


def test_the_crc_is_the_published_one():
    # Maxim application note 27, its worked example: ROM 02 1C B8 01 00 00 00, CRC A2.
    assert crc8(bytes([0x02, 0x1C, 0xB8, 0x01, 0x00, 0x00, 0x00])) == 0xA2


def test_a_rom_code_is_family_serial_and_crc_in_the_lines_order():
    code = rom_code(0x000001, 0xB81C02, crc8)
    assert code is not None
    assert list(code[:7]) == [0x28, 0x02, 0x1C, 0xB8, 0x01, 0x00, 0x00]
    assert crc8(code) == 0


def test_before_the_first_reading_a_temperature_is_stale(chip):
    rig = Rig()
    rig.scan(1)
    assert rig.values[MOTOR_MDEGC] == rig.values[WATER_MDEGC] == INVALID + STALE


def test_a_reading_is_not_taken_before_the_conversion_is_done(chip):
    rig = Rig()
    rig.scan(7)
    assert rig.values[MOTOR_MDEGC] == INVALID + STALE
    assert rig.motor.conversions == 0


def test_no_step_moves_more_bytes_than_ten(chip):
    """10 bytes take 5.6 ms, a reset 1 ms: what `slack` may take."""
    rig = Rig()
    line = rig.board.thermometers.line
    most = 0
    for _ in range(400):
        line.moved = 0
        rig.board.thermometers.step(chip.clock.ticks_ms())
        most = max(most, line.moved)
        chip.clock.advance_ms(7)
    assert 9 <= most <= 10


def fail(rig, scans=AGE_LIMIT_SCANS + 15):
    """Lets time pass until a reading that fails is no longer bridged."""
    rig.scan(scans)
    return rig.values[MOTOR_MDEGC]


def test_a_sensor_that_does_not_answer(rig):
    rig.motor.present = False
    assert fail(rig) == INVALID + NO_ANSWER
    assert rig.values[WATER_MDEGC] == 12000


def test_a_line_that_is_cut(rig, chip):
    chip.one_wire = []
    assert fail(rig) == INVALID + NO_ANSWER
    assert rig.values[WATER_MDEGC] == INVALID + NO_ANSWER


def test_damaged_bytes(rig):
    rig.motor.damage = 0x10
    assert fail(rig) == INVALID + DAMAGED
    assert rig.values[WATER_MDEGC] == 12000


def test_a_line_shorted_low_is_all_zero_although_its_crc_fits(rig, chip):
    chip.one_wire_shorted = True
    assert fail(rig) == INVALID + ALL_ZERO


def test_the_power_on_value_after_a_dip_of_the_supply_is_refused(rig):
    rig.motor.power_up()
    rig.motor.converts = False
    assert fail(rig) == INVALID + POWER_ON_VALUE


def test_the_power_on_value_at_the_start_is_refused(chip):
    rig = Rig()
    rig.motor.sixteenths = 85 * 16
    rig.scan(40)
    assert rig.values[MOTOR_MDEGC] == INVALID + POWER_ON_VALUE


def test_a_motor_that_really_reaches_85_degC_is_believed(rig):
    for degC in range(42, 90, 4):
        rig.motor.sixteenths = (degC if degC != 86 else 85) * 16
        rig.scan(12)
    rig.motor.sixteenths = 85 * 16
    rig.scan(25)
    assert rig.values[MOTOR_MDEGC] == 85000


def test_one_failed_reading_is_bridged_until_the_good_one_is_too_old(rig):
    rig.motor.damage = 1
    rig.scan(50)
    assert rig.values[MOTOR_MDEGC] == 40000
    assert rig.board.faults >= 3
    rig.motor.damage = 0
    rig.scan(70)
    assert rig.values[MOTOR_MDEGC] == 40000


def test_without_any_slack_work_a_reading_becomes_stale(rig):
    rig.scan(AGE_LIMIT_SCANS + 5, slack=0)
    assert rig.values[MOTOR_MDEGC] == INVALID + STALE


def test_a_reading_that_is_stale_does_not_come_back_when_the_ticks_wrap(rig, chip):
    rig.scan(AGE_LIMIT_SCANS + 5, slack=0)
    chip.clock.advance_ms((1 << 30) - 12000)
    assert rig.scan(1, slack=0)[MOTOR_MDEGC] == INVALID + STALE


def test_a_sensor_that_comes_back_is_believed_again(rig):
    rig.motor.present = False
    fail(rig)
    rig.motor.present = True
    rig.scan(30)
    assert rig.values[MOTOR_MDEGC] == 40000


def test_bits_below_the_resolution_of_the_sensor_are_left_out(rig):
    rig.motor.config = 0x1F  # 9 bits: steps of half a degree
    rig.motor.sixteenths = 40 * 16 + 15
    rig.scan(25)
    assert rig.values[MOTOR_MDEGC] == 40500


def line_of(chip, *serials):
    chip.one_wire = [Thermometer(serial) for serial in serials]
    return OneWire(None)


def test_an_unnamed_sensor_is_found_on_the_line(chip):
    line = line_of(chip, 7)
    assert Thermometers(line, [ANY], 10).sensors[0].rom == chip.one_wire[0].rom


def test_an_unnamed_sensor_is_not_the_one_that_has_a_name(chip):
    line = line_of(chip, 7, 8)
    known = chip.one_wire[0].rom
    found = Thermometers(line, [ANY, known], 10)
    assert found.sensors[0].rom == chip.one_wire[1].rom


def test_of_two_unnamed_sensors_a_single_one_found_is_given_to_neither(chip):
    """Else a dead motor sensor would let the water's temperature pass for the motor's."""
    found = Thermometers(line_of(chip, 7), [ANY, ANY], 10)
    assert [sensor.rom for sensor in found.sensors] == [ANY, ANY]


def test_devices_of_another_family_are_left_alone(chip):
    line = line_of(chip, 7)
    chip.one_wire.append(Thermometer(9, family=0x01))
    chip.one_wire[0].present = False
    assert Thermometers(line, [ANY], 10).sensors[0].rom is ANY


def test_a_sensor_plugged_in_later_is_found(chip):
    line = line_of(chip, 7)
    chip.one_wire[0].present = False
    sensors = Thermometers(line, [ANY], 10)
    chip.one_wire[0].present = True
    for _ in range(300):
        sensors.step(chip.clock.ticks_ms())
        chip.clock.advance_ms(10)
    assert sensors.read(0, chip.clock.ticks_ms()) == 20000
