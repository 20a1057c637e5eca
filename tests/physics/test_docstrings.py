"""Every public function says its equation, units, range, source, and an example that runs."""

import doctest
import importlib

import pytest

from forebay.docs.docstring import DocstringError, parse
from tests.physics.inventory import TARGETS, docstring, parameter_names
from tests.reference.model import PACKAGE
from tests.reference.physics_table import module_names


@pytest.mark.parametrize("target", TARGETS)
def test_a_docstring_names_exactly_the_arguments_of_its_function(target):
    documented = [argument.name for argument in docstring(target).arguments]
    assert documented == parameter_names(target)


@pytest.mark.parametrize("target", TARGETS)
def test_every_argument_and_result_has_its_unit_in_brackets(target):
    parsed = docstring(target)
    assert [a.name for a in parsed.arguments if not a.units] == []
    assert parsed.return_units != []


@pytest.mark.parametrize("target", TARGETS)
def test_a_docstring_has_equation_source_and_example(target):
    parsed = docstring(target)
    assert parsed.equation
    assert parsed.source
    assert ">>>" in parsed.example


@pytest.mark.parametrize("target", TARGETS)
def test_a_function_with_bounds_says_that_it_raises(target):
    parsed = docstring(target)
    bounded = [a.name for a in parsed.arguments if a.bounds]
    assert not bounded or parsed.raises.startswith("ValueError: ")


@pytest.mark.parametrize("name", module_names())
def test_the_examples_in_docstrings_are_true(name):
    module = importlib.import_module(f"{PACKAGE}.{name}")
    outcome = doctest.testmod(module)
    assert outcome.attempted > 0
    assert outcome.failed == 0


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("Line.\n\ny = x\n\nArgs:\n    x: a [-]\nReturns:\n    y [-]\nSource: s", "Example"),
        ("Line.\n\nArgs:\n    x: a [-]", "equation"),
        ("Line.\n\ny\n\nReturns:\n    y\nArgs:\n    x: a [-]\nSource: s\nExample:", "order"),
        ("Line.\n\ny\n\nArgs:\n    x\nReturns:\n    y\nSource: s\nExample:\n", "colon"),
    ],
)
def test_a_docstring_out_of_form_is_refused(text, complaint):
    with pytest.raises(DocstringError, match=complaint):
        parse(text)


def test_units_and_bounds_are_read_from_an_argument():
    text = "Line.\n\ny = x\n\nArgs:\n    x: a [m], 1e-3 to 10\n"
    text += "    y: b, at\n        most x [s], 0 to 5\n"
    first, second = parse(text + "Returns:\n    y [-]\nSource: s\nExample:\n    >>> 1").arguments
    assert (first.units, first.bounds, first.qualified) == (["m"], (1e-3, 10.0), False)
    assert (second.units, second.bounds, second.qualified) == (["s"], (0.0, 5.0), True)
