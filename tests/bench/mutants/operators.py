"""Which small mistakes are made: operators of the library cosmic-ray, and a few beside them.

The library's own are taken where they stand for a mistake that a person makes: a sign, a
limit off by one, `and` for `or`. Ours follow its interface and stand for what it lacks: a
guard or a step left out, a condition dropped, two arguments exchanged, a constant mistaken
for its neighbour. An operator may say that a node is not its business by giving no position.
"""

from collections.abc import Iterator
from typing import Any

from cosmic_ray.operators.operator import Example, Operator
from cosmic_ray.operators.provider import OperatorProvider
from parso.python import tree

from tests.bench.mutants import reading

# By name in the library: the nearest slip of each sign. Others, such as `<` for `==`, are
# noticed by whatever runs the line and would only make the bench look good.
BINARY = (("Add", "Sub"), ("Sub", "Add"), ("Div", "Mul"), ("FloorDiv", "Mul"),
          ("Mod", "FloorDiv"), ("LShift", "RShift"), ("RShift", "LShift"), ("BitAnd", "BitOr"),
          ("BitOr", "BitAnd"), ("BitXor", "BitOr"), ("Pow", "Mul"))
COMPARED = (("Lt", "LtE"), ("Lt", "GtE"), ("LtE", "Lt"), ("LtE", "Gt"), ("Gt", "GtE"),
            ("Gt", "LtE"), ("GtE", "Gt"), ("GtE", "Lt"), ("Eq", "NotEq"), ("NotEq", "Eq"),
            ("Is", "IsNot"), ("IsNot", "Is"))
WORDS = ("ReplaceTrueWithFalse", "ReplaceFalseWithTrue", "ReplaceAndWithOr", "ReplaceOrWithAnd",
         "ReplaceBreakWithContinue", "ReplaceContinueWithBreak", "ExceptionReplacer",
         "ZeroIterationForLoop", "ReplaceUnaryOperator_Delete_Not",
         "ReplaceUnaryOperator_Delete_USub")
# Numbers up to here are counts, places and bits: one off is the mistake. Larger ones are
# durations and factors, of which one off is often no change at all.
COUNT_MOST = 10
EXCHANGED = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil",
             "ceil": "floor"}
AUGMENTED = {"+=": ("-=", "="), "-=": ("+=", "="), "*=": ("=",), "//=": ("=",),
             "|=": ("&=", "="), "&=": ("|=", "="), ">>=": ("<<=",), "<<=": (">>=",)}
SENSES = {"<": ">", ">": "<"}


class Single(Operator):
    """An operator of ours: a subclass says by `changes` what a node's code may become."""

    EXAMPLES: tuple[tuple[str, str], ...] = ()

    def changes(self, node) -> Iterator[str]:
        """Yields each code [str] that may stand for the node, without what precedes it."""
        raise NotImplementedError

    def mutation_positions(self, node):
        """Yields the node's place once for each change."""
        for _ in self.changes(node):
            yield node.start_pos, node.end_pos

    def mutate(self, node, index):
        """Returns a leaf with the changed code in place of the node."""
        code = list(self.changes(node))[index]
        return tree.Name(code, node.start_pos, prefix=node.get_first_leaf().prefix)

    @classmethod
    def examples(cls):
        """Returns the examples as the library wants them."""
        return tuple(Example(before, after) for before, after in cls.EXAMPLES)


