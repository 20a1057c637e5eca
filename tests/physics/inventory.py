"""What keeper.physics has: docstrings, signatures, one valid call of each function."""

import functools
import inspect

from forebay.docs.docstring import Docstring, parse
from tests.reference.model import Make, build, find
from tests.reference.physics_table import CHECKS, public_targets

TARGETS = public_targets()


@functools.cache
def docstring(target: str) -> Docstring:
    """Parsed docstring of a target."""
    return parse(find(target).__doc__ or "")


def parameter_names(target: str) -> list[str]:
    """Names of the parameters as a caller writes them, without self."""
    names = list(inspect.signature(find(target)).parameters)
    return [name for name in names if name != "self"]


def is_method(target: str) -> bool:
    """True for "module.Class.method"."""
    return target.count(".") == 2


def valid_args(target: str) -> tuple | None:
    """Arguments of a call that works, taken from the checks, or None if there is none."""
    for check in CHECKS:
        if check.target == target:
            return check.args
    for check in CHECKS:
        for made in makes(check.args):
            if made.target == target:
                return made.args
    return None


def makes(args: tuple):
    """Every Make among arguments, and among those of each Make."""
    for arg in args:
        if isinstance(arg, Make):
            yield arg
            yield from makes(arg.args)


def call(target: str, args: tuple):
    """Result of a call with unbuilt arguments."""
    return find(target)(*(build(arg) for arg in args))


def bounded_arguments():
    """(target, position in the call, Argument) of each argument with numeric bounds."""
    for target in TARGETS:
        offset = 1 if is_method(target) else 0
        names = parameter_names(target)
        for argument in docstring(target).arguments:
            if argument.bounds is not None:
                yield target, names.index(argument.name) + offset, argument
