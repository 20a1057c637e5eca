"""Any arguments within their documented ranges give finite numbers, or a refusal that says why."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.physics.inventory import (
    TARGETS,
    call,
    docstring,
    is_method,
    makes,
    parameter_names,
    valid_args,
)
from tests.reference.model import Make

# What never happens takes infinitely long, and says so in the docstring.
MAY_BE_INFINITE = {
    "heat.cold_trip_time_s",
    "heat.hot_trip_time_s",
    "heat.time_to_temperature_s",
}
# Quantities that are worked out from the arguments and have a range of their own.
DERIVED = {
    "1 / T",
    "2 f L / D",
    "T25 / B ln(R / R25)",
    "jet_m_s",  # of a flow through the nozzle
    "ln R",
    "temperature",
}


def bounds_by_position(target):
    """Position in the call -> documented bounds, of the arguments that have them."""
    offset = 1 if is_method(target) else 0
    names = parameter_names(target)
    return {
        names.index(argument.name) + offset: argument.bounds
        for argument in docstring(target).arguments
        if argument.bounds is not None
    }


def legal(target, args):
    """Strategy for a call's arguments: every number with bounds is drawn anew, in objects too."""
    bounds = bounds_by_position(target)
    return st.tuples(
        *(_legal_argument(arg, bounds.get(position)) for position, arg in enumerate(args))
    )


def _legal_argument(arg, bounds):
    if bounds is not None:
        return st.sampled_from(bounds) | st.floats(*bounds)
    if isinstance(arg, Make):
        return legal(arg.target, arg.args).map(lambda args: Make(arg.target, args))
    return st.just(arg)


def numbers(result):
    """All numbers of a result."""
    if isinstance(result, tuple | list):
        return [number for part in result for number in numbers(part)]
    return [result] if isinstance(result, int | float) else []


def is_drawn(target):
    """True if a call of the target takes a number with bounds, in an object or by itself."""
    args = valid_args(target) or ()
    return any(bounds_by_position(name) for name in (target, *(m.target for m in makes(args))))


def outcome(target, args):
    """Text of the refusal, empty if there is none, and the result."""
    try:
        return "", call(target, args)
    except ValueError as error:
        return str(error), None


DRAWN = [target for target in TARGETS if valid_args(target) and is_drawn(target)]


@pytest.mark.parametrize("target", DRAWN)
@settings(max_examples=40)
@given(data=st.data())
def test_legal_arguments_give_finite_numbers_or_a_refusal_by_name(target, data):
    args = data.draw(legal(target, valid_args(target)))
    refusal, result = outcome(target, args)
    if refusal:
        names = {name for made in makes(args) for name in parameter_names(made.target)}
        assert refusal.split(" = ")[0] in names | set(parameter_names(target)) | DERIVED
    elif target in MAY_BE_INFINITE:
        assert not any(math.isnan(x) for x in numbers(result))
    else:
        assert all(math.isfinite(x) for x in numbers(result))
