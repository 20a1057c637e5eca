"""What the names at the top of the modules are worth, found by running them once.

Runs every statement in a namespace of its own, with the few modules of the
standard library whose results are the same on a board, and with nothing at
all in place of the rest: what depends on that has no value here.
"""

import array
import ast
import binascii
import math
import struct
import types
from typing import Any

from forebay.flash.artefact.errors import BuildError
from forebay.flash.artefact.modules import External, Global, Namespace, Tree

SAME_ON_A_BOARD = {"array": array, "binascii": binascii, "math": math, "struct": struct}
PLAIN = (int, float, str, bytes, bool, type(None))


class Nothing:
    """Stands for what is only on a board: every use of it gives the same again."""

    def __getattr__(self, name):
        if name.startswith("__"):
            raise AttributeError(name)
        return self

    def __call__(self, *_, **__):
        return self


NOTHING = Nothing()


class Values:
    """The namespaces of all modules after they ran."""

    def __init__(self, tree: Tree):
        self.tree = tree
        self.spaces: dict[str, dict[str, Any]] = {}
        for module in tree.modules.values():
            self._run(module)

    def _run(self, module):
        space = self.spaces[module.name] = {"__name__": module.name}
        for statement in module.tree.body:
            if isinstance(statement, ast.Import | ast.ImportFrom):
                for name, meaning in self.tree.bound_by(module, statement).items():
                    space[name] = self._value(meaning)
            else:
                code = compile(ast.Module([statement], []), str(module.path), "exec")
                try:
                    exec(code, space)
                except Exception as error:  # noqa: BLE001 - whatever it is, it is the sources'
                    raise BuildError(f"{module.where(statement)}: {error}") from error

    def _value(self, meaning):
        if isinstance(meaning, External):
            whole: Any = SAME_ON_A_BOARD.get(meaning.module, NOTHING)
            return getattr(whole, meaning.name) if meaning.name else whole
        if isinstance(meaning, Namespace):
            return types.SimpleNamespace(**self.spaces[meaning.module])
        return self.spaces[meaning.module].get(meaning.name, NOTHING)

    def of(self, name: Global) -> Any:
        """Return the value of a name, NOTHING if it has none here."""
        return self.spaces[name.module].get(name.name, NOTHING)


def is_literal(value: Any) -> bool:
    """Return whether a value can be written down as it is, and never changes."""
    if type(value) is tuple:
        return all(map(is_literal, value))
    return type(value) in PLAIN


def written(value: Any) -> str:
    """Return a literal as source; a negative number in brackets, to stand anywhere."""
    if type(value) is tuple:
        inner = ", ".join(map(written, value))
        return f"({inner},)" if len(value) == 1 else f"({inner})"
    text = repr(value)
    return f"({text})" if text.startswith("-") else text
