"""What an expression is worth, if that is known before the program runs."""

import ast
import operator
from collections.abc import Iterable
from typing import Any

from forebay.flash.artefact.modules import External, Global, Meaning, Module, Namespace, Tree
from forebay.flash.artefact.scopes import Scope, bound_in
from forebay.flash.artefact.values import NOTHING, SAME_ON_A_BOARD, Values, is_literal

# Strings up to this length are names to the interpreter, one for all; a longer one would be
# another object wherever it is written (py/mpconfig.h: MICROPY_ALLOC_PARSE_INTERN_STRING_LEN).
NAME_BYTES_MOST = 10
SAFE_BUILTINS = frozenset(("len", "range", "min", "max", "abs", "int", "str", "sum", "enumerate",
                           "isinstance", "tuple", "list", "ValueError", "set", "sorted"))
OPERATORS: dict[type, Any] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul,
    ast.FloorDiv: operator.floordiv, ast.Mod: operator.mod, ast.LShift: operator.lshift,
    ast.RShift: operator.rshift, ast.BitOr: operator.or_, ast.BitAnd: operator.and_,
    ast.BitXor: operator.xor, ast.Pow: operator.pow, ast.Div: operator.truediv,
    ast.USub: operator.neg, ast.Invert: operator.invert, ast.Not: operator.not_,
}
UNKNOWN = NOTHING


class Folding:
    """Values of expressions in one tree; UNKNOWN where there is none."""

    def __init__(self, tree: Tree, values: Values, effective: Iterable[Global] = ()):
        """effective: functions whose calls stay, though they seem to do nothing."""
        self.tree = tree
        self.values = values
        self._pure: dict[Global, bool] = dict.fromkeys(effective, False)

    def meaning(self, module: Module, node: ast.expr, scopes: tuple[Scope, ...]) -> Meaning | None:
        """Return what a name, or a name in a module, means beyond its function; None: nothing."""
        if isinstance(node, ast.Name):
            if any(node.id in scope for scope in scopes) or node.id not in module.names:
                return None
            return self.tree.meaning(module.names[node.id])
        if isinstance(node, ast.Attribute):
            owner = self.meaning(module, node.value, scopes)
            if isinstance(owner, Namespace):
                inside = self.tree.modules[owner.module].names.get(node.attr)
                if inside is not None:
                    return self.tree.meaning(inside)
                name = f"{owner.module}.{node.attr}"
                return Namespace(name) if name in self.tree.modules else None
        return None

    def value(self, module: Module, node: ast.expr, scopes: tuple[Scope, ...]) -> Any:
        """Return the value of an expression, a literal one, or UNKNOWN."""
        found = self._value(module, node, scopes)
        return found if found is not UNKNOWN and is_literal(found) else UNKNOWN

    def _value(self, module, node, scopes):
        if isinstance(node, ast.Constant):
            return node.value
        meaning = self.meaning(module, node, scopes)
        if isinstance(meaning, Global):
            return self.values.of(meaning)
        parts = {ast.UnaryOp: ("operand",), ast.BinOp: ("left", "right"),
                 ast.Subscript: ("value", "slice")}.get(type(node))
        if parts:
            inner = [self.value(module, getattr(node, part), scopes) for part in parts]
            if any(found is UNKNOWN for found in inner):
                return UNKNOWN
            work = operator.getitem if isinstance(node, ast.Subscript) else OPERATORS.get(
                type(node.op))
            return _tried(work, inner)
        if isinstance(node, ast.Call) and not node.keywords:
            return self._called(module, node, scopes)
        return UNKNOWN

    def _called(self, module, node, scopes):
        """Return what a call gives whose function does nothing else and whose arguments are known.
        """
        inner = [self.value(module, part, scopes) for part in node.args]
        if any(found is UNKNOWN for found in inner):
            return UNKNOWN
        meaning = self.meaning(module, node.func, scopes)
        if isinstance(meaning, Global) and self.is_pure(meaning):
            return _tried(self.values.of(meaning), inner)
        is_len = isinstance(node.func, ast.Name) and node.func.id == "len"
        if is_len and meaning is None and not any("len" in scope for scope in scopes):
            return _tried(len, inner)
        return UNKNOWN

    def is_pure(self, function: Global) -> bool:
        """Return whether a function only computes, from its arguments and constants."""
        if function not in self._pure:
            self._pure[function] = False  # while it is looked at: recursion is not followed
            node = self.tree.modules[function.module].definitions.get(function.name)
            self._pure[function] = (isinstance(node, ast.FunctionDef)
                                    and not node.decorator_list and self._only_computes(
                                        self.tree.modules[function.module], node))
        return self._pure[function]

    def _only_computes(self, module, function):
        scopes = (bound_in(function),)
        return all(self._is_harmless(module, node, scopes)
                   for statement in function.body for node in ast.walk(statement))

    def _is_harmless(self, module, node, scopes):
        if isinstance(node, ast.Global | ast.Nonlocal | ast.Yield | ast.YieldFrom | ast.Import
                      | ast.ImportFrom | ast.FunctionDef | ast.Lambda | ast.Await):
            return False
        if isinstance(node, ast.Attribute):
            meaning = self.meaning(module, node.value, scopes)
            if isinstance(meaning, External):
                return meaning.module in SAME_ON_A_BOARD
            if isinstance(meaning, Global):
                return is_literal(self.values.of(meaning))  # what never changes has no other
            return isinstance(meaning, Namespace) or (
                isinstance(node.ctx, ast.Load) and node.attr == "append")
        if isinstance(node, ast.Name) and not any(node.id in scope for scope in scopes):
            meaning = self.meaning(module, node, scopes)
            if isinstance(meaning, Global):
                return is_literal(self.values.of(meaning)) or self.is_pure(meaning)
            if isinstance(meaning, External):
                return meaning.module in SAME_ON_A_BOARD
            return isinstance(meaning, Namespace) or node.id in SAFE_BUILTINS
        return True


def may_stand_anywhere(value: Any) -> bool:
    """Return whether a value may be written wherever it is used, at no cost in memory."""
    if isinstance(value, str):
        return len(value) <= NAME_BYTES_MOST
    return value is None or isinstance(value, int)


def _tried(work, inner):
    try:
        return work(*inner)
    except Exception:  # noqa: BLE001 - whatever it raises it will raise on the board, in its time
        return UNKNOWN
