"""The pins of every variant of the board, and the table that the firmware has of them."""

import pytest

from forebay.docs.sheets import pins, worst
from forebay.hardware.netlist import quantity
from keeper.boards import pins as table
from tests.hardware.tables import PARTS, PINS

ROWS = PINS["pin"]
NAMED = {row["name"]: row for row in ROWS}
DRIVING = [row for row in ROWS if row["kind"] in ("out", "pwm")]


def test_every_pin_is_one_that_every_variant_brings_out_and_none_is_given_twice():
    # Pico, Pico 2 and Pico 2 W data sheets: GP0-22 and GP26-28 on the header;
    # 23, 24, 25 and 29 belong to the radio of the wireless one.
    header = {*range(23), 26, 27, 28}
    used = [row["gpio"] for row in ROWS]
    free = [row["gpio"] for row in PINS["free"]]

    assert set(used) <= header
    assert sorted(used + free) == sorted({*header, 23, 24, 25, 29})
    assert len(NAMED) == len(ROWS)


def test_each_function_is_on_a_pin_that_has_it():
    # RP2040 data sheet, table of GPIO functions: UART0 on 0/1, 12/13, 16/17, 28/29;
    # I2C0 data on multiples of four, clock next to it; the ADC on 26 to 29.
    assert NAMED["uart_tx"]["gpio"] in (0, 12, 16, 28)
    assert NAMED["uart_rx"]["gpio"] in (1, 13, 17, 29)
    assert NAMED["i2c_sda"]["gpio"] % 4 == 0
    assert NAMED["i2c_scl"]["gpio"] % 4 == 1
    assert [row["gpio"] for row in ROWS if row["kind"] == "adc"] == [26, 27, 28]


def test_no_other_pwm_shares_the_valves_slice():
    # RP2040 data sheet, PWM: GP0/GP1 are slice 0, ... GP14/15 slice 7, GP16/17 slice 0 again.
    assert [pins.pwm_slice(gpio, 8) for gpio in (0, 1, 10, 15, 16, 26)] == [0, 0, 5, 7, 0, 5]
    valve = pins.pwm_slice(NAMED["valve_pwm"]["gpio"], 8)
    others = [row for row in ROWS if row["kind"] == "pwm" and row["name"] != "valve_pwm"]

    assert valve not in [pins.pwm_slice(row["gpio"], 8) for row in others]
    assert valve not in PINS["chip"]["pwm_slices_soft_reset_stops"]


def test_what_drives_something_is_known():
    assert {row["name"] for row in DRIVING} == {
        "uart_de", "valve_pwm", "valve_open", "valve_close", "pump_switch", "lamps_off",
        "dump_switch",
    }


@pytest.mark.parametrize("row", DRIVING, ids=lambda row: row["name"])
def test_every_output_has_its_own_pull_down_and_rests_low(row):
    assert pins.beside(row["gpio"]).startswith("10 kohm to 0 V")
    assert row["rest"].startswith("low")
    assert row["reset"].startswith("low by its resistor")
    assert row["pull"] == "none"


def test_of_every_kind_of_pin_it_is_said_what_it_does_in_reset_at_rest_and_in_a_stall():
    assert {row["kind"] for row in ROWS} == set(PINS["stall"])
    assert all(row["rest"] and row["reset"] for row in ROWS)


def test_contacts_go_to_ground_against_a_pull_up():
    contacts = [row for row in ROWS if row["kind"] == "in"]

    assert len(contacts) == 7
    assert {row["pull"] for row in contacts} == {"up"}
    for row in contacts:
        assert "(4.7 kohm to 3.3 V); 100 nF to 0 V" in pins.beside(row["gpio"])


def test_a_floating_gate_stays_below_every_threshold():
    # Even if a pin were left with the chip's pull-up on: 10 kohm against 50 kohm.
    gate_V = 3.3 * 10 / (10 + 50)
    thresholds = [part["gate_threshold_V"] for part in PARTS["part"] if "gate_threshold_V" in part]

    assert gate_V == pytest.approx(0.55)
    assert len(thresholds) == 6
    assert gate_V < min(*thresholds, worst.LOGIC_LOW_V)


def test_a_leaky_pin_in_reset_cannot_lift_a_gate():
    # 60 uA, the most that a pin sinks or feeds after reset, through 10 kohm.
    assert 60e-6 * quantity("10 kohm") < worst.LOGIC_LOW_V


def test_the_boards_table_is_this_one():
    assert [row[:4] for row in table.PINS] == [
        (row["name"], row["gpio"], row["kind"], row["pull"]) for row in ROWS
    ]


def test_a_pin_is_found_by_its_name_and_a_wrong_name_is_refused():
    assert table.gpio("pump_switch") == NAMED["pump_switch"]["gpio"]
    assert {row[0] for row in table.outputs()} == {row["name"] for row in DRIVING}
    with pytest.raises(KeyError):
        table.gpio("pump")
