"""What runs inside a scan calls nothing that may allocate: judged by the source.

The fake chip cannot show what a call of the real one allocates.  The list says
what may be called, from experiments with the interpreter's release 1.29 under
a locked heap, or from reading its source; everything else is refused.
"""

import ast
import inspect
import textwrap

import pytest

from keeper.boards import base, parts
from keeper.drivers import (
    analog,
    pulse,
    pulses,
    scratch,
    supervised,
    switches,
    thermistor,
    valve,
)
from keeper.instruments import debouncing, monitors, thermometers

# The functions that a scan goes through below `Board.read` and `Board.write`.
SCAN_PATH = {
    base.Board: ("read", "_temperatures", "write"),
    parts.NoPart: ("read", "step"),
    analog.AnalogInput: ("read",),
    analog.LinearSensor: ("read",),
    debouncing.Debounced: ("read",),
    monitors.Monitors: ("read",),
    monitors.Monitor: ("sample", "publish", "_signed", "pass_scan"),
    pulses.PulseMeter: ("read", "_newest"),
    scratch.Word: ("put",),
    supervised.SupervisedLoop: ("read", "_classify"),
    switches.Switch: ("drive",),
    thermistor.Thermistor: ("read",),
    thermometers.Thermometers: ("read", "_age"),
    pulse.Pulse: ("put",),
    valve.NoValve: ("drive", "read", "stands"),
    valve.Servo: ("drive", "read", "stands", "_pulse_ns"),
    valve.MotorValve: ("drive", "read", "stands", "_run"),
    valve.ReversedValve: ("drive", "_run"),
    valve.SpringValve: ("drive",),
}
OWN = {name for names in SCAN_PATH.values() for name in names}
# Run under heap_lock on the real interpreter, without a MemoryError.
SEEN = {"range", "min", "max", "abs", "len", "ticks_ms", "ticks_us", "ticks_diff"}
# Read in the port's source: machine_pin.c, machine_adc.c, machine_pwm.c,
# machine_i2c.c and extmod/machine_i2c.c, rp2_pio.c. Results are small integers
# or go into a buffer of the caller's. A pin that is called reads or sets its level.
READ = {"pin", "value", "read_u16", "duty_ns", "readfrom_mem_into", "rx_fifo", "tx_fifo", "get"}
ALLOWED = OWN | SEEN | READ
# What allocates whatever is called.
FORBIDDEN = (
    ast.ListComp, ast.SetComp, ast.DictComp, ast.GeneratorExp, ast.Lambda, ast.JoinedStr,
    ast.List, ast.Dict, ast.Set, ast.Starred, ast.Slice, ast.Div, ast.Pow, ast.Yield,
    ast.Import, ast.ImportFrom, ast.Raise, ast.Global,
)  # fmt: skip


def tree_of(source: str) -> ast.FunctionDef:
    """Parses one function."""
    found = ast.parse(inspect.cleandoc("\n" + source)).body[0]
    assert isinstance(found, ast.FunctionDef)
    return found


def offences(function: ast.FunctionDef) -> list[str]:
    """Returns what in a function may allocate."""
    found = []
    for node in [node for part in function.body for node in ast.walk(part)]:
        line = getattr(node, "lineno", 0)
        if isinstance(node, FORBIDDEN):
            found.append(f"{function.name}:{line}: {type(node).__name__}")
        elif isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            found.append(f"{function.name}:{line}: definition of {node.name}")
        elif isinstance(node, ast.Tuple) and isinstance(node.ctx, ast.Load):
            found.append(f"{function.name}:{line}: a tuple")
        elif isinstance(node, ast.Call):
            name = getattr(node.func, "attr", None) or getattr(node.func, "id", "?")
            if name not in ALLOWED:
                found.append(f"{function.name}:{line}: calls {name}")
        elif isinstance(node, ast.Constant) and isinstance(node.value, float):
            found.append(f"{function.name}:{line}: a float")
    return found


CASES = [(owner, name) for owner, names in SCAN_PATH.items() for name in names]


@pytest.mark.parametrize(
    ("owner", "name"), CASES, ids=lambda part: getattr(part, "__qualname__", str(part))
)
def test_a_function_of_the_scan_calls_only_what_is_known_not_to_allocate(owner, name):
    assert offences(tree_of(_source(owner, name))) == []


def _source(owner, name):
    return textwrap.dedent(inspect.getsource(getattr(owner, name)))


def test_everything_that_is_called_below_read_and_write_is_on_the_path():
    """A method that a scan reaches and that nobody listed would be missed."""
    called = set()
    for owner, name in CASES:
        for node in ast.walk(tree_of(_source(owner, name))):
            if isinstance(node, ast.Call):
                called.add(getattr(node.func, "attr", None) or getattr(node.func, "id", None))
    owners = [owner for owner in SCAN_PATH if isinstance(owner, type)]
    for owner in owners:
        own = {name for name in vars(owner) if name in called} - READ
        assert own <= set(SCAN_PATH[owner]), owner


@pytest.mark.parametrize(
    ("source", "complaint"),
    [
        ("def f(a):\n    return [a]", "List"),
        ("def f(a):\n    return a, 1", "a tuple"),
        ("def f(a):\n    return a[1:]", "Slice"),
        ("def f(a):\n    return a / 2", "Div"),
        ("def f(a):\n    a.append(1)", "calls append"),
        ("def f(a):\n    return f'{a}'", "JoinedStr"),
        ("def f(a):\n    return a.readfrom_mem(1, 2, 3)", "calls readfrom_mem"),
        ("def f(a):\n    return a * 1.5", "a float"),
        ("def f(a):\n    def g():\n        pass\n    return g", "definition of g"),
        ("def f(a):\n    raise ValueError", "Raise"),
    ],
)
def test_what_allocates_is_found(source, complaint):
    assert any(complaint in line for line in offences(tree_of(source)))
