"""Makes the mutants of a source file: what an operator may change, and a seeded sample of it.

Only behaviour is changed. Left alone are annotations, decorators, assertions, imports, what
stands in for a missing import, the words of an error or of a message, `if __name__`.
"""

import dataclasses
import hashlib

from tests.bench.mutants import operators, reading

# Words on their way to a person.
MESSAGES = ("print", "tell", "say", "_say")
NOT_BEHAVIOUR = ("assert_stmt", "decorator", "decorators", "import_from", "import_name",
                 "global_stmt")


@dataclasses.dataclass(frozen=True)
class Mutant:
    """One changed place of one file.

    before, after: the whole lines that change, without their indentation; number: tells
    changes of the same text in one function apart; start, end: offsets of `code` in the
    source [characters]; in_function: it runs only when a function is called.
    """

    file: str
    within: str
    line: int
    before: str
    after: str
    operator: str
    start: int
    end: int
    code: str
    in_function: bool
    number: int = 0

    @property
    def name(self) -> str:
        """What stays the same while the source changes elsewhere."""
        return "\x1f".join((self.file, self.within, self.before, self.after, str(self.number)))

    def applied(self, source: str) -> str:
        """Returns the source with the mistake in it."""
        return source[: self.start] + self.code + source[self.end :]

    def diff(self) -> str:
        """Returns the change as lines of a unified diff, its place first."""
        head = f"{self.file}:{self.line} in {self.within or 'the module'} ({self.operator})"
        lines = [f"-{line}" for line in self.before.split("\n")]
        return "\n".join([head, *lines, *(f"+{line}" for line in self.after.split("\n"))])


def mutants_of(file: str, source: str) -> list[Mutant]:
    """Returns all mutants of a source, in the order of its lines."""
    root = reading.parsed(source)
    starts = line_starts(source)
    kinds = operators.operators(integers=file.startswith("firmware/"))
    found: dict[tuple[int, int, str], Mutant] = {}
    for node in nodes(root):
        if not is_behaviour(node):
            continue
        if node.type == "except_clause" and "." in node.get_code():
            continue  # cosmic-ray knows plain names there, no dotted ones
        for kind in kinds:
            for index, _ in enumerate(list(kind.mutation_positions(node))):
                start, end, code = changed(kind, node, index, starts)
                if code != source[start:end]:
                    mutant = described(file, source, node, kind, (start, end, code))
                    found.setdefault((start, end, code), mutant)
    numbered, seen = [], {}
    for mutant in sorted(found.values(), key=lambda one: (one.start, one.end, one.code)):
        seen[mutant.name] = number = seen.get(mutant.name, -1) + 1
        numbered.append(dataclasses.replace(mutant, number=number))
    return numbered


def sample(mutants: list[Mutant], source: str, count: int, seed: int) -> list[Mutant]:
    """Returns `count` of a source's mutants that can be compiled, or all.

    The same ones are drawn as long as their lines stand, whatever changes beside them.
    """
    def lot(mutant: Mutant) -> bytes:
        return hashlib.sha256(f"{seed}\x1f{mutant.name}".encode()).digest()

    drawn: list[Mutant] = []
    for mutant in sorted(mutants, key=lot):
        if len(drawn) < count and compiles(mutant.applied(source)):
            drawn.append(mutant)
    return sorted(drawn, key=lambda one: one.start)


def shares(sizes: list[int], count: int) -> list[int]:
    """Returns how many of `count` each file gives: in proportion to what it has, at least 1."""
    total = sum(sizes)
    if total <= count:
        return sizes
    exact = [size * count / total for size in sizes]
    given = [min(size, max(1, int(share))) for size, share in zip(sizes, exact, strict=True)]
    by_rest = sorted(range(len(sizes)), key=lambda at: given[at] - exact[at])
    for at in by_rest * 2:
        if sum(given) < count and given[at] < sizes[at]:
            given[at] += 1
    return given


