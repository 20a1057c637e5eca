"""What a piece of the sources uses, and its text in the one module.

The text is that of the source, with names and known values put in their
places: nothing is formatted anew, so that what the compiler makes of a line
does not change.
"""

import ast
import copy
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

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

    def _replace(self, node, text):
        if self.names is not None:
            self._edits.append((self._place(node.lineno, node.col_offset),
                                self._place(node.end_lineno, node.end_col_offset), text.encode()))

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
        inlined = self._inlined(node, inside)
        for statement in node.body:
            if statement in inlined:
                self._replace(statement, "pass")
            else:
                self.read(statement, inside)
        if scopes:
            self._inner -= 1

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

    def _inlined(self, function, scopes):
        """Put small functions within a function where they are called with known arguments.

        One that is but `return EXPRESSION` and is only called so; returns
        their statements.
        """
        done = []
        for inner in function.body:
            if not (isinstance(inner, ast.FunctionDef) and len(inner.body) <= 2
                    and isinstance(inner.body[-1], ast.Return) and inner.body[-1].value):
                continue
            names = [one for one in ast.walk(function)
                     if isinstance(one, ast.Name) and one.id == inner.name]
            calls = [one for one in ast.walk(function)
                     if isinstance(one, ast.Call) and isinstance(one.func, ast.Name)
                     and one.func.id == inner.name and not one.keywords
                     and all(isinstance(part, ast.Constant) for part in one.args)
                     and len(one.args) == len(inner.args.args)]
            if len(calls) == len(names):
                done.append(inner)
                for call in calls:
                    known = {argument.arg: part for argument, part in
                             zip(inner.args.args, call.args, strict=True)}
                    body = _Known(known).visit(copy.deepcopy(inner.body[-1].value))
                    self._replace(call, f"({self._written(body, scopes)})")
                    call.args = []
                    call.func = ast.Constant(None)  # read already
        return done

    def _written(self, node, scopes):
        """Return the text of an expression that stands nowhere in the source; note its uses."""
        writer = _Putting(self, scopes)
        return ast.unparse(ast.fix_missing_locations(writer.visit(node)))

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


class _Known(ast.NodeTransformer):
    """Puts known arguments in the place of their names."""

    def __init__(self, known: dict[str, Any]):
        self.known = known

    def visit_Name(self, node):
        return copy.deepcopy(self.known.get(node.id, node))


class _Putting(ast.NodeTransformer):
    """As `Writer`, for an expression without a place."""

    def __init__(self, writer: Writer, scopes):
        self.writer = writer
        self.scopes = scopes

    def visit(self, node):
        if isinstance(node, ast.expr):
            writer = self.writer
            value = writer.folding.value(writer.module, node, self.scopes)
            if value is not UNKNOWN and may_stand_anywhere(value) and _is_read(node):
                return ast.Constant(value)
            meaning = writer.folding.meaning(writer.module, node, self.scopes)
            if meaning is not None:
                writer.uses.valued.add(meaning)
                return ast.Name(writer.name(meaning) if writer.names is not None else "_",
                                ast.Load())
            if isinstance(node, ast.Attribute):
                writer.uses.valued_attributes.add(_word(node))
        return self.generic_visit(node)


def _word(node):
    is_own = isinstance(node.value, ast.Name) and node.value.id == "self"
    return OWN + node.attr if is_own else node.attr


def _is_super(node):
    return (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            and node.func.id == "super")


def _is_read(node):
    return isinstance(getattr(node, "ctx", ast.Load()), ast.Load)