class NumberOff(Single):
    """A count is one off; a larger number or a fraction is a quarter off."""

    EXAMPLES = (("x = 1", "x = 2"), ("x = 600", "x = 750"), ("x = 0.5", "x = 0.625"))

    def changes(self, node):
        if node.type != "number" or node.value[-1] in "jJ":
            return
        value = reading.worth(node.value)
        if isinstance(value, float):
            yield from (repr(value * 1.25), repr(value * 0.8)) if value else ("1.0",)
        elif value <= COUNT_MOST:
            yield str(value + 1)
            if value:
                yield str(value - 1)
        else:
            yield from (str(value * 5 // 4), str(value * 4 // 5))


class OperandDropped(Single):
    """One operand of `and` or `or` is forgotten."""

    EXAMPLES = (("x = a and b", "x = b"),)

    def changes(self, node):
        if node.type in ("and_test", "or_test"):
            for at in range(0, len(node.children), 2):
                left = node.children[:at] + node.children[at + 2:]
                left = left if at < len(node.children) - 1 else node.children[:at - 1]
                yield "".join(child.get_code() for child in left).strip()


class ConditionFixed(Single):
    """A guard is left out, or its condition: what depends on it never or always happens."""

    EXAMPLES = (("if a:\n    b()\n", "if False:\n    b()\n"),)

    def changes(self, node):
        parent = node.parent
        if parent is None:
            return
        at = parent.children.index(node)
        is_condition = parent.type == "if_stmt" and parent.children[at - 1] in ("if", "elif")
        is_ternary = parent.type == "test" and at == 2
        if (is_condition or is_ternary) and at:
            yield from ("False", "True")


class StatementDropped(Single):
    """A step is forgotten: a call, a value that is set, a return, a raise."""

    EXAMPLES = (("def f(self):\n    self.a = 0\n    return 1\n",
                 "def f(self):\n    pass\n    return 1\n"),)

    def changes(self, node):
        parent = node.parent
        if parent is None or parent.type != "simple_stmt" or not reading.has_function(node):
            return
        if node.type in ("atom_expr", "raise_stmt") or self._sets(node) or self._returns(node):
            yield "pass"

    def _sets(self, node) -> bool:
        if node.type != "expr_stmt":
            return False
        target, sign = node.children[0], node.children[1]
        if sign.type == "annassign":
            return False
        if sign.value != "=":
            return True
        # A name that nothing else binds would only be missed as a name.
        if target.type == "atom_expr":
            return node.search_ancestor(*reading.FUNCTIONS).name.value != "__init__"
        return reading.is_bound_before(node, target)

    def _returns(self, node) -> bool:
        """True for a return that is not the last word of its function."""
        if node.type not in ("return_stmt", "keyword") or not node.get_code().lstrip().startswith(
                "return"):
            return False
        return node.parent.parent.parent.type not in reading.FUNCTIONS


class LoopGoesOn(Single):
    """`continue` stands where a loop was to be left by return."""

    EXAMPLES = (("def f():\n    for a in b:\n        return 1\n",
                 "def f():\n    for a in b:\n        continue\n"),)

    def changes(self, node):
        is_return = node.type == "return_stmt" or (node.type == "keyword"
                                                   and node.value == "return"
                                                   and node.parent.type == "simple_stmt")
        if is_return and reading.is_in_loop(node):
            yield "continue"


class OppositeCalled(Single):
    """`max` for `min`, `all` for `any`."""

    EXAMPLES = (("x = min(a, b)", "x = max(a, b)"),)

    def changes(self, node):
        if node.type == "name" and node.value in EXCHANGED:
            yield EXCHANGED[node.value]


class SumSpoiled(Single):
    """`-=` or `=` for `+=`."""

    EXAMPLES = (("x += 1", "x -= 1"),)

    def changes(self, node):
        if node.type == "operator" and node.parent.type == "expr_stmt":
            yield from AUGMENTED.get(node.value, ())


class MembershipNegated(Single):
    """`in` for `not in`, and the other way round."""

    EXAMPLES = (("x = a in b", "x = a not in b"),)

    def changes(self, node):
        if node.parent is None or node.parent.type != "comparison":
            return
        if node.type == "comp_op" and node.get_code().split() == ["not", "in"]:
            yield "in"
        elif node.type == "keyword" and node.value == "in":
            yield "not in"


class NeighboursExchanged(Single):
    """Two names, or two texts, that follow each other in a call or a row change places."""

    EXAMPLES = (("f(a, b)", "f(b, a)"),)

    def changes(self, node):
        if node.type not in ("arglist", "testlist_comp") or reading.is_unordered(node):
            return
        children = node.children
        for at in range(0, len(children) - 2, 2):
            first, second = children[at], children[at + 2]
            if (first.type == second.type and first.type in ("name", "string")
                    and first.value != second.value and children[at + 1] == ","):
                order = [*children]
                order[at], order[at + 2] = second, first
                texts = [one.get_code() for one in order]
                texts[at] = first.prefix + second.value
                texts[at + 2] = second.prefix + first.value
                yield "".join(texts).strip()


class ConstantMistaken(Single):
    """A constant is mistaken for the next one of those that are defined or used beside it."""

    EXAMPLES = (("A, B = 1, 2\nx = A\n", "A, B = 1, 2\nx = B\n"),
                ("x = ch.A + ch.B\n", "x = ch.B + ch.B\n"))

    def __init__(self):
        self.of = None
        self.next: dict[str, str] = {}

    def changes(self, node):
        if node.type != "name" or not reading.is_constant(node.value) or node.is_definition():
            return
        root = node.get_root_node()
        if root is not self.of:
            self.of, self.next = root, reading.neighbours(root)
        name = reading.dotted(node)
        if name in self.next:
            yield self.next[name].rsplit(".", 1)[-1]


class SenseTurned(Single):
    """A table's sign that stands as a text is turned round."""

    EXAMPLES = (('x = ("a", ">")', 'x = ("a", "<")'),)

    def changes(self, node):
        if node.type == "string" and node.value[1:-1] in SENSES:
            yield f'"{SENSES[node.value[1:-1]]}"'


OURS = (NumberOff, OperandDropped, ConditionFixed, StatementDropped, LoopGoesOn, OppositeCalled,
        SumSpoiled, MembershipNegated, NeighboursExchanged, ConstantMistaken, SenseTurned)


def operators(integers: bool) -> list[Any]:
    """Returns an operator of each kind; `integers`: the code knows no fractions."""
    library: Any = OperatorProvider()
    binary = (*BINARY, ("Mul", "FloorDiv" if integers else "Div"))
    names = [*(f"ReplaceBinaryOperator_{a}_{b}" for a, b in binary),
             *(f"ReplaceComparisonOperator_{a}_{b}" for a, b in COMPARED), *WORDS]
    return [library[name]() for name in names] + [kind() for kind in OURS]
