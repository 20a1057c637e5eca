"""Arguments outside the range that a docstring states are refused, by name, value and range."""

import math

import pytest

from keeper.physics.checks import (
    number_text,
    require,
    require_rising,
    require_within,
)
from tests.physics.inventory import bounded_arguments, call, valid_args

BOUNDED = list(bounded_arguments())
IDS = [f"{target}-{argument.name}" for target, _, argument in BOUNDED]


def with_value(target, position, value):
    """The arguments of a valid call with one of them replaced."""
    args = list(valid_args(target) or ())
    args[position : position + 1] = [value]
    return tuple(args)


def beyond(bounds):
    """A value below and one above the bounds, by a hundredth."""
    low, high = bounds
    span = high - low
    step_down = 0.01 * (abs(low) if low else span)
    step_up = 0.01 * (abs(high) if high else span)
    return low - step_down, high + step_up


def refusal(target, args):
    """Text of the ValueError that a call raises, empty if it raises none."""
    try:
        call(target, args)
    except ValueError as error:
        return str(error)
    return ""


@pytest.mark.parametrize(("target", "position", "argument"), BOUNDED, ids=IDS)
def test_a_value_outside_the_documented_range_is_refused_by_name(target, position, argument):
    low, high = argument.bounds
    for value in (*beyond(argument.bounds), math.nan):
        message = refusal(target, with_value(target, position, value))
        assert message.startswith(f"{argument.name} = {number_text(value)}")
        if not argument.qualified:
            assert f": must be {number_text(low)} to {number_text(high)}" in message


@pytest.mark.parametrize(("target", "position", "argument"), BOUNDED, ids=IDS)
def test_the_ends_of_the_documented_range_are_accepted(target, position, argument):
    if argument.qualified:
        pytest.skip("a further bound depends on another argument")
    for value in argument.bounds:
        message = refusal(target, with_value(target, position, value))
        assert not message.startswith(argument.name + " = ")


def test_a_refusal_names_argument_value_unit_and_range():
    with pytest.raises(ValueError, match=r"^head_m = 1200\.5 m: must be 0 to 1000 m$"):
        require("head_m", 1200.5, 0, 1000, "m")
    with pytest.raises(ValueError, match=r"^share = -0\.1: must be 0 to 1$"):
        require("share", -0.1, 0, 1, "")
    with pytest.raises(ValueError, match=r"^x = nan: must be 0 to 1$"):
        require("x", math.nan, 0, 1, "")


def test_rounding_is_forgiven_at_the_ends_of_a_tank_and_no_more():
    require_within("level_m", 1.0 + 9e-7, 1.0, "m")
    require_within("level_m", -9e-7, 1.0, "m")
    for value in (1.0 + 2e-6, -2e-6):
        with pytest.raises(ValueError, match="level_m = "):
            require_within("level_m", value, 1.0, "m")


def test_a_column_that_does_not_rise_is_refused_with_its_row():
    require_rising("levels_m", (0.0, 0.5, 0.6), "m")
    with pytest.raises(ValueError, match=r"^levels_m\[2\] = 0\.4 m: must be above 0\.5 m$"):
        require_rising("levels_m", (0.0, 0.5, 0.4), "m")
    with pytest.raises(ValueError, match="must have 2 rows or more, has 1"):
        require_rising("levels_m", (0.0,), "m")


@pytest.mark.parametrize(
    "value",
    [0, 1, -1, 12, 0.1, 1.25, -1 / 3, 123456.7, 999999.6, 1e6, 123456789, 1e-4, 9.9e-5, 1e300,
     5e-324, math.inf, -math.inf],
)  # fmt: skip
def test_number_text_reads_as_percent_g_does(value):
    expected = f"{value:g}"
    mantissa, e, exponent = expected.partition("e")
    assert number_text(value) == (f"{mantissa}e{int(exponent)}" if e else expected)
