"""What a piece of the sources uses, and its text in the one module.

The text is that of the source, with names and known values put in their
places: nothing is formatted anew, so that what the compiler makes of a line
does not change.
"""

import ast
from collections.abc import Mapping
from dataclasses import dataclass, field

from forebay.flash.artefact.errors import BuildError
from forebay.flash.artefact.folding import UNKNOWN, Folding, may_stand_anywhere
from forebay.flash.artefact.modules import External, Global, Module, Namespace
from forebay.flash.artefact.scopes import Scope, bound_in
from forebay.flash.artefact.values import written

# What a name outside functions means once the modules are one.
Used = Global | External | Namespace
Names = Mapping[Used, str]
OWN = "self."


@dataclass
class Uses:
    """What a piece utters.

    called, valued: names beyond it that it calls, or takes as they are.
    called_attributes, valued_attributes: likewise behind a dot; with "self."
    before them those of the object itself.  strings: its texts.  builtins:
    functions of the language.  In `valued` and the like is also what a function
    inside it uses.
    """

    called: set[Used] = field(default_factory=set)
    valued: set[Used] = field(default_factory=set)
    called_attributes: set[str] = field(default_factory=set)
    valued_attributes: set[str] = field(default_factory=set)
    strings: set[str] = field(default_factory=set)
    builtins: set[str] = field(default_factory=set)

    @property
    def names(self) -> set[Used]:
        """All names."""
        return self.called | self.valued

    @property
    def words(self) -> set[str]:
        """All that a method may be found by."""
        return self.called_attributes | self.valued_attributes | self.strings


