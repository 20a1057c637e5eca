"""MicroPython computes and refuses as CPython does."""

import math
import struct

import pytest

from tests.micropython.harness import run_micropython
from tests.physics.inventory import bounded_arguments, call, valid_args
from tests.physics.test_ranges import beyond, refusal, with_value
from tests.reference.model import call_text
from tests.reference.physics_table import CHECKS, module_names
from tests.reference.stress import STRESS

# The two interpreters' mathematical libraries differ in the last bits; a root
# or an exponent of 40 makes that a few hundred of them.
AGREEMENT = 1e-11

PRELUDE = """
import binascii, struct
nan = float("nan")
inf = float("inf")

def flat(result):
    if isinstance(result, (tuple, list)):
        numbers = []
        for item in result:
            numbers += flat(item)
        return numbers
    return [result]

def number(item):
    if isinstance(item, (str, bool)):
        return repr(item)
    try:
        return binascii.hexlify(struct.pack("<d", item)).decode()
    except TypeError:
        return "object"

def show(function):
    try:
        print(" ".join(number(item) for item in flat(function())))
    except ValueError as error:
        print("refused", error)
"""


def script(calls):
    """Source that makes the calls and prints a line for each."""
    imports = [f"from keeper.physics import {name}" for name in module_names()]
    shows = [f"show(lambda: {call_text(target, args)})" for target, args in calls]
    return "\n".join([PRELUDE, *imports, *shows, ""])


def numbers(line):
    """The numbers or texts of one printed line."""
    return [item if _is_text(item) else struct.unpack("<d", bytes.fromhex(item))[0]
            for item in line.split(" ")]  # fmt: skip


def _is_text(item):
    return item == "object" or item[0] in "'TF"


def flat(result):
    """Numbers and texts of a result, as the script prints them."""
    if isinstance(result, tuple | list):
        return [item for part in result for item in flat(part)]
    if isinstance(result, str | bool):
        return [repr(result)]
    return [float(result)] if isinstance(result, int | float) else ["object"]


def agree(one, other):
    """True if two lists of results agree."""
    return len(one) == len(other) and all(
        a == b if isinstance(a, str) or isinstance(b, str)
        else math.isclose(a, b, rel_tol=AGREEMENT, abs_tol=1e-30)
        for a, b in zip(one, other, strict=True)
    )  # fmt: skip


def test_every_check_gives_on_micropython_what_it_gives_on_cpython():
    calls = [(check.target, check.args) for check in CHECKS + STRESS]
    lines = run_micropython(script(calls), timeout_s=120).lines
    assert len(lines) == len(calls)
    differing = [
        f"{call_text(*made)}: {line}"
        for made, line in zip(calls, lines, strict=True)
        if not agree(numbers(line), flat(call(*made)))
    ]
    assert differing == []


def test_every_refusal_reads_the_same_on_micropython():
    calls = [
        (target, with_value(target, position, value))
        for target, position, argument in bounded_arguments()
        for value in (*beyond(argument.bounds), math.nan)
    ]
    lines = run_micropython(script(calls), timeout_s=120).lines
    expected = ["refused " + refusal(target, args) for target, args in calls]
    assert lines == expected


@pytest.mark.parametrize("target", ["tanks.LevelTable", "pump.fit_head_curve"])
def test_a_call_with_a_table_can_be_written_as_source(target):
    args = valid_args(target)
    assert args is not None
    assert call_text(target, args).startswith(target + "((0")
