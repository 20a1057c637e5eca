"""Quantities as people write them, against exact definitions of the units."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay import units

KINDS = sorted(units.DIMENSIONS)
CASES = [(kind, unit) for kind in KINDS for unit in units.DIMENSIONS[kind].units]


@pytest.mark.parametrize(("kind", "unit"), CASES)
@settings(max_examples=10)     # a unit is a factor and an offset, which two values fix
@given(value=st.decimals(-1000, 1000, places=3))
def test_a_value_shown_in_any_unit_reads_back_as_itself(kind, unit, value):
    stated = units.parse(f"{value} {unit}", kind)
    assert units.convert(stated, kind, unit) == pytest.approx(float(value), rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        # Exact: the inch is 25.4 mm, the US gallon 231 in3 (NIST SP 811, appendix B, from memory).
        ("3/4 in", "length", 0.01905),
        ("1 1/2 in", "length", 0.0381),
        ("1 US gal", "volume", 3.785411784e-3),
        ("32 degF", "temperature", 0.0),
        ("212 degF", "temperature", 100.0),
        ("273.15 K", "temperature", 0.0),
        ("9 degF", "temperature difference", 5.0),
        ("55 mL/s", "flow", 55e-6),
        ("1.5 L/min", "flow", 25e-6),
        ("-0.30 %/K", "relative change", -0.003),
        ("50 %", "ratio", 0.5),
        ("1 \N{MICRO SIGN}m", "length", 1e-6),
        ("2.5 m\N{SUPERSCRIPT THREE}/h", "flow", 2.5 / 3600),
        ("-12 \N{DEGREE SIGN}C", "temperature", -12.0),
    ],
)
def test_text_reads_as_the_defined_value(text, kind, expected):
    assert units.parse(text, kind) == pytest.approx(expected, rel=1e-15, abs=1e-14)


def test_a_speed_of_one_turn_a_second_is_two_pi():
    assert units.parse("60 rpm", "rotational speed") == pytest.approx(2 * math.pi, rel=1e-15)


def test_a_flow_coefficient_in_us_units_agrees_with_iec_60534_1():
    # IEC 60534-1 prints Kv = 0.865 Cv (from memory).
    assert units.parse("1 Cv", "flow coefficient") == pytest.approx(0.865, abs=5e-4)


@pytest.mark.parametrize("text", ["", "m", "1 / 0", "1 / 0 m", "nan m", "inf m", "1e999 m",
                                  "--1 m", "1 m 2", "9" * 80 + " m",
                                  "\N{ARABIC-INDIC DIGIT THREE} m",
                                  "\N{FULLWIDTH DIGIT ONE} m"])
def test_what_is_no_length_is_refused_with_the_units_that_fit_or_an_example(text):
    with pytest.raises(units.UnitError) as caught:
        units.parse(text, "length")
    assert "m" in caught.value.reason


@pytest.mark.parametrize("text", ["0.3W", "0.3 W", "0.3", "300 mW", " .3 ", "3/10"])
def test_a_number_without_a_unit_is_in_the_si_unit(text):
    assert units.parse(text, "power") == 0.3


def test_a_wrong_unit_is_answered_by_those_that_fit():
    with pytest.raises(units.UnitError) as caught:
        units.parse("4 m", "time")
    assert caught.value.reason == "m does not fit a time; use s, ms, min or h"


@pytest.mark.parametrize("text", ["1,1 m", "1,100 m", ",5 m", "1 , 1 m", "1,1"])
def test_a_comma_in_a_number_is_answered_by_the_decimal_point(text):
    with pytest.raises(units.UnitError, match="use a decimal point"):
        units.parse(text, "length")


@given(st.text(max_size=70))
def test_any_text_gives_a_finite_value_or_a_unit_error(text):
    for kind in ("length", "temperature", "ratio"):
        try:
            value = units.parse(text, kind)
        except units.UnitError:
            continue
        assert math.isfinite(value)
