"""Arguments under names that all functions share.

An interpreter keeps the name of each argument for ever, and some hundreds of names
more cost it a table of eight kilobytes.  What a call names stays as it is, and so do
functions round another, whose inside uses their arguments too.
"""

import ast
import builtins
from string import ascii_lowercase

OWN = "self"
SHARED = tuple(ascii_lowercase)


def shared(text: str) -> str:
    """Return the text of a module with its arguments renamed, every line where it was."""
    tree = ast.parse(text)
    kept = {OWN, *(word.arg for call in ast.walk(tree) if isinstance(call, ast.Call)
                   for word in call.keywords)}
    taken = _names_of_the_module(tree) | set(dir(builtins))
    edits: list[tuple[int, int, int, str]] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and not _is_round_another(node):
            edits += _renamed(node, kept, taken)
    return _edited(text, edits)


def _names_of_the_module(tree):
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found.add(node.name)
        elif isinstance(node, ast.alias):
            found.add(node.asname or node.name)
        elif isinstance(node, ast.Global):
            found |= set(node.names)
    for statement in tree.body:
        if not isinstance(statement, ast.FunctionDef | ast.ClassDef):
            found |= {node.id for node in ast.walk(statement) if isinstance(node, ast.Name)}
    return found


def _is_round_another(function):
    return any(isinstance(node, ast.FunctionDef | ast.Lambda) and node is not function
               for node in ast.walk(function))


def _renamed(function, kept, taken):
    """Return the edits of one function: (line, first byte, last byte, name)."""
    uses = [node for statement in function.body for node in ast.walk(statement)
            if isinstance(node, ast.Name)]
    free = iter(name for name in SHARED
                if name not in taken and name not in {node.id for node in uses})
    names = {}
    for argument in function.args.args:
        if argument.arg not in kept and (name := next(free, None)):
            names[argument.arg] = name
    found = [(argument, names[argument.arg]) for argument in function.args.args
             if argument.arg in names]
    found += [(node, names[node.id]) for node in uses if node.id in names]
    return [(node.lineno, node.col_offset, node.end_col_offset, name) for node, name in found]


def _edited(text, edits):
    lines = text.encode().split(b"\n")
    for line, begin, end, name in sorted(edits, reverse=True):
        before = lines[line - 1]
        lines[line - 1] = before[:begin] + name.encode() + before[end:]
    return b"\n".join(lines).decode()
