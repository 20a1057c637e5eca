# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""The table of pins: fit for each board, and the same for the files that cannot read it."""

import boot
import main
import pytest
from machine import Pin

from keeper.boards import check, start
from keeper.boards.base import Board
from keeper.boards.kinds import KINDS, OTHER, PICO, PICO2, PICO2_W, RESERVED, kind_of
from keeper.boards.pins import P_GPIO, P_KIND, P_NAME, P_PULL, PINS, gpio, outputs
from tests.drivers import fake
from tests.drivers.bench import Rig, wiring_with

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


@pytest.mark.parametrize("kind", [*KINDS, OTHER], ids=lambda kind: "/".join(kind.builds))
def test_the_table_of_pins_fits_each_board(kind):
    assert check.problems(PINS, RESERVED) == []
    assert start.WATCHDOG_ms < kind.watchdog_most_ms


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
    assert complaint in "; ".join(check.problems(moved(changes), RESERVED))


def test_two_pulse_outputs_of_one_slice_are_found():
    twin = [*PINS, ("second", 26, "pwm", "none", "")]
    assert "share a slice" in "; ".join(check.problems(twin, RESERVED))


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
        Board(PICO, wiring_with(), chip.clock)


def test_the_loader_looks_at_the_buttons_pin():
    assert main.BUTTON_GPIO == gpio("button")
    row = [row for row in PINS if row[P_NAME] == "button"][0]
    assert row[P_PULL] == "up"


@pytest.mark.parametrize(
    ("build", "kind"),
    [("RPI_PICO", PICO), ("RPI_PICO2", PICO2), ("RPI_PICO2_W", PICO2_W), ("SOMETHING_NEW", OTHER)],
)
def test_the_board_is_known_by_the_name_of_its_build(build, kind):
    assert kind_of(build) is kind
