"""Names of attributes shared by classes that have nothing to do with each other.

A board keeps every name that a program utters for ever, some twenty bytes each, and its table
of them doubles.  What is asked of `self` or of a class alone is nobody else's: two families
of classes may use one name for two things.
"""

import ast

OWN = "self"


class _Uses(ast.NodeVisitor):
    """Where names of attributes stand.

    Attributes: families, name -> the first classes of the families that use it; places,
    name -> (line from 1, byte of the line) of each; shared, names that may be asked of
    anything else: by others, by a text, or by what a class from outside stands on.
    """

    def __init__(self, tree: ast.Module):
        self.families: dict[str, set[str]] = {}
        self.places: dict[str, list[tuple[int, int]]] = {}
        self.shared: set[str] = set()
        self._first: dict[str, str] = {}
        self._inside = ""
        for node in tree.body:
            if isinstance(node, ast.ClassDef):
                bases = [base.id for base in node.bases if isinstance(base, ast.Name)]
                if all(base in self._first for base in bases):
                    self._first[node.name] = self._first[bases[0]] if bases else node.name
                self.shared |= {target.id for part in node.body if isinstance(part, ast.Assign)
                                for target in part.targets if isinstance(target, ast.Name)}
        for node in tree.body:
            self._inside = node.name if isinstance(node, ast.ClassDef) else ""
            self.visit(node)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:  # noqa: N802 - as ast calls it
        """Take a method."""
        if self._inside in self._first:
            self._take(node.name, self._inside, node.lineno, node.col_offset + len("def "))
        elif self._inside:
            self.shared.add(node.name)
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:  # noqa: N802 - as ast calls it
        """Take a text, by which an attribute may be asked for."""
        if isinstance(node.value, str):
            self.shared.add(node.value)

    def visit_Attribute(self, node: ast.Attribute) -> None:  # noqa: N802 - as ast calls it
        """Take what is asked of something."""
        asked = node.value.id if isinstance(node.value, ast.Name) else ""
        family = self._inside if asked == OWN else asked
        if family in self._first:
            self._take(node.attr, family, node.end_lineno or 0,
                       (node.end_col_offset or 0) - len(node.attr))
        else:
            self.shared.add(node.attr)
        self.generic_visit(node)

    def _take(self, name, family, line, column):
        if name.startswith("__"):
            return
        self.families.setdefault(name, set()).add(self._first[family])
        self.places.setdefault(name, []).append((line, column))


def pooled(text: str) -> str:
    """Return a program of one module with as few names of attributes as its classes allow."""
    uses = _Uses(ast.parse(text))
    lines = text.encode().splitlines(keepends=True)
    edits = sorted(((line, column, name, new) for name, new in _new_names(uses).items()
                    for line, column in uses.places[name]), reverse=True)
    for line, column, name, new in edits:
        row = lines[line - 1]
        assert row[column:column + len(name)] == name.encode()
        lines[line - 1] = row[:column] + new.encode() + row[column + len(name):]
    return b"".join(lines).decode()


def _new_names(uses):
    """Return name -> its new name: one that no family needs twice."""
    found = {}
    taken: list[set[str]] = []  # by new name, the families that have it
    for name in sorted(set(uses.families) - uses.shared,
                       key=lambda name: (-len(uses.families[name]), name)):
        families = uses.families[name]
        place = next((place for place, other in enumerate(taken) if not other & families),
                     len(taken))
        if place == len(taken):
            taken.append(set())
        taken[place] |= families
        found[name] = f"_{place}"
    return found
