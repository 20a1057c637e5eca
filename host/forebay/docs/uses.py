"""Who uses which name of keeper.physics, read from the sources without running them.

A function or class is used where it is named through an import; a method where an
attribute of its name is called, or given a local name that is its own.  Users
outside the physics are modules by their dotted names, those inside are names of
the physics themselves.
"""

import ast
import pathlib
from collections.abc import Iterator

PHYSICS = "keeper.physics"
TOPS = ("firmware", "host")  # in the repository; tests are no use


def users(root: pathlib.Path) -> dict[str, set[str]]:
    """Users of every name that keeper.physics defines, private ones as well.

    root: the repository. Names are "module.function", "module.Class" and
    "module.Class.method".
    """
    trees = {_dotted(path, root / top): ast.parse(path.read_text(encoding="utf-8"))
             for top in TOPS for path in sorted((root / top).rglob("*.py"))}
    physics = {name: tree for name, tree in trees.items() if name.startswith(PHYSICS + ".")}
    found: dict[str, set[str]] = {}
    methods: dict[str, list[str]] = {}
    for name, tree in physics.items():
        for target, _ in _definitions(name, tree):
            found[target] = set()
            if target.count(".") == 2:
                methods.setdefault(target.rpartition(".")[2], []).append(target)
    for name, tree in trees.items():
        parts = _definitions(name, tree) if name in physics else [(name, tree)]
        imported = _imported(tree, _module(name) if name in physics else None)
        for user, part in parts:
            for target in _named(part, imported, methods):
                if target in found and target != user:
                    found[target].add(user)
    return found


def reached(found: dict[str, set[str]], kept: set[str]) -> set[str]:
    """Names that something outside the physics uses, or a kept one, through any others."""
    roots = {target for target, by in found.items()
             if target in kept or any(is_outside(user) for user in by)}
    while True:
        more = {target for target, by in found.items() if by & roots} - roots
        if not more:
            return roots
        roots |= more


def is_outside(user: str) -> bool:
    """True for a user that is a module outside the physics."""
    return user.startswith(("keeper.", "forebay")) or user in ("boot", "main", "run")


def _dotted(path: pathlib.Path, top: pathlib.Path) -> str:
    return ".".join(path.relative_to(top).with_suffix("").parts).removesuffix(".__init__")


def _module(dotted: str) -> str:
    return dotted.removeprefix(PHYSICS + ".")


def _definitions(name: str, tree: ast.Module) -> Iterator[tuple[str, ast.AST]]:
    """(target, its tree) of each function, class and method; a class is its head and start."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef):
            yield f"{_module(name)}.{node.name}", node
        elif isinstance(node, ast.ClassDef):
            target = f"{_module(name)}.{node.name}"
            head = ast.Module(body=[ast.Expr(base) for base in node.bases], type_ignores=[])
            for part in node.body:
                if isinstance(part, ast.FunctionDef) and not part.name.startswith("__"):
                    yield f"{target}.{part.name}", part
                else:
                    head.body.append(part)
            yield target, head


def _imported(tree: ast.Module, module: str | None) -> dict[str, str]:
    """Name in a file -> module or target of the physics that it stands for."""
    found = {}
    if module is not None:
        found = {node.name: f"{module}.{node.name}" for node in tree.body
                 if isinstance(node, ast.FunctionDef | ast.ClassDef)}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            inside = _module(node.module + ".") if node.module.startswith(PHYSICS) else None
            if node.module == PHYSICS:
                inside = ""
            if inside is not None:
                found |= {alias.asname or alias.name: inside + alias.name
                          for alias in node.names}
    return found


def _named(part: ast.AST, imported: dict[str, str], methods: dict[str, list[str]]):
    """Targets that a piece of source names."""
    for node in ast.walk(part):
        if isinstance(node, ast.Name) and node.id in imported:
            yield imported[node.id]
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and (
            node.value.id in imported
        ):
            yield f"{imported[node.value.id]}.{node.attr}"
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            yield from methods.get(node.func.attr, ())
        elif isinstance(node, ast.Assign):
            given = {name.id for name in ast.walk(node) if isinstance(name, ast.Name)}
            for value in getattr(node.value, "elts", [node.value]):
                if isinstance(value, ast.Attribute) and value.attr in given:
                    yield from methods.get(value.attr, ())
