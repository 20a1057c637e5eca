"""Quantities as people read them: the unit by size, the digits, the spread, and back again."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay import units
from forebay.showing import METRIC, SYSTEMS, US, in_unit, shown, unit_of

CASES = [(system, kind) for system in SYSTEMS.values() for kind in sorted(units.DIMENSIONS)]
SIZES = st.builds(lambda sign, exponent: sign * 10.0**exponent,
                  st.sampled_from([-1, 1]), st.floats(-9, 9))
NAMED = pytest.mark.parametrize(
    ("system", "kind"), CASES, ids=[f"{system.name}-{kind}" for system, kind in CASES])


@NAMED
def test_every_unit_that_is_shown_is_one_that_can_be_read(system, kind):
    for unit in system.shown.get(kind, ()):
        assert unit in units.DIMENSIONS[kind].units


@pytest.mark.parametrize("system", SYSTEMS.values(), ids=list(SYSTEMS))
def test_a_system_names_no_dimension_that_is_not_there(system):
    assert set(system.shown) <= set(units.DIMENSIONS)


@NAMED
def test_units_of_a_dimension_stand_small_before_large(system, kind):
    factors = [units.DIMENSIONS[kind].units[unit] for unit in system.shown.get(kind, ())]
    assert factors == sorted(factors)


@NAMED
@settings(max_examples=20)
@given(value=SIZES | st.just(0.0), digits=st.integers(1, 6))
def test_what_is_shown_reads_back_within_its_digits(system, kind, value, digits):
    text = shown(value, kind, system, digits)
    unit = unit_of(value, kind, system, digits)
    read = in_unit(units.parse(text, kind), kind, unit)
    wanted = in_unit(value, kind, unit)
    last = 10.0 ** (math.floor(math.log10(abs(wanted))) - digits + 1) if wanted else 0.0
    assert abs(read - wanted) <= 0.5 * last * (1 + 1e-6)


@NAMED
@settings(max_examples=20)
@given(value=SIZES, share=st.floats(1e-3, 10))
def test_a_spread_stands_in_the_unit_of_its_value_and_neither_loses_what_matters(
        system, kind, value, share):
    zeros = [abs(float(zero)) for zero in units.DIMENSIONS[kind].zeros.values()]
    spread = max(abs(value), *zeros, 0.0) * share
    text = shown(value, kind, system, spread=spread)
    number, rest = text.split(" +- ")
    width, _, unit = rest.partition(" ")
    # Half of the last place: three digits of the value, but not beyond two of the spread.
    factor = float(units.DIMENSIONS[kind].units[unit]) if unit else 1.0
    wanted, wide = in_unit(value, kind, unit), spread / factor
    allowed = max(0.005 * abs(wanted), 0.05 * wide) * (1 + 1e-6)
    assert abs(float(number) - wanted) <= allowed
    assert abs(float(width) - wide) <= allowed
    assert float(width) > 0


@NAMED
@settings(max_examples=20)
@given(value=st.floats(-1e12, 1e12), share=st.floats(0, 10))
def test_what_is_shown_is_one_short_piece_of_ascii(system, kind, value, share):
    text = shown(value, kind, system, spread=abs(value) * share)
    assert text.isascii()
    assert text.isprintable()
    assert len(text) <= 40


@pytest.mark.parametrize(
    ("value", "kind", "metric", "us"),
    [
        # By hand from the definitions: 25.4 mm, 231 in3, 0.45359237 kg, 1609.344 m.
        (0.0021, "length", "2.1 mm", "0.0827 in"),
        (9.2, "length", "9.2 m", "30.2 ft"),
        (0.0254, "length", "25.4 mm", "1 in"),
        (1.0, "volume", "1000 L", "264 US gal"),
        (6.30902e-5, "flow", "3.79 L/min", "1 US gal/min"),
        (20.0, "time", "20 s", "20 s"),
        (720.0, "time", "12 min", "12 min"),
        (27000.0, "time", "7.5 h", "7.5 h"),
        (-40.0, "temperature", "-40 degC", "-40 degF"),
        (5.0, "temperature difference", "5 K", "9 degF"),
        (6894.757, "pressure", "6.89 kPa", "1 psi"),
        (1.2e5, "pressure", "1.2 bar", "17.4 psi"),
        (957.605, "load by area", "0.958 kN/m2", "20 psf"),
        (0.45359237, "mass", "454 g", "1 lb"),
        (998.0, "mass", "998 kg", "2200 lb"),
        (17.8816, "speed", "17.9 m/s", "58.7 ft/s"),
        (0.092903, "area", "929 cm2", "1 ft2"),
        (2.5e-6, "cross-section", "2.5 mm2", "2.5 mm2"),
        (7200.0, "energy", "2 Wh", "2 Wh"),
        (0.3, "power", "300 mW", "300 mW"),
        (0.31, "ratio", "31 %", "31 %"),
    ],
)
def test_a_value_is_shown_in_the_unit_that_suits_its_size(value, kind, metric, us):
    assert (shown(value, kind), shown(value, kind, US)) == (metric, us)


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (None, 3, "-"), (math.nan, 3, "-"), (math.inf, 3, "inf"), (-math.inf, 3, "-inf"),
        (0.0, 3, "0 m"), (-9.2, 3, "-9.2 m"), (0.9996, 3, "1 m"), (999.96, 3, "1 km"),
        (2.5, 1, "2 m"), (3.5, 1, "4 m"), (0.0125, 2, "12 mm"), (1e-9, 3, "1e-6 mm"),
        (1e12, 3, "1e+9 km"),
    ],
)
def test_nothing_and_the_ends_are_shown_and_a_half_goes_to_the_even_digit(value, digits, text):
    assert shown(value, "length", METRIC, digits) == text


@pytest.mark.parametrize(
    ("value", "kind", "system", "digits", "spread", "text"),
    [
        (12345.0, "time", METRIC, 2, 1800.0, "3.4 +- 0.5 h"),
        (0.9, "volume", METRIC, 3, 0.0123, "900 +- 12 L"),
        (0.5, "ratio", METRIC, 3, 0.02, "50.0 +- 2.0 %"),
        (72.0, "time", METRIC, 3, 1800.0, "1 +- 30 min"),
        (0.0, "length", METRIC, 3, 0.003, "0 +- 3.0 mm"),
        # A spread is a difference: 0.5 K are 0.9 degF, whatever the zero.
        (20.0, "temperature", US, 3, 0.5, "68.0 +- 0.9 degF"),
        (1.0, "length", METRIC, 3, 0.001, "1.000 +- 0.001 m"),
        (1.0, "length", METRIC, 3, 0.0, "1 m"),
        (1.0, "length", METRIC, 3, math.nan, "1 m"),
    ],
)
def test_a_spread_takes_the_unit_and_the_last_place_of_its_value(
        value, kind, system, digits, spread, text):
    assert shown(value, kind, system, digits, spread) == text


def test_the_unit_of_an_axis_is_asked_with_its_largest_value():
    unit = unit_of(27000.0, "time")
    assert (unit, in_unit(720.0, "time", unit)) == ("h", 0.2)
    assert unit_of(0.3, "ratio") == "%"
    assert in_unit(0.3, "ratio", "") == 0.3
    assert in_unit(math.inf, "length", "ft") == math.inf
