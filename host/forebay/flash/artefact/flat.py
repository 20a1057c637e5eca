"""One module out of many: what is needed in its order, and what is let go after the start."""

import ast
import builtins
import copy
import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from forebay.flash.artefact.arguments import shared
from forebay.flash.artefact.errors import BuildError
from forebay.flash.artefact.folding import Folding
from forebay.flash.artefact.modules import External, Global, Module, Namespace, Tree
from forebay.flash.artefact.naming import named
from forebay.flash.artefact.reach import Reach
from forebay.flash.artefact.units import Unit, units_of, uses_of
from forebay.flash.artefact.values import Values, is_literal, written
from forebay.flash.artefact.writing import Used, Uses, Writer

INDENT = "    "
NATIVE = "@micropython.native"


@dataclass(frozen=True)
class Artefact:
    """text: source of the one module.

    names: (module, name) -> what it is called here.  let_go: what the parts of the
    start leave behind, by these names, methods behind their class and a dot.
    """

    text: str
    names: Mapping[tuple[str, str], str]
    let_go: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """What an artefact is made for.

    entry: its function.  letting_go: functions that the entry calls in this
    order, each once and in a statement of its own, and that let go what only
    the entry's part before them uses.  native: functions ("module.function",
    "module.Class.method") compiled to the processor's own code.
    """

    entry: Global
    letting_go: tuple[Global, ...] = ()
    native: frozenset[str] = frozenset()


def flatten(tree: Tree, plan: Plan) -> Artefact:
    """Return a tree as one module.  Raises BuildError."""
    return _Flat(tree, plan).artefact()


