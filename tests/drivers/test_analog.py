"""Analogue inputs: a level sensor, a thermistor, their broken wires."""

import math

import pytest

from keeper.channels import INVALID, OPEN, SHORT
from keeper.drivers.analog import FULL, AnalogInput, LinearSensor, steps
from keeper.drivers.thermistor import Thermistor
from keeper.physics.sensors import steinhart_hart_fit, steinhart_hart_ohm
from tests.keeper.small_int import SmallInt

LEVEL, VALVE = 26, 27


def level_sensor(rail_mV=3300):
    """0.5 to 4.5 V halved, over 2000 mm."""
    return LinearSensor(
        AnalogInput(LEVEL),
        steps(150, rail_mV),
        steps(2400, rail_mV),
        steps(250, rail_mV),
        steps(2000, rail_mV),
        0,
        2000,
    )


# By hand: 1 mV is 1 mm above 250 mV.
@pytest.mark.parametrize(("millivolts", "level_mm"), [(250, 0), (750, 500), (2250, 2000)])
def test_a_level_sensor_reads_in_a_straight_line(chip, millivolts, level_mm):
    chip.analog[LEVEL] = steps(millivolts, 3300)
    assert level_sensor().read() == pytest.approx(level_mm, abs=1)


# NAMUR NE 43 (from memory): a transmitter of 4 to 20 mA says "fault" below 3.6 mA
# and above 21 mA. Over 100 ohm: 360 mV and 2100 mV, live zero 400 mV, span 1600 mV.
@pytest.mark.parametrize(
    ("current_uA", "expected"),
    [(0, INVALID + OPEN), (3500, INVALID + OPEN), (4000, 0), (12000, 2500), (20000, 5000),
     (21500, INVALID + SHORT)],
)  # fmt: skip
def test_a_transmitter_of_4_to_20_mA_is_read_and_its_fault_bands_are_seen(
    chip, current_uA, expected
):
    sensor = LinearSensor(
        AnalogInput(LEVEL), steps(360, 3300), steps(2100, 3300), steps(400, 3300),
        steps(1600, 3300), 0, 5000,
    )  # fmt: skip
    chip.analog[LEVEL] = steps(current_uA // 10, 3300)
    assert sensor.read() == pytest.approx(expected, abs=2)


def test_an_open_and_a_shorted_wire_of_the_level_sensor_have_their_reasons(chip):
    chip.analog[LEVEL] = 0
    assert level_sensor().read() == INVALID + OPEN
    chip.analog[LEVEL] = FULL
    assert level_sensor().read() == INVALID + SHORT


def test_the_largest_span_stays_within_31_bits(chip):
    for reading in (0, FULL):
        chip.analog[LEVEL] = SmallInt(reading)
        for zero in (0, FULL):
            sensor = LinearSensor(
                AnalogInput(LEVEL), 0, FULL, SmallInt(zero), FULL, SmallInt(0), SmallInt(16000)
            )
            assert abs(sensor.read()) <= 16000


def test_a_sensor_that_falls_with_what_it_measures_is_read_too(chip):
    sensor = LinearSensor(AnalogInput(VALVE), 0, FULL, 60000, -50000, 0, 1000)
    chip.analog[VALVE] = 35000
    assert sensor.read() == 500


def test_eight_readings_are_averaged(chip):
    readings = iter([100, 300] * 4)
    source = AnalogInput(LEVEL)
    source.adc.read_u16 = lambda: next(readings)
    assert source.read() == 200


def divider(ohm, pull_ohm=10000):
    """The reading [16 bits] with a resistance to ground."""
    return round(FULL * ohm / (ohm + pull_ohm))


# A widely printed table of a 10 kohm NTC of Beta(25/85) 3977 K, three points of it
# from memory: 0 degC 32.65 kohm, 25 degC 10 kohm, 85 degC 1.070 kohm. The curve
# through them by Steinhart and Hart is not the Beta equation that the driver uses.
POINTS = ((0.0, 32650.0), (25.0, 10000.0), (85.0, 1070.0))


@pytest.mark.parametrize("degC", [0, 10, 25, 40, 55, 70, 85])
def test_a_thermistor_reads_within_its_tables_and_its_equations_error(chip, degC):
    """Beta alone is within 1 K of the real curve over this range (common practice)."""
    coefficients = steinhart_hart_fit(POINTS)
    chip.analog[VALVE] = divider(steinhart_hart_ohm(degC, *coefficients))
    thermistor = Thermistor(AnalogInput(VALVE), 10000, 3977, 10000)
    assert thermistor.read() == pytest.approx(degC * 1000, abs=1000)


@pytest.mark.parametrize("pull_ohm", [5000, 10000, 20000])
def test_the_table_of_a_thermistor_is_close_to_its_equation(chip, pull_ohm):
    # R = R25 exp(B (1/T - 1/298.15)): the two-point thermistor equation.
    thermistor = Thermistor(AnalogInput(VALVE), 10000, 3950, pull_ohm)
    worst = 0
    for tenths in range(-200, 901, 7):
        kelvin = tenths / 10 + 273.15
        chip.analog[VALVE] = divider(
            10000 * math.exp(3950 * (1 / kelvin - 1 / 298.15)), pull_ohm
        )
        worst = max(worst, abs(thermistor.read() - tenths * 100))
    assert worst <= 250


def test_an_open_and_a_shorted_thermistor_have_their_reasons(chip):
    thermistor = Thermistor(AnalogInput(VALVE), 10000, 3950, 10000)
    chip.analog[VALVE] = FULL
    assert thermistor.read() == INVALID + OPEN
    chip.analog[VALVE] = 0
    assert thermistor.read() == INVALID + SHORT


def test_the_rail_drops_out_of_a_thermistors_reading():
    """The reading is a share of the rail, so nothing in the driver knows the rail."""
    assert "rail" not in Thermistor.__init__.__code__.co_varnames
