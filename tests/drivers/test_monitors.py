# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""Monitors on I2C: from register bytes to mA and mV, and every way that they fail."""

from fractions import Fraction

import pytest
from devices import HeldLine, MonitorRegisters
from hypothesis import given
from hypothesis import strategies as some

from keeper.boards.pins import gpio
from keeper.channels import (
    CLIPPED,
    GENERATOR_MA,
    GENERATOR_MV,
    INVALID,
    LAMP_MA,
    NO_ANSWER,
    PANEL_MA,
    PANEL_MV,
    PUMP_MA,
    SUPPLY_MA,
    SUPPLY_MV,
)
from keeper.drivers.i2c_bus import Bus
from keeper.instruments.monitors import CONFIG, Monitor
from tests.drivers import fake
from tests.drivers.bench import Rig
from tests.keeper.small_int import SmallInt

NOTHING = INVALID + NO_ANSWER
MONITORED = (PANEL_MV, PANEL_MA, PUMP_MA, GENERATOR_MV, GENERATOR_MA, LAMP_MA, SUPPLY_MV,
             SUPPLY_MA)  # fmt: skip
TURN = 3  # scans until panel, lamp and supply have all been read


@pytest.fixture
def rig(chip):
    """A rig that has run until every device has been believed."""
    rig = Rig()
    rig.scan(2 * TURN)
    return rig


def test_register_bytes_become_milliamperes_and_millivolts(rig):
    # By hand, data sheet SBOS547 (from memory): 2.5 uV and 1.25 mV a step. The
    # panel's shunt is 10 mohm: 4.2 A are 42 mV, 16800 steps; 23.8 V are 19040 steps.
    rig.monitors["panel"].set(16800, 19040)
    # 200 mohm: 0.1 A are 20 mV, 8000 steps; 13.4 V are 10720 steps.
    rig.monitors["generator"].set(8000, 10720)
    values = rig.scan(TURN)
    assert (values[PANEL_MA], values[PANEL_MV]) == (4200, 23800)
    assert (values[GENERATOR_MA], values[GENERATOR_MV]) == (100, 13400)


@given(some.integers(-32759, 32759), some.integers(0, 32759), some.integers(500, 1_000_000))
def test_any_register_word_becomes_the_nearest_milliampere(raw, bus, shunt_uohm):
    chip = fake.module("machine").renew()
    device = MonitorRegisters()
    chip.i2c_devices[64] = device
    monitor = Monitor(Bus(0, 4, 5, chip.clock), 64, SmallInt(shunt_uohm), PANEL_MA, PANEL_MV)
    values = [0] * 14
    for _ in range(4):
        device.set(raw, bus)
        monitor.look_after()
        monitor.sample()
    monitor.publish(values)
    # 2.5 uV a step over the shunt; 1.25 mV a step
    assert abs(values[PANEL_MA] - Fraction(raw * 2500, shunt_uohm)) <= Fraction(1, 2)
    assert 0 <= Fraction(bus * 5, 4) - values[PANEL_MV] < 1


def test_a_current_the_other_way_is_negative(rig):
    rig.monitors["supply"].set(-8000, 10240)  # -20 mV over 100 mohm
    values = rig.scan(TURN)
    assert (values[SUPPLY_MA], values[SUPPLY_MV]) == (-200, 12800)


def test_a_shunt_wired_the_other_way_round_is_turned_by_its_sign(chip):
    rig = Rig([("supply_shunt_uohm", -100000)])
    rig.scan(5)
    rig.monitors["supply"].set(-8000, 10240)
    assert rig.scan()[SUPPLY_MA] == 200


@pytest.mark.parametrize("raw", [32767, 32765, -32768, -32766])
def test_a_shunt_at_the_end_of_its_range_is_clipped(rig, raw):
    rig.monitors["pump"].set(raw)
    assert rig.scan()[PUMP_MA] == INVALID + CLIPPED


def test_pump_and_generator_are_read_in_every_scan_and_the_others_in_turn(rig):
    for device in rig.monitors.values():
        device.set(0, 0)
    rig.scan(TURN)
    rig.monitors["pump"].set(640)
    rig.monitors["generator"].set(8000, 10720)
    values = rig.scan()
    assert (values[PUMP_MA], values[GENERATOR_MA], values[GENERATOR_MV]) == (100, 100, 13400)
    for name in ("panel", "lamp", "supply"):
        rig.monitors[name].set(8000, 10720)
    slow = (PANEL_MA, LAMP_MA, SUPPLY_MA)
    for read in (1, 2, 3):
        values = rig.scan()
        assert sum(values[place] != 0 for place in slow) == read


