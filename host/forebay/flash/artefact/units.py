"""The pieces that can be kept or left out.

A piece is a function, a class without its methods, a method, or an assignment
at the top of a module.
"""

import ast
from dataclasses import dataclass

from forebay.flash.artefact.folding import Folding
from forebay.flash.artefact.modules import Global, Module
from forebay.flash.artefact.scopes import bound_in_class
from forebay.flash.artefact.writing import Uses, Writer


@dataclass
class Unit:
    """One piece.  node: its statement.

    owner: the class of a method; method: its name.  bases: of a class, the
    classes of the tree that it stands on.
    """

    module: Module
    names: tuple[str, ...]
    node: ast.stmt
    uses: Uses
    owner: Global | None = None
    method: str = ""
    bases: tuple[Global, ...] = ()


def units_of(module: Module, folding: Folding) -> list[Unit]:
    """Return the pieces of a module in their order."""
    found = []
    for statement in module.statements:
        if isinstance(statement, ast.ClassDef):
            found += _class_units(module, statement, folding)
            continue
        names = tuple(name for name, node in module.definitions.items() if node is statement)
        found.append(Unit(module, names, statement, uses_of(module, statement, folding)))
    return found


def _class_units(module, node, folding):
    owner = Global(module.name, node.name)
    scopes = (bound_in_class(node.body),)
    shell = Writer(module, folding)
    for part in node.bases:
        shell.read(part)
    bases = tuple(used for used in shell.uses.valued if isinstance(used, Global))
    methods = []
    for statement in node.body:
        if isinstance(statement, ast.FunctionDef):
            uses = uses_of(module, statement, folding)
            methods.append(Unit(module, (), statement, uses, owner, statement.name))
        else:
            shell.read(statement, scopes)
    return [Unit(module, (node.name,), node, shell.uses, bases=bases), *methods]


def uses_of(module: Module, statement: ast.stmt, folding: Folding) -> Uses:
    """Return what a statement uses."""
    writer = Writer(module, folding)
    writer.read(statement)
    return writer.uses
