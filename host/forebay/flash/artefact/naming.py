"""What each name beyond functions is called once the modules are one.

A name stays as it is where it can: a person should find a function of a
traceback in the sources.  It changes where two modules have it, where a
function has a variable of that name, or where the language has.
"""

import ast
import builtins
from collections import Counter
from collections.abc import Iterable

from forebay.flash.artefact.modules import External, Global, Tree
from forebay.flash.artefact.scopes import bound_in
from forebay.flash.artefact.writing import Used


def named(tree: Tree, wanted: Iterable[Used]) -> dict[Used, str]:
    """Return the names of all that is wanted, in its order."""
    local = {name for module in tree.modules.values() for node in ast.walk(module.tree)
             if isinstance(node, ast.FunctionDef | ast.Lambda) for name in bound_in(node)}
    plain = {used: _plain(used) for used in wanted}
    count = Counter(plain.values())
    taken = local | set(dir(builtins))
    everything = taken | set(plain.values())
    names: dict[Used, str] = {}
    for used, name in plain.items():
        if count[name] > 1 or name in taken:
            name = _other(name, used, everything)
            everything.add(name)
        names[used] = name
    return names


def _plain(used):
    if isinstance(used, Global):
        return used.name
    if isinstance(used, External):
        return used.name or used.module
    return used.module.rpartition(".")[2]


def _other(name, used, taken):
    other = f"{name}_{used.module.rpartition('.')[2]}"
    while other in taken:
        other += "_"
    return other