class Writer:
    """Reads one statement with a tree's meanings; gives its text and what it uses."""

    def __init__(self, module: Module, folding: Folding, names: Names | None = None):
        """names: what the module's names are called in the text; None: only uses are wanted."""
        self.module = module
        self.folding = folding
        self.names = names
        self.uses = Uses()
        self._source = module.text.encode()
        self._lines = [0]
        for line in self._source.splitlines(keepends=True):
            self._lines.append(self._lines[-1] + len(line))
        self._edits: list[tuple[int, int, bytes]] = []
        self._inner = 0  # how many functions deep inside the piece

    # Text

    def text(self, node: ast.stmt) -> str:
        """Return the text of a statement that was read, from the start of its first line."""
        first = min([node.lineno, *(one.lineno for one in getattr(node, "decorator_list", []))])
        begin, end = self._lines[first - 1], self._place(node.end_lineno, node.end_col_offset)
        return self._edited(begin, end)

    def header(self, node: ast.ClassDef) -> str:
        """Return the text of a class before its body."""
        body = node.body[0]
        return self._edited(self._lines[node.lineno - 1], self._lines[body.lineno - 1]).rstrip()

    def _edited(self, begin, end):
        out = []
        at = begin
        for start, stop, new in sorted(self._edits):
            if start >= at and stop <= end:
                out += [self._source[at:start], new]
                at = stop
        return b"".join([*out, self._source[at:end]]).decode() + "\n"

    def _place(self, line, column):
        return self._lines[line - 1] + column

    def _replace(self, node, text, last=None):
        """Put a text in the place of a node, or of all from it to another."""
        if self.names is not None:
            end = last or node
            self._edits.append((self._place(node.lineno, node.col_offset),
                                self._place(end.end_lineno, end.end_col_offset), text.encode()))

    # Reading

    def read(self, node: ast.AST, scopes: tuple[Scope, ...] = ()) -> None:
        """Read a node: note what it uses, put values and names in their places."""
        if isinstance(node, ast.Import | ast.ImportFrom):
            self._read_import(node)
        elif isinstance(node, ast.FunctionDef):
            self._read_function(node, scopes)
        elif isinstance(node, ast.Lambda):
            self._inner += 1
            self._read_parts([node.body], (*scopes, bound_in(node)))
            self._inner -= 1
        elif isinstance(node, ast.ClassDef):
            raise BuildError(f"{self.module.where(node)}: a class belongs to the top of a module")
        elif isinstance(node, ast.expr):
            self._read_expression(node, scopes)
        elif not (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)):
            self._read_parts(ast.iter_child_nodes(node), scopes)

    def _read_parts(self, nodes, scopes):
        for node in nodes:
            self.read(node, scopes)

    def _read_import(self, node):
        """An import inside a function: of the tree it is done already, else it stays."""
        for meaning in self.folding.tree.bound_by(self.module, node).values():
            if not isinstance(meaning, External):
                self._replace(node, "pass")

    def _read_function(self, node, scopes):
        self._read_parts([*node.decorator_list, *node.args.defaults], scopes)
        local = bound_in(node) - self._imported(node)
        inside = (*scopes, local)
        if scopes:
            self._inner += 1
        self._read_parts(self._come_to(node.body), inside)
        if scopes:
            self._inner -= 1

    def _come_to(self, body):
        """Return the statements of a function before it imports what is left out, if it does.

        What follows stands for nothing: it goes with its names.
        """
        for place, node in enumerate(body):
            if isinstance(node, ast.ImportFrom) and node.module in self.folding.tree.without:
                self._replace(node, "raise ImportError", body[-1])
                return body[:place]
        return body

    def _imported(self, node):
        """Bind what a function imports of the tree as if the module did; return those names."""
        found = set()
        for inner in ast.walk(node):
            if isinstance(inner, ast.Import | ast.ImportFrom):
                for name, meaning in self.folding.tree.bound_by(self.module, inner).items():
                    if not isinstance(meaning, External):
                        if self.module.names.setdefault(name, meaning) != meaning:
                            raise BuildError(f"{self.module.where(inner)}: {name} is a name of"
                                             " its module already")
                        found.add(name)
        return found

    def _read_expression(self, node, scopes):
        value = self.folding.value(self.module, node, scopes)
        if value is not UNKNOWN and may_stand_anywhere(value) and _is_read(node):
            if isinstance(value, str):
                self.uses.strings.add(value)
            if not isinstance(node, ast.Constant):
                self._replace(node, written(value))
            return
        if isinstance(node, ast.Constant):
            return
        meaning = self.folding.meaning(self.module, node, scopes)
        if meaning is not None:
            self._take(node, meaning, self.uses.valued)
            return
        if isinstance(node, ast.Call):
            self._read_call(node, scopes)
            return
        if isinstance(node, ast.Name) and not any(node.id in scope for scope in scopes):
            self.uses.builtins.add(node.id)
        if isinstance(node, ast.Attribute):
            self._note(self.uses.valued_attributes, _word(node))
        self._read_parts(ast.iter_child_nodes(node), scopes)

    def _read_call(self, node, scopes):
        meaning = self.folding.meaning(self.module, node.func, scopes)
        if meaning is not None:
            self._take(node.func, meaning, self.uses.called)
        elif isinstance(node.func, ast.Attribute):
            if not _is_super(node.func.value):
                self._note(self.uses.called_attributes, _word(node.func))
            elif node.func.attr != "__init__":  # which runs whenever one of its family is made
                self._note(self.uses.called_attributes, OWN + node.func.attr)
            self.read(node.func.value, scopes)
        else:
            self.read(node.func, scopes)
        self._read_parts([*node.args, *node.keywords], scopes)

    def _note(self, where, word):
        if self._inner and where is self.uses.called_attributes:
            where = self.uses.valued_attributes
        where.add(word)

    def _take(self, node, meaning, where):
        """Note a name beyond functions, and put what it is called now in its place."""
        (self.uses.valued if self._inner else where).add(meaning)
        if self.names is not None:
            name = self.name(meaning)
            if not (isinstance(node, ast.Name) and node.id == name):
                self._replace(node, name)

    def name(self, meaning: Used) -> str:
        """Return what a name is called in the one module."""
        assert self.names is not None
        return self.names[meaning]


def _word(node):
    is_own = isinstance(node.value, ast.Name) and node.value.id == "self"
    return OWN + node.attr if is_own else node.attr


def _is_super(node):
    return (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            and node.func.id == "super")


def _is_read(node):
    return isinstance(getattr(node, "ctx", ast.Load()), ast.Load)
