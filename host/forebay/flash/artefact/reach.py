"""What is kept: at first all that the entry can come to, after the start what the loop can.

Both rest on one argument.  A definition at the top of the module is found by
its name, a method by its word behind a dot or in a text; so what no piece that
can still run utters, nobody can ask for.  Pieces that run are those that are
called by name from a piece that runs, or that anybody ever took as a value: as
such they may lie in any object.
"""

import ast
from collections.abc import Iterable

from forebay.flash.artefact.modules import Global
from forebay.flash.artefact.units import Unit
from forebay.flash.artefact.writing import OWN, Used, Uses


class Reach:
    """The pieces that can run, growing until nothing is added.

    Attributes: names, of definitions; words, that may find a method; units.
    """

    def __init__(self, units: Iterable[Unit]):
        self.units_all = list(units)
        self.names: set[Used] = set()
        self.words: set[str | tuple[Global | None, str]] = set()
        self._done: set[int] = set()
        # Each class, and those that it stands on or that stand on it, as one of them.
        self._family: dict[Global, Global] = {}
        for unit in self.units_all:
            for base in unit.bases:
                self._join(Global(unit.module.name, unit.names[0]), base)
        self._by_name: dict[Used, Unit] = {
            Global(unit.module.name, name): unit for unit in self.units_all for name in unit.names}

    def _join(self, one: Global, other: Global) -> None:
        before, after = self._family.get(one, one), self._family.get(other, other)
        self._family.update({other: after, one: after})
        for member, of in self._family.items():
            if of == before:
                self._family[member] = after

    def utter(self, uses: Uses, owner: Global | None = None) -> None:
        """Take in all that a piece utters; owner: the class that it is a method of."""
        self.names |= uses.names
        self._say(uses.words, owner)

    def _say(self, words, owner):
        if owner:
            owner = self._family.get(owner, owner)
        self.words |= {(owner, word) if word.startswith(OWN) else word for word in words}

    def utter_values(self, unit: Unit) -> None:
        """Take in what a piece that will not run again may have left in objects.

        Data and the bases of a class are no matter: whatever holds them needs
        no name for them.
        """
        uses, owner, bases = unit.uses, unit.owner, unit.bases
        self.names |= {name for name in uses.valued
                       if name not in bases and not self._is_data(name)}
        self._say(uses.valued_attributes | uses.strings, owner)

    def grow(self) -> "Reach":
        """Add what the pieces found utter, and so on; return itself."""
        found = True
        while found:
            found = [unit for unit in self.units_all
                     if id(unit) not in self._done and self._runs(unit)]
            for unit in found:
                self._done.add(id(unit))
                self.utter(unit.uses, unit.owner)
        return self

    def _runs(self, unit):
        if not unit.owner:
            return any(Global(unit.module.name, name) in self.names for name in unit.names)
        if unit.method == "__init__":
            return bool(self._relatives(unit.owner) & self.names)
        if unit.method.startswith("__"):
            return True  # the interpreter itself asks for it
        family = self._family.get(unit.owner, unit.owner)
        return unit.method in self.words or (family, OWN + unit.method) in self.words

    def _relatives(self, owner):
        family = self._family.get(owner)
        return {owner, *(one for one, of in self._family.items() if of == family)}

    def _is_data(self, name):
        unit = self._by_name.get(name)
        return unit is not None and isinstance(unit.node, ast.Assign)

    @property
    def units(self) -> list[Unit]:
        """The pieces found, in their order."""
        return [unit for unit in self.units_all if id(unit) in self._done]
