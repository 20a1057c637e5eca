"""Which names a function or class binds itself, so that the others are the module's."""

import ast

Scope = frozenset[str]
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)


def bound_in(function: ast.FunctionDef | ast.Lambda) -> Scope:
    """Return the names that a function binds: its arguments, and what it sets.

    Those of a comprehension count as the function's: so no name is taken for a
    module's that could be one of them.
    """
    arguments = function.args
    found = {argument.arg for argument in (
        *arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs,
        *([arguments.vararg] if arguments.vararg else []),
        *([arguments.kwarg] if arguments.kwarg else []))}
    body = function.body if isinstance(function.body, list) else [function.body]
    for statement in body:
        found |= _set_by(statement)
    return frozenset(found)


def bound_in_class(body: list[ast.stmt]) -> Scope:
    """Return the names that the body of a class binds."""
    return frozenset(name for statement in body for name in _set_by(statement))


def _set_by(node):
    """Return the names that a node binds in the scope that it stands in."""
    if isinstance(node, ast.Name):
        return {node.id} if isinstance(node.ctx, ast.Store | ast.Del) else set()
    found = set()
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        return {node.name}
    if isinstance(node, ast.Lambda):
        return set()
    if isinstance(node, ast.ExceptHandler) and node.name:
        found.add(node.name)
    if isinstance(node, ast.Import | ast.ImportFrom):
        found |= {alias.asname or alias.name.partition(".")[0] for alias in node.names}
    for child in ast.iter_child_nodes(node):
        found |= _set_by(child)
    return found
