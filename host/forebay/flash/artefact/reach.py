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
from forebay.flash.artefact.units import OWN, Unit, Used, Uses


class Reach:
    """The pieces that can run, growing until nothing is added.

    Attributes: names, of definitions; words, that may find a method; units.
    """

    def __init__(self, units: Iterable[Unit]):
        self.units_all = list(units)
        self.names: set[Used] = set()
        self.words: set[str | tuple[Global | None, str]] = set()
        self._done: set[int] = set()
        self._by_name: dict[Used, Unit] = {
            Global(unit.module.name, name): unit for unit in self.units_all for name in unit.names}

    def utter(self, uses: Uses, owner: Global | None = None) -> None:
        """Take in all that a piece utters; owner: the class that it is a method of."""
        self.names |= uses.names
        self._say(uses.words, owner)

    def _say(self, words, owner):
        self.words |= {(owner, word) if word.startswith(OWN) else word for word in words}

    def utter_values(self, uses: Uses, owner: Global | None = None) -> None:
        """Take in what a piece that will not run again may have left in objects.

        Data is no matter: whatever holds it needs no name for it.
        """
        self.names |= {name for name in uses.valued if not self._is_data(name)}
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
            return unit.owner in self.names
        if unit.method.startswith("__"):
            return True  # the interpreter itself asks for it
        return unit.method in self.words or (unit.owner, OWN + unit.method) in self.words

    def _is_data(self, name):
        unit = self._by_name.get(name)
        return unit is not None and isinstance(unit.node, ast.Assign)

    @property
    def units(self) -> list[Unit]:
        """The pieces found, in their order."""
        return [unit for unit in self.units_all if id(unit) in self._done]
