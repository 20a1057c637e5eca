"""The first file that a board executes: every output off, whatever is wrong."""

import runpy
import sys

import pytest

from keeper.boards.pins import P_GPIO, P_NAME, gpio, outputs
from tests.drivers import fake

BOOT = str(fake.FIRMWARE / "boot.py")


@pytest.fixture
def lit(chip):
    """The chip with every output on, as a soft reset leaves what a program left."""
    pin = fake.module("machine").Pin
    for row in outputs():
        pin(row[P_GPIO], pin.OUT, value=1)
    assert levels(chip) == [1] * len(outputs())
    return chip


def levels(chip):
    return [chip.level(row[P_GPIO]) for row in outputs()]


def test_executing_the_file_switches_every_output_off(lit):
    runpy.run_path(BOOT)
    assert levels(lit) == [0] * len(outputs())


def test_a_pin_that_nobody_has_driven_since_power_came_is_driven_low(chip):
    runpy.run_path(BOOT)
    machine = fake.module("machine")
    assert {chip.lines[row[P_GPIO]].mode for row in outputs()} == {machine.Pin.OUT}
    driven = [line.gpio for line in chip.lines if line.mode == machine.Pin.OUT]
    assert sorted(driven) == sorted(row[P_GPIO] for row in outputs())


def test_the_pump_goes_first(lit, monkeypatch):
    order = []
    real = fake.module("machine").Pin

    class Noted(real):
        def __init__(self, number, *rest, **named):
            order.append(number)
            super().__init__(number, *rest, **named)

    monkeypatch.setattr(fake.module("machine"), "Pin", Noted)
    runpy.run_path(BOOT)
    assert order[0] == gpio("pump_switch")
    assert len(order) == len(outputs())


@pytest.mark.parametrize("name", [row[P_NAME] for row in outputs()])
def test_an_output_that_fails_keeps_no_other_from_being_switched_off(lit, monkeypatch, name):
    real = fake.module("machine").Pin

    class Failing(real):
        def __init__(self, number, *rest, **named):
            if number == gpio(name):
                raise ValueError("no such pin")
            super().__init__(number, *rest, **named)

    monkeypatch.setattr(fake.module("machine"), "Pin", Failing)
    runpy.run_path(BOOT)
    on = [row[P_NAME] for row in outputs() if lit.level(row[P_GPIO])]
    assert on == [name]


def test_nothing_of_it_can_raise_even_where_the_chip_is_not_to_be_had(monkeypatch):
    monkeypatch.setitem(sys.modules, "machine", None)
    runpy.run_path(BOOT)
