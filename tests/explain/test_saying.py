"""A value is written in the unit that suits its size, with the digits that it deserves."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.explain.saying import LADDERS, OTHERS, digits, said

# The factors of the SI prefixes and of the hour, by hand.
WRITTEN = (
    (0.910, "volume", "910 L"), (0.0, "volume", "0 L"), (25.0, "volume", "25 m\u00b3"),
    (0.06, "length", "60 mm"), (11.229, "length", "11.2 m"), (0.9996, "length", "1 m"),
    (0.3, "power", "0.3 W"), (0.08, "power", "80 mW"), (1500.0, "power", "1.5 kW"),
    (27414.6, "time", "7.6 h"), (84.7, "time", "1.4 min"), (432000.0, "time", "120 h"),
    (84714.4, "energy", "84.7 kJ"), (999.7, "energy", "1 kJ"), (0.980665e12, "energy", "0.981 TJ"),
    (0.980665e12, "energy in hours", "0.272 GWh"), (84714.4, "energy in hours", "23.5 Wh"),
    (25906.7, "energy by volume", "25.9 J/L"), (999.5, "mass", "1000 kg"),
    (0.0605, "ratio", "6 %"), (9.805, "count", "9.8"), (41.13, "count", "41"),
    (54.0, "temperature", "54 \u00b0C"), (-5.0, "temperature", "-5 \u00b0C"),
    (4.64384e-5, "flow", "2.79 L/min"),
)


@pytest.mark.parametrize(("value", "dimension", "text"), WRITTEN)
def test_a_value_is_written_as_people_write_it(value, dimension, text):
    assert said(value, dimension) == text.replace(" ", "\N{NO-BREAK SPACE}")


@given(st.floats(1e-6, 1e15), st.sampled_from(sorted({*LADDERS, *OTHERS})))
def test_no_value_is_written_with_an_exponent(value, dimension):
    assert "e" not in said(value, dimension).split("\N{NO-BREAK SPACE}")[0]


@given(st.floats(1e-6, 1e9))
def test_three_digits_are_right_to_half_of_the_last(value):
    assert abs(float(digits(value)) / value - 1.0) <= 0.5e-2
