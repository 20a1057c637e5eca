"""Names that families of classes share: the program does the same with fewer of them."""

import ast

import pytest

from forebay.flash import firmware, rigfiles
from forebay.flash.artefact.pooling import pooled
from forebay.rig import DEMOS, load

FAMILIES = '''
class Base:
    mark = 3

    def __init__(self):
        self.count = 1
        self._own = self.mark

    def step(self):
        return self._more() + self.count

    def _more(self):
        return self._own


class Leaf(Base):
    def __init__(self):
        Base.__init__(self)
        self.extra = 5

    def _more(self):
        return Base._more(self) + self.extra


class Other:
    def __init__(self):
        self.inner = 7
        self.asked = 9

    def step(self):
        return self._twice()

    def _twice(self):
        return 2 * self.inner


class Refused(ValueError):
    def said(self):
        return self.args


def run():
    other = Other()
    return (Base().step(), Leaf().step(), other.step(), other.asked, getattr(other, "asked"),
            Refused("why").said())
'''


def attributes(text):
    return {node.attr for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Attribute)}


def results(text):
    space = {}
    exec(text, space)  # noqa: S102 - the text above
    return space["run"]()


def test_a_program_does_the_same_with_fewer_names():
    text = pooled(FAMILIES)
    assert results(text) == results(FAMILIES) == (4, 9, 14, 9, 9, ("why",))
    assert len(attributes(text)) < len(attributes(FAMILIES))


def test_a_family_never_has_one_name_for_two_things():
    found = attributes(pooled(FAMILIES))
    # Base and Leaf have four of their own (count, _own, _more, extra), Other uses two of these.
    assert len([name for name in found if name.startswith("_") and name[1:].isdigit()]) == 4


@pytest.mark.parametrize("name", ["mark", "step", "asked", "args"])
def test_what_others_ask_for_keeps_its_name(name):
    assert name in attributes(pooled(FAMILIES))


@pytest.mark.parametrize("demo", DEMOS)
def test_the_names_of_a_rigs_program_fit_the_first_tables_of_the_board(demo):
    """With 1260 of its own the interpreter's table of names doubles: 8.6 kB of the heap.

    From the source of MicroPython 1.29, py/qstr.c and MICROPY_ALLOC_QSTR_ENTRIES_INIT: tables of
    20, 40 ... 640 entries.  The loader has its own beside them.
    """
    rig = rigfiles.numbers_of(rigfiles.of_slot(load(demo=demo)))
    text = pooled(firmware.artefact(rig=rig, native=True).text)
    names = {node.id for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Name)}
    assert len(names | attributes(text)) < 1260