class _Flat:
    """Attributes: units, the pieces that the entry can come to; names, what they are called."""

    def __init__(self, tree: Tree, plan: Plan):
        self.tree = tree
        self.plan = plan
        self.folding = Folding(tree, Values(tree), plan.letting_go)
        units = [unit for module in tree.modules.values()
                 for unit in units_of(module, self.folding)]
        for unit in units:
            if self._is_plain(unit):
                unit.uses = Uses()  # it is written as what it is worth
        self.start = Reach(units)
        self.start.names.add(plan.entry)
        self.units = self._grown(self.start)
        missing = plan.native - {_path(unit) for unit in self.units}
        if missing:
            raise BuildError(f"no function {min(missing)} to compile to the processor's code")
        self.used = self._all_used()
        defined = {Global(unit.module.name, name): True
                   for unit in self.units for name in unit.names}
        self.names: dict[Used, str] = named(tree, {**defined, **dict.fromkeys(self.used)})
        # Names of plain values are written only where somebody asks for them.
        self.asked = set(self.used) | {
            Global(used.module, name) for used in self.used
            if isinstance(used, Namespace) for name in self._content(used)}
        self.out: list[str] = []

    def _grown(self, reach):
        """Return the pieces of a reach, with what lies in modules that are used as values."""
        while True:
            before = len(reach.names)
            reach.grow()
            for name in list(reach.names):
                if isinstance(name, Namespace):
                    reach.names |= {Global(name.module, one) for one in self._content(name)}
            if len(reach.names) == before:
                return reach.units

    def _content(self, namespace):
        module = self.tree.modules[namespace.module]
        return [name for name in module.definitions if not name.startswith("_")]

    def _all_used(self):
        """Return every name that the pieces use, in their order, each once."""
        found: dict[Used, bool] = {}
        for unit in self.units:
            found.update(dict.fromkeys(sorted(unit.uses.names, key=repr), True))
        return list(found)

    def _is_plain(self, unit):
        """Return whether all that a statement sets can be written as what it is worth."""
        return isinstance(unit.node, ast.Assign) and all(
            self._maybe_written(Global(unit.module.name, name)) is not None
            for name in unit.names)

    def _maybe_written(self, name):
        value = self.folding.values.of(name)
        if type(value) is list and all(map(is_literal, value)):
            return "[" + ", ".join(map(written, value)) + "]"
        if type(value) is dict and is_literal((*value, *value.values())):
            return "{" + ", ".join(f"{written(key)}: {written(part)}"
                                   for key, part in value.items()) + "}"
        return written(value) if is_literal(value) else None

    def artefact(self) -> Artefact:
        """Return the one module."""
        running, going = self._parted()
        for used in self.used:
            if isinstance(used, External):
                what = f"from {used.module} import {used.name}" if used.name else (
                    f"import {used.module}")
                self.out.append(f"{what} as {self.names[used]}\n")
        if self.plan.native:
            self.out.append("import micropython\n")
        self._put_builtins(running.units)
        for module in self.tree.modules.values():
            self._put_module(module, going)
        return Artefact(shared("".join(self.out)),
                        {(used.module, used.name): name for used, name in self.names.items()
                         if isinstance(used, Global) and self._is_written(used)},
                        tuple(name for names in going.values() for name in names))

    def _is_written(self, name):
        definition = self.tree.modules[name.module].definitions[name.name]
        return name in self.asked or not isinstance(definition, ast.Assign)

    # Text

    def _put_builtins(self, running: Iterable[Unit]) -> None:
        """Write what runs on uses of the language's own functions as names of the module.

        Looking for a name in vain goes through a long run of full places of a
        table of some hundreds: 0.4 ms of each scan on the board.
        """
        for name in sorted({name for unit in running for name in unit.uses.builtins}):
            if hasattr(builtins, name) and name[0].islower() and name != "super":
                self.out.append(f"{name} = {name}\n")

    def _put_module(self, module: Module, going: Mapping[Global, list[str]]) -> None:
        for unit in self.units:
            if unit.module is module and not unit.owner:
                if isinstance(unit.node, ast.ClassDef):
                    self._put_class(unit)
                elif self._is_plain(unit):
                    self._put_values(unit)
                elif Global(module.name, unit.names[0]) in going:
                    self._put_letting_go(unit, going[Global(module.name, unit.names[0])])
                else:
                    self.out.append(self._text(unit))
        namespace = Namespace(module.name)
        if namespace in self.asked:  # used as a value: a class with the module's names
            self.out.append(f"class {self.names[namespace]}:\n")
            for name in self._content(namespace):
                self.out.append(f"{INDENT}{name} = {self.names[Global(module.name, name)]}\n")

    def _put_values(self, unit):
        for name in unit.names:
            used = Global(unit.module.name, name)
            if used in self.asked:
                self.out.append(f"{self.names[used]} = {self._maybe_written(used)}\n")

    def _text(self, unit):
        """Return the text of a function, a method or an assignment."""
        node = unit.node
        writer = Writer(unit.module, self.folding, self.names)
        writer.read(node)
        text = writer.text(node)
        if isinstance(node, ast.FunctionDef) and not unit.owner:
            name = self.names[Global(unit.module.name, node.name)]
            text = text.replace(f"def {node.name}(", f"def {name}(", 1)
        if _path(unit) in self.plan.native:
            text = f"{INDENT if unit.owner else ''}{NATIVE}\n{text}"
        return text

    def _put_class(self, unit):
        node = unit.node
        owner = Global(unit.module.name, node.name)
        writer = Writer(unit.module, self.folding, self.names)
        for base in node.bases:
            writer.read(base)
        header = writer.header(node)
        self.out.append(header.replace(f"class {node.name}", f"class {self.names[owner]}", 1)
                        + "\n")
        methods = {one.node.lineno: one for one in self.units if one.owner == owner}
        before = len(self.out)
        for part in node.body:
            if isinstance(part, ast.FunctionDef):
                if part.lineno in methods:
                    self.out.append(self._text(methods[part.lineno]))
            elif not (isinstance(part, ast.Expr) and isinstance(part.value, ast.Constant)):
                writer = Writer(unit.module, self.folding, self.names)
                writer.read(part)
                self.out.append(writer.text(part))
        if len(self.out) == before:
            self.out.append(f"{INDENT}pass\n")

    # Letting go

    def _running_after(self, letting_go: Global) -> Reach:
        """Return what can still run once a part of the start is over."""
        stays = Reach(self.units)
        for unit in self.units:
            if self.plan.entry == Global(unit.module.name, (*unit.names, "")[0]):
                stays.utter(self._after_the_call(unit, letting_go))
            else:
                stays.utter_values(unit)
        self._grown(stays)
        return stays

    def _parted(self):
        """Return (what runs on in the end, for each that lets go what a `del` in it names)."""
        reaches = [self.start, *map(self._running_after, self.plan.letting_go)]
        gone = [self._gone(*pair) for pair in itertools.pairwise(reaches)]
        going: dict[Global, list[str]] = {}
        waiting: list[str] = []  # classes of which methods go later: a `del` needs their names
        for place, function in enumerate(self.plan.letting_go):
            methods, others, classes = gone[place]
            owners = {one.partition(".")[0] for part in gone[place + 1:] for one in part[0]}
            classes += waiting
            waiting = [one for one in classes if one in owners]
            going[function] = methods + others + [one for one in classes if one not in owners]
        return reaches[-1], going

    def _gone(self, before: Reach, after: Reach) -> tuple[list[str], list[str], list[str]]:
        """Return the methods, other names and classes of one reach that are not in another."""
        still = {id(unit) for unit in after.units}
        methods, others, classes = [], [], []
        for unit in before.units:
            if id(unit) in still:
                continue
            if unit.owner:
                methods.append(f"{self.names[unit.owner]}.{unit.method}")
            for name in unit.names:
                used = Global(unit.module.name, name)
                if used not in after.names and self._is_written(used):
                    (classes if isinstance(unit.node, ast.ClassDef) else others).append(
                        self.names[used])
        return methods, others, classes

    def _after_the_call(self, unit, letting_go):
        """Return what the entry utters once it has called a function that lets go."""
        body = unit.node.body
        places = [place for place, statement in enumerate(body) for node in ast.walk(statement)
                  if isinstance(node, ast.Call) and self.folding.meaning(
                      unit.module, node.func, ()) == letting_go]
        if len(places) != 1:
            raise BuildError(f"{unit.module.where(unit.node)}: it must call {letting_go.name}"
                             " once, in a statement of its own")
        rest = copy.copy(unit.node)
        rest.body = rest.body[places[0] + 1:]
        return uses_of(unit.module, rest, self.folding)

    def _put_letting_go(self, unit, going):
        self.out.append(f"def {self.names[Global(unit.module.name, unit.names[0])]}():\n")
        plain = [one for one in going if "." not in one]
        if plain:
            self.out.append(f"{INDENT}global {', '.join(plain)}\n")
        self.out += [f"{INDENT}del {one}\n" for one in going] or [f"{INDENT}pass\n"]


def _path(unit):
    """Return the full name of a function or method."""
    owner = unit.owner.name + "." if unit.owner else ""
    return f"{unit.module.name}.{owner}{getattr(unit.node, 'name', '')}"
