"""Arguments outside the range that a docstring states are refused, by name, value and range."""

import math

import pytest

from keeper.physics import panel, pump, tanks
from keeper.physics.checks import (
    number_text,
    require,
    require_rising,
    require_within,
)
from tests.physics.inventory import bounded_arguments, call, valid_args

BOUNDED = list(bounded_arguments())
IDS = [f"{target}-{argument.name}" for target, _, argument in BOUNDED]
# Where another argument sets a further bound, the documented end may be refused.
PLAIN = [case for case in BOUNDED if not case[2].qualified]
PLAIN_IDS = [f"{target}-{argument.name}" for target, _, argument in PLAIN]


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


@pytest.mark.parametrize(("target", "position", "argument"), PLAIN, ids=PLAIN_IDS)
def test_the_ends_of_the_documented_range_are_accepted(target, position, argument):
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


def test_a_nameplate_that_is_too_good_to_be_true_is_refused_by_its_power_point():
    plate = {"open_V": 22.0, "short_A": 2.9, "short_coefficient_K": 5e-4}
    plate["open_coefficient_K"] = -3.2e-3
    with pytest.raises(ValueError, match=r"^power_V = 20 V: must be 0\.1 to 19\.\d+ V$"):
        panel.fit_nameplate(power_V=20.0, power_A=2.7, **plate)
    with pytest.raises(ValueError, match=r"^power_A = 2\.88 A: must be 0\.001 to 2\.\d+ A$"):
        panel.fit_nameplate(power_V=17.0, power_A=2.88, **plate)


def test_three_flows_that_do_not_differ_make_no_head_curve():
    with pytest.raises(ValueError, match="must hold three flows that differ"):
        pump.fit_head_curve((0.0, 1e-4, 1e-4), (17.0, 15.0, 15.0))
    with pytest.raises(ValueError, match="must fall ever faster with flow"):
        pump.fit_head_curve((0.0, 1e-4, 2e-4), (17.0, 12.0, 11.0))
    with pytest.raises(ValueError, match="must have 3 points or more"):
        pump.fit_head_curve((0.0, 1e-4), (17.0, 15.0))


def test_a_tank_table_must_start_empty_and_match():
    with pytest.raises(ValueError, match=r"^volumes_m3\[0\] = 0\.1 m3: must be 0 to 0 m3$"):
        tanks.LevelTable((0.0, 1.0), (0.1, 1.0))
    with pytest.raises(ValueError, match="must have the same number of rows"):
        tanks.LevelTable((0.0, 0.5, 1.0), (0.0, 1.0))
