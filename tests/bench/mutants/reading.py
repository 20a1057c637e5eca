"""What the operators ask of a syntax tree: where a node stands, and what its names are."""

from collections.abc import Iterator

import parso
from parso.python import tree

FUNCTIONS = ("funcdef", "lambdef")
# What is handed to these has no order.
UNORDERED = ("mask", "min", "max", "isinstance")


def worth(text: str) -> int | float:
    """Returns what a literal is worth."""
    text = text.replace("_", "")
    try:
        return int(text, 0)
    except ValueError:
        return float(text)


def has_function(node) -> bool:
    """True if a node lies in a function."""
    return node.search_ancestor(*FUNCTIONS) is not None


def is_bound_before(node, target) -> bool:
    """True if a plain name is given a value earlier in the same function as well."""
    if target.type != "name":
        return False
    scope = node.search_ancestor(*FUNCTIONS)
    return any(name.is_definition() and name.start_pos < target.start_pos
               for name in names_of(scope, target.value))


def names_of(node, word: str) -> Iterator[tree.Name]:
    """Yields the leaves below a node that are one name."""
    if node.type == "name" and node.value == word:
        yield node
    for child in getattr(node, "children", ()):
        yield from names_of(child, word)


def is_unordered(node) -> bool:
    """True for arguments whose order says nothing, and for the values after `in`."""
    if node.type == "arglist":
        return node.get_first_leaf().get_previous_leaf().get_previous_leaf().value in UNORDERED
    before = node.parent.get_previous_leaf()
    return before is not None and before.value == "in"


def is_in_loop(node) -> bool:
    """True if a loop of its own function lies round a node."""
    around = node.search_ancestor("for_stmt", "while_stmt", *FUNCTIONS)
    return around is not None and around.type not in FUNCTIONS


def is_constant(word: str) -> bool:
    """True for a name in capitals, as a constant is written."""
    return word.isupper() and not word.startswith("__")


def dotted(name) -> str:
    """Returns a name with the module before its dot, if it has one."""
    before = name.get_previous_leaf()
    if before is not None and before.value == ".":
        owner = before.get_previous_leaf()
        return f"{owner.value}.{name.value}" if owner.type == "name" else ""
    return name.value


def neighbours(root) -> dict[str, str]:
    """Returns for each constant of a module the one that it may be mistaken for."""
    families: list[list[str]] = []
    line = -1
    for statement in root.children:
        inner = statement.children[0] if statement.type == "simple_stmt" else statement
        if inner.type == "import_from":
            families.append([name.value for name in inner.get_defined_names()])
        elif inner.type == "expr_stmt":
            names = [name.value for name in inner.get_defined_names()]
            # Those on neighbouring lines belong together, as those of one statement do.
            if len(names) == 1 and statement.start_pos[0] == line and families:
                families[-1] += names
            else:
                families.append(names)
            line = statement.end_pos[0]
    leaf, used = root.get_first_leaf(), {}
    while leaf is not None:
        if leaf.type == "name" and is_constant(leaf.value) and "." in dotted(leaf):
            used.setdefault(dotted(leaf).split(".")[0], set()).add(dotted(leaf))
        leaf = leaf.get_next_leaf()
    families += [sorted(names) for owner, names in used.items() if owner != "self"]
    found = {}
    for family in families:
        family = [name for name in family if is_constant(name.rsplit(".", 1)[-1])]
        for at, name in enumerate(family):
            if len(family) > 1:
                found.setdefault(name, family[(at + 1) % len(family)])
    return found


def parsed(source: str):
    """Returns the syntax tree of a source, as the operators read it."""
    return parso.parse(source)
