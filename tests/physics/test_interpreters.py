"""MicroPython computes and refuses as CPython does."""

import importlib
import math
import struct

import pytest

from tests.micropython.harness import run_micropython
from tests.physics.inventory import bounded_arguments, call, valid_args
from tests.physics.test_ranges import beyond, refusal, with_value
from tests.reference.model import PACKAGE, call_text
from tests.reference.physics_table import CHECKS, module_names
from tests.reference.stress import STRESS

# The two interpreters' mathematical libraries differ in the last bits; a root
# or an exponent of 40 makes that a few hundred of them.
AGREEMENT = 1e-11
# Of the memory that a module takes by itself once it is compiled. Pointers are 32 bits
# wide as on the board; a Pico has 200 kB or so for programs and their data.
MOST_MODULE_BYTES = 24 * 1024

# What others import comes first, so that each module is measured without its neighbours.
IMPORT_ORDER: tuple[str, ...] = tuple(
    (
        "checks solve table water gravity tanks pipes surge suction valve pump motor panel "
        "solar_pump heat turbine generator generation electrical sensors energy of_rig"
    ).split()
)

_RATED = ("solar_pump.SolarPump((29.0, 4.5, 23.8, 4.2, 5e-4, -3.2e-3), 24.0, 18.0, 314.0, "
          "17.0, ")
# Refusals beyond the plain bounds of an argument: tables, pairs, worked-out quantities.
REFUSED = (
    "tanks.LevelTable((0.0,), (0.0,))",
    "tanks.LevelTable((0.0, 0.5, 0.4), (0.0, 0.1, 0.2))",
    "tanks.LevelTable((0.0, 0.5, nan), (0.0, 0.1, 0.2))",
    "tanks.LevelTable((0.0, inf), (0.0, 0.1))",
    "tanks.LevelTable((0.0, 5e-324), (0.0, 0.1))",
    "tanks.LevelTable((0.0, 0.5), (0.0, 1e-12))",
    "tanks.LevelTable((0.0, 0.5), (0.1, 0.2))",
    "tanks.LevelTable((0.0, 0.5), (0.0, 0.1, 0.2))",
    "tanks.Rectangular(1.0, 1.0, 1.0).centroid_m(1.1)",
    "tanks.Rectangular(1.0, 1.0, 1.0).slab(0.6, 0.5)",
    "tanks.HorizontalCylinder(1.0, 1.0).centroid_m(1.1)",
    "energy.energy_between_J(tanks.Rectangular(1.0, 1.0, 1.0), 0.0, 2.0, 0.0, 1000.0, 9.8)",
    "table.interpolate(3.0, (1.0, 2.0), (1.0, 2.0))",
    "table.interpolate(1.5, (1.0, 2.0), (1.0,))",
    "valve.measured_frac(0.5, (0.0, 1.0), (0.0, 1.2))",
    "valve.measured_frac(0.5, (0.0, 1.0), (nan, 1.0))",
    "pump.fit_head_curve((0.0, 1e-4), (17.0, 15.0))",
    "pump.fit_head_curve((0.0, 1e-4, 1e-4), (17.0, 15.0, 15.0))",
    "pump.fit_head_curve((0.0, -1e-4, 2e-4), (17.0, 15.0, 11.0))",
    "pump.fit_head_curve((0.0, 1e-4, 2e-4), (17.0, nan, 11.0))",
    "pump.fit_head_curve((0.0, 1e-4, 2e-4), (17.0, 12.0, 11.0))",
    "pump.fit_best_point((1e-4,), (0.3,))",
    "pump.fit_best_point((1e-4, 1e-4), (0.3, 0.3))",
    "pump.fit_best_point((1e-4, 2e-4), (0.3, 1.3))",
    "pump.fit_best_point((1e-4, 2e-4), (0.1, 0.3))",
    "panel.fit_nameplate(22.0, 2.9, 20.0, 2.7, 5e-4, -3.2e-3)",
    "panel.fit_nameplate(22.0, 2.9, 17.0, 2.88, 5e-4, -3.2e-3)",
    "sensors.steinhart_hart_fit(((0, 27326), (25, 10000)))",
    "sensors.steinhart_hart_fit(((0, 27326), (25, 10000), (50, 10000)))",
    "sensors.steinhart_hart_fit(((0, 27326), (25, 10000), (50, -1)))",
    "sensors.steinhart_hart_fit(((0, 27326), (25, 10000), (900, 4158)))",
    "sensors.steinhart_hart_ohm(25.0, -0.01, 1e-6, 0.0)",
    "sensors.steinhart_hart_degC(10000.0, -0.01, 1e-6, 0.0)",
    "sensors.beta_degC(0.1, 1e7, 1000.0)",
    "turbine.largest_power_nozzle_m(0.025, 0.1, 0.005)",
    "suction.air_lock_head_m(((1.0, nan),))",
    "energy.chain_efficiency_frac((0.5, 1.5))",
    "panel.Panel((22.0, 2.9, 20.0, 2.7, 5e-4, -3.2e-3))",
    _RATED + "17.0, 5e-5, 0.4, 3.0, 0.1, None, 9789.0)",
    _RATED + "11.0, 5e-5, 0.4, 40.0, 0.1, None, 9789.0)",
    _RATED + "11.0, 5e-5, 0.4, 3.0, 0.8, None, 9789.0)",
)

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


def test_a_refusal_of_a_table_or_a_worked_out_quantity_reads_the_same_on_micropython():
    imports = [f"from keeper.physics import {name}" for name in module_names()]
    shows = [f"show(lambda: {call})" for call in REFUSED]
    lines = run_micropython("\n".join([PRELUDE, *imports, *shows, ""])).lines
    assert lines == ["refused " + desktop_refusal(call) for call in REFUSED]


def desktop_refusal(call):
    """Text of the refusal of a call that is given as source."""
    names = {name: importlib.import_module(f"{PACKAGE}.{name}") for name in module_names()}
    with pytest.raises(ValueError, match=r".") as caught:
        eval(call, names | {"nan": math.nan, "inf": math.inf})
    return str(caught.value)


def test_every_module_fits_the_boards_memory_by_itself():
    steps = ["import gc", "gc.collect()", "before = gc.mem_alloc()"]
    for name in sorted(module_names(), key=lambda module: IMPORT_ORDER.index(module)):
        steps += [f"import keeper.physics.{name}", "gc.collect()", "now = gc.mem_alloc()"]
        steps += ["print(now - before)", "before = now"]
    sizes = [int(line) for line in run_micropython("\n".join([*steps, ""])).lines]
    assert len(sizes) == len(module_names())
    assert 0 < min(sizes) < max(sizes) <= MOST_MODULE_BYTES


@pytest.mark.parametrize("target", ["tanks.LevelTable", "pump.fit_head_curve"])
def test_a_call_with_a_table_can_be_written_as_source(target):
    args = valid_args(target)
    assert args is not None
    assert call_text(target, args).startswith(target + "((0")