def nodes(node):
    """Yields a node and all below it."""
    yield node
    for child in getattr(node, "children", ()):
        yield from nodes(child)


def is_behaviour(node) -> bool:
    """True if a change of the node changes what the program does, and not what it says."""
    inner = node
    while (parent := inner.parent) is not None:
        if parent.type in NOT_BEHAVIOUR or inner.type in NOT_BEHAVIOUR:
            return False
        if parent.type == "raise_stmt" or is_message(parent):
            return False
        if is_annotation(inner, parent) or is_guarded(parent):
            return False
        inner = parent
    return not is_message(node)


def is_message(node) -> bool:
    """True for a call that only speaks to a person."""
    return (node.type == "atom_expr" and node.children[0].type == "name"
            and node.children[0].value in MESSAGES)


def is_annotation(inner, parent) -> bool:
    """True if `inner` is what a parameter, a variable or a function is annotated with."""
    if parent.type == "annassign":
        return inner is parent.children[1]
    if parent.type == "tfpdef":
        return inner is parent.children[-1]
    return parent.type == "funcdef" and inner is parent.annotation


def is_guarded(node) -> bool:
    """True for `if __name__ == ...` and for a try that stands in for a missing import."""
    if node.type == "if_stmt":
        return node.children[1].get_code().strip().startswith("__name__")
    return node.type == "try_stmt" and any(
        child.type == "except_clause" and "ImportError" in child.get_code()
        for child in node.children)


def changed(kind, node, index: int, starts: list[int]) -> tuple[int, int, str]:
    """Returns start, end and new code of what an operator makes of a node; the tree stays."""
    leaves = [(leaf, leaf.value) for leaf in nodes(node) if not hasattr(leaf, "children")]
    children = list(node.children) if hasattr(node, "children") else None
    prefix = node.get_first_leaf().prefix
    start, end = (starts[line - 1] + column for line, column in (node.start_pos, node.end_pos))
    made = kind.mutate(node, index)
    code = made.get_code()
    code = code.removeprefix(prefix) if prefix else code.lstrip()
    for leaf, value in leaves:
        leaf.value = value
    if children is not None:
        node.children = children
    return start, end, code


def described(file: str, source: str, node, kind, change: tuple[int, int, str]) -> Mutant:
    """Returns the mutant of a change, with the lines that it is known by."""
    start, end, code = change
    first = source.rfind("\n", 0, start) + 1
    last = source.find("\n", end)
    last = len(source) if last < 0 else last
    before, after = source[first:last], source[first:start] + code + source[end:last]
    old, new = before.split("\n"), after.split("\n")
    skipped = 0
    while len(old) > 1 and len(new) > 1 and old[0] == new[0]:
        old, new, skipped = old[1:], new[1:], skipped + 1
    while len(old) > 1 and len(new) > 1 and old[-1] == new[-1]:
        old, new = old[:-1], new[:-1]
    return Mutant(
        file, within(node), source.count("\n", 0, first) + 1 + skipped,
        "\n".join(line.strip() for line in old), "\n".join(line.strip() for line in new),
        type(kind).__name__, start, end, code, is_in_function(node))


def within(node) -> str:
    """Returns the dotted name of the classes and functions round a node, '' at the top."""
    names = []
    while (node := node.search_ancestor("funcdef", "classdef")) is not None:
        names.append(node.name.value)
    return ".".join(reversed(names))


def is_in_function(node) -> bool:
    """True for what runs only when a function is called, not when its module is read."""
    around = node.search_ancestor("funcdef", "classdef")
    return around is not None and around.type == "funcdef"


def line_starts(source: str) -> list[int]:
    """Returns the offset of each line."""
    starts = [0]
    for line in source.split("\n"):
        starts.append(starts[-1] + len(line) + 1)
    return starts


def compiles(source: str) -> bool:
    """True if Python reads the source."""
    try:
        compile(source, "mutant", "exec", dont_inherit=True)
    except SyntaxError:
        return False
    return True