def test_the_monitors_average_over_a_scan_period_at_least(rig):
    # Fields after the data sheet (from memory): AVG bits 11-9, bus time 8-6, shunt
    # time 5-3, mode 2-0.
    averages = (1, 4, 16, 64, 128, 256, 512, 1024)
    times_us = (140, 204, 332, 588, 1100, 2116, 4156, 8244)
    for device in rig.monitors.values():
        word = device.config
        assert word == CONFIG
        assert word & 7 == 7  # both, continuously
        cycle_us = times_us[word >> 6 & 7] + times_us[word >> 3 & 7]
        assert averages[word >> 9 & 7] * cycle_us >= 100_000


def test_a_device_that_misses_one_scan_is_bridged_and_two_are_not(rig):
    rig.monitors["pump"].set(640)  # 1.6 mV over 16 mohm: 100 mA
    rig.scan()
    rig.monitors["pump"].silent = True
    assert rig.scan(slack=0)[PUMP_MA] == 100
    assert rig.scan(slack=0)[PUMP_MA] == NOTHING
    assert rig.board.faults == 2


def test_a_silent_device_leaves_the_others_readings_alone(rig):
    rig.monitors["panel"].silent = True
    rig.monitors["lamp"].set(800)  # 2 mV over 200 mohm
    rig.scan(TURN)
    for _ in range(10):
        assert rig.scan()[LAMP_MA] == 10
    assert rig.values[PANEL_MA] == rig.values[PANEL_MV] == NOTHING


def test_a_device_that_comes_back_is_configured_before_it_is_believed(rig):
    device = rig.monitors["pump"]
    device.silent = True
    rig.scan(5)
    device.restart()
    device.silent = False
    device.set(640)
    seen = [rig.scan()[PUMP_MA] for _ in range(12)]
    assert device.config == CONFIG
    assert seen[0] == NOTHING
    assert seen[-1] == 100
    assert set(seen) == {NOTHING, 100}


def test_a_device_that_lost_its_supply_unseen_is_configured_again(rig):
    rig.monitors["generator"].restart()
    rig.scan(10)
    assert rig.monitors["generator"].config == CONFIG


def test_a_stuck_bus_costs_one_time_out_a_scan(rig, chip):
    chip.i2c_stuck = 1
    for _ in range(8):
        began_us = chip.clock.us
        rig.board.read(rig.values)
        assert chip.clock.us - began_us <= 2000 + 500
        chip.clock.advance_ms(100)


def test_with_no_device_at_all_a_scan_and_a_slack_step_stay_short(rig, chip):
    for device in rig.monitors.values():
        device.silent = True
    rig.scan(2 * TURN)
    began_us = chip.clock.us
    rig.board.read(rig.values)
    assert chip.clock.us - began_us < 100  # none is tried in the scan any more
    assert [rig.values[place] for place in MONITORED] == [NOTHING] * len(MONITORED)


def test_only_one_lost_device_is_looked_for_in_a_scan_period(rig, chip):
    for device in rig.monitors.values():
        device.silent = True
    rig.scan(2 * TURN)
    tried = []
    for _ in range(5):
        began_us = chip.clock.us
        rig.board.read(rig.values)
        rig.work(50)
        tried.append(chip.clock.us - began_us)
        chip.clock.advance_ms(100)
    assert max(tried) <= 60  # one refusal


@pytest.mark.parametrize("clocks", [1, 5, 9])
def test_a_bus_that_a_device_holds_low_is_clocked_free(rig, chip, clocks):
    held = HeldLine(gpio("i2c_sda"), gpio("i2c_scl"), clocks)
    opened = chip.i2c_opened
    rig.monitors["pump"].set(640)
    rig.scan(6)
    assert chip.i2c_stuck == 0
    assert held.stops == 1
    assert chip.i2c_opened > opened
    assert rig.scan()[PUMP_MA] == 100


def test_a_bus_that_stays_low_is_reported_and_tried_again_without_end(rig, chip):
    HeldLine(gpio("i2c_sda"), gpio("i2c_scl"), 1000)
    rig.scan(30)
    assert [rig.values[place] for place in MONITORED] == [NOTHING] * len(MONITORED)
    chip.i2c_stuck = 0
    rig.scan(20)
    assert rig.values[PUMP_MA] == 0


def test_a_monitor_that_is_not_fitted_is_never_addressed(chip):
    rig = Rig([("lamp_shunt_uohm", 0)])
    rig.scan(20)
    assert rig.monitors["lamp"].reads == rig.monitors["lamp"].writes == 0
    assert rig.board.faults == 0


def test_the_largest_readings_stay_within_31_bits(chip):
    device = MonitorRegisters()
    device.set(0x7FF0, 0x7FF0)
    rig = Rig([("panel_shunt_uohm", SmallInt(500))])
    chip.i2c_devices[64] = device
    rig.scan(5)
    # 81.88 mV over 0.5 mohm
    assert rig.values[PANEL_MA] == pytest.approx(163760, abs=1)
