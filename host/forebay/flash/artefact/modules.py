"""Which modules a program imports, in the order in which they run, and what their names mean.

The one walker: what it finds is what lands on a board.  Imports inside
functions count too; relative ones are resolved.
"""

import ast
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from forebay.flash.artefact.errors import BuildError

Definition = ast.FunctionDef | ast.ClassDef | ast.Assign


@dataclass(frozen=True)
class Global:
    """A name at the top of a module of the tree."""

    module: str
    name: str


@dataclass(frozen=True)
class Namespace:
    """A name that stands for a whole module of the tree."""

    module: str


@dataclass(frozen=True)
class External:
    """A name that comes from outside the tree: a module, or a name in one ("" = the module)."""

    module: str
    name: str


Meaning = Global | Namespace | External


@dataclass
class Module:
    """One source file.

    names: what each name at its top means.  definitions: name -> the statement
    that defines it.  statements: those that are no import and no docstring.
    """

    name: str
    path: Path
    text: str
    tree: ast.Module
    names: dict[str, Meaning] = field(default_factory=dict)
    definitions: dict[str, Definition] = field(default_factory=dict)
    statements: list[Definition] = field(default_factory=list)

    def where(self, node: ast.AST) -> str:
        """Return the place of a node, for an error."""
        return f"{self.path.name}:{getattr(node, 'lineno', 0)}"


class Tree:
    """All modules that an entry imports.  Attribute: modules, name -> Module, in running order."""

    def __init__(self, top: Path, without: Collection[str] = ()):
        """Take the folder above the package, and what is left out where functions import it.

        without: modules; one that a module imports at its top is there all the same.
        """
        self.top = top
        self.without = set(without)
        self.modules: dict[str, Module] = {}
        self._entered: set[str] = set()
        self._late: list[str] = []

    def add(self, name: str) -> None:
        """Add a module with all that it imports.  Raises BuildError."""
        self._visit(name)
        while self._late:
            self._visit(self._late.pop(0))

    def maybe_path(self, name: str) -> Path | None:
        """Return the source of a module of the tree, None if it is none."""
        if name in self.without:
            return None
        base = self.top / name.replace(".", "/")
        for path in (base.with_suffix(".py"), base / "__init__.py"):
            if path.is_file():
                return path
        return None

    def meaning(self, meaning: Meaning) -> Meaning:
        """Follow a name to where it is defined."""
        while isinstance(meaning, Global):
            there = self.modules[meaning.module].names.get(meaning.name, meaning)
            if there == meaning:
                break
            meaning = there
        return meaning

    def _visit(self, name):
        if name in self.modules or self.maybe_path(name) is None:
            return
        if name in self._entered:
            raise BuildError(f"{name} imports itself, by way of others")
        self._entered.add(name)
        if "." in name:
            self._visit(name.rpartition(".")[0])
        path = self.maybe_path(name)
        assert path is not None
        text = path.read_text(encoding="utf-8")
        try:
            tree = ast.parse(text, str(path))
        except SyntaxError as error:
            raise BuildError(f"{path.name} does not compile: {error}") from error
        module = Module(name, path, text, tree)
        for statement in tree.body:
            if isinstance(statement, ast.Import | ast.ImportFrom):
                for target in self._targets(module, statement):
                    self.without.discard(target)
                    self._visit(target)
                module.names.update(self.bound_by(module, statement))
            elif not _is_docstring(statement):
                _define(module, statement)
        self.modules[name] = module
        for node in ast.walk(tree):
            if isinstance(node, ast.Import | ast.ImportFrom) and node not in tree.body:
                self._late += self._targets(module, node)

    def _targets(self, module, statement) -> Iterator[str]:
        """Yield the modules of the tree that an import may run."""
        if isinstance(statement, ast.Import):
            yield from (alias.name for alias in statement.names)
            return
        source = _source(module, statement)
        yield source
        yield from (f"{source}.{alias.name}" for alias in statement.names)

    def bound_by(self, module: Module, statement: ast.Import | ast.ImportFrom
                 ) -> dict[str, Meaning]:
        """Return the names that an import binds, with their meaning."""
        found: dict[str, Meaning] = {}
        if isinstance(statement, ast.Import):
            for alias in statement.names:
                inside = self.maybe_path(alias.name) is not None
                if inside and not alias.asname and "." in alias.name:
                    raise BuildError(f"{module.where(statement)}: import {alias.name} as"
                                     " something")
                name = alias.asname or alias.name
                found[name] = Namespace(alias.name) if inside else External(alias.name, "")
            return found
        source = _source(module, statement)
        for alias in statement.names:
            name = alias.asname or alias.name
            if alias.name == "*":
                raise BuildError(f"{module.where(statement)}: an import must name what it takes")
            if self.maybe_path(source) is None:
                inside = source.partition(".")[0] == module.name.partition(".")[0]
                if inside and source not in self.without:
                    raise BuildError(f"{module.where(statement)}: there is no {source}")
                found[name] = External(source, alias.name)
            elif self.maybe_path(f"{source}.{alias.name}") is not None:
                found[name] = Namespace(f"{source}.{alias.name}")
            else:
                found[name] = Global(source, alias.name)
        return found


def walk(top: Path, entry: str, without: Collection[str] = ()) -> Tree:
    """Return the tree of all that `entry` imports, `without` as for Tree.  Raises BuildError."""
    tree = Tree(top, without)
    if tree.maybe_path(entry) is None:
        raise BuildError(f"no program at {top}: it lacks {entry}")
    tree.add(entry)
    return tree


def _source(module, statement):
    """Return the absolute name of the module that `from ... import` names."""
    if not statement.level:
        return statement.module or ""
    package = module.name.split(".")
    if module.path.name != "__init__.py":
        package = package[:-1]
    package = package[:len(package) - statement.level + 1]
    return ".".join(package + ([statement.module] if statement.module else []))


def _is_docstring(statement):
    return isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)


def _define(module, statement):
    if isinstance(statement, ast.FunctionDef | ast.ClassDef):
        names = [statement.name]
    elif isinstance(statement, ast.Assign):
        names = [name for target in statement.targets for name in assigned(module, target)]
    else:
        raise BuildError(f"{module.where(statement)}: at the top of a module only imports,"
                         " definitions and plain assignments can be told apart")
    for name in names:
        if name in module.names:
            raise BuildError(f"{module.where(statement)}: {name} is defined twice")
        module.names[name] = Global(module.name, name)
        module.definitions[name] = statement
    module.statements.append(statement)


def assigned(module: Module, target: ast.expr) -> list[str]:
    """Return the names that an assignment at the top of a module sets."""
    if isinstance(target, ast.Name):
        return [target.id]
    if isinstance(target, ast.Tuple):
        return [name for part in target.elts for name in assigned(module, part)]
    raise BuildError(f"{module.where(target)}: at the top of a module only names can be set")
