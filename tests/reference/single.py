"""keeper.physics with every operation rounded to single precision, as on the board.

A Single is a float that rounds the result of each operation; inside
`single_precision()` the physics modules' `math` rounds too. The rounding of a
double result is not always that of a true single operation (it is for + - x /
and sqrt), which matters less than one unit in the last place.
"""

import contextlib
import importlib
import math
import struct
import types

from tests.reference.model import PACKAGE, Check, build, find
from tests.reference.physics_table import CHECKS, module_names

ZERO_DEGC_K = 273.15
EPSILON = 2.0**-23  # distance from 1 to the next single


def rounded(x: float) -> float:
    """Nearest single-precision value; infinite where a single overflows."""
    try:
        return struct.unpack("<f", struct.pack("<f", x))[0]
    except OverflowError:
        return math.copysign(math.inf, x)


class Single(float):
    """A float whose arithmetic is single precision."""

    def __new__(cls, x):
        return super().__new__(cls, rounded(float(x)))

    __hash__ = float.__hash__

    def __repr__(self):
        return float.__repr__(self)

    def __neg__(self):
        return Single(-float(self))

    def __abs__(self):
        return Single(abs(float(self)))

    def __pow__(self, other, modulus=None):
        return Single(float(self) ** rounded(float(other)))

    def __rpow__(self, other, modulus=None):
        return Single(rounded(float(other)) ** float(self))


def _add_operator(name: str) -> None:
    double = getattr(float, name)

    def single(self, other):
        if not isinstance(other, int | float):
            return NotImplemented
        return Single(double(float(self), rounded(float(other))))

    setattr(Single, name, single)


for _name in ("add", "sub", "mul", "truediv", "floordiv", "mod"):
    _add_operator(f"__{_name}__")
    _add_operator(f"__r{_name}__")


def _single_math() -> types.SimpleNamespace:
    def wrap(function):
        def single(*args):
            result = function(*(rounded(float(arg)) for arg in args))
            return Single(result) if isinstance(result, float) else result

        return single

    named = {name: value for name, value in vars(math).items() if not name.startswith("_")}
    return types.SimpleNamespace(
        **{
            name: wrap(value) if callable(value) else Single(value)
            for name, value in named.items()
        }
    )


@contextlib.contextmanager
def single_precision():
    """Within it, the physics modules compute in single precision when given Singles."""
    modules = [importlib.import_module(f"{PACKAGE}.{name}") for name in module_names()]
    users = [module for module in modules if "math" in vars(module)]
    imitation = _single_math()
    for module in users:
        vars(module)["math"] = imitation
    try:
        yield
    finally:
        for module in users:
            vars(module)["math"] = math


def _number(x):
    return Single(x)


def errors(check: Check) -> list[float]:
    """Relative errors of single precision in every number of a check's result.

    The double-precision result of the same, already rounded, arguments is the
    truth: what the rounding of an input does to a result is not the function's
    doing. Where the truth is 0, the error is infinite unless the result is 0 too.
    """
    function = find(check.target)
    true = function(*(build(arg, lambda x: rounded(float(x))) for arg in check.args))
    with single_precision():
        found = function(*(build(arg, _number) for arg in check.args))
    if check.item is not None and isinstance(check.item, str):
        true, found = getattr(true, check.item), getattr(found, check.item)
    # A temperature is as good as its kelvin: near 0 degC a ratio means nothing.
    zero = ZERO_DEGC_K if check.target.endswith("_degC") else 0.0
    pairs = zip(_flat(found), _flat(true), strict=True)
    return [_relative(one + zero, other + zero) for one, other in pairs]


def _flat(result):
    if isinstance(result, tuple | list):
        return [number for item in result for number in _flat(item)]
    return [] if isinstance(result, str | bool) else [float(result)]


def _relative(found: float, true: float) -> float:
    if found == true:
        return 0.0
    return abs(found - true) / abs(true) if true else math.inf


def worst_errors(checks: tuple[Check, ...]) -> dict[str, float]:
    """Worst relative error of each target over the checks."""
    worst: dict[str, float] = {}
    for check in checks:
        for error in errors(check):
            worst[check.target] = max(worst.get(check.target, 0.0), error)
    return worst


__all__ = ["CHECKS", "EPSILON", "Single", "errors", "rounded", "single_precision", "worst_errors"]
