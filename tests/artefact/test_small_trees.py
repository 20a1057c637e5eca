"""The artefact of small trees: what is folded, what is left out, what is let go."""

import re
import types

import pytest

from forebay.flash.artefact import BuildError, Global, Plan, flatten, walk

ENTRY = Global("pack.start", "run")
LETTING_GO = Global("pack.start", "let_go")
AT_ONCE = (LETTING_GO,)


def tree_of(folder, **modules):
    """Writes modules of a package `pack`, "a__b" for pack/a/b.py, and walks them."""
    for name, text in {"__init__": "", **modules}.items():
        path = folder / "pack" / (name.replace("__", "/") + ".py" if name != "__init__"
                                  else "__init__.py")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
        if path.parent.name != "pack":
            (path.parent / "__init__.py").touch()
    return walk(folder, ENTRY.module)


def made(folder, letting_go=(), native=(), **modules):
    plan = Plan(ENTRY, letting_go, frozenset(native))
    return flatten(tree_of(folder, **modules), plan)


def executed(artefact):
    module = types.ModuleType("program")
    exec(compile(artefact.text, "program", "exec"), module.__dict__)
    return module


def test_constants_of_its_own_and_of_others_stand_where_they_are_used(tmp_path):
    artefact = made(tmp_path, limits="PERIOD_MS = 100\nLEAST = -2 * PERIOD_MS\nNAME = 'x'\n",
                    start="import pack.limits as lim\nfrom pack.limits import LEAST as low\n"
                          "HERE = lim.PERIOD_MS // 3\n"
                          "def run(a):\n    return a ** low, HERE + lim.PERIOD_MS, lim.NAME\n")

    assert executed(artefact).run(2.0) == (2.0 ** -200, 133, "x")
    # An argument has the first name that all functions share and this one does not use.
    assert "b ** (-200), 133, 'x'" in artefact.text
    assert "PERIOD_MS" not in artefact.text
    assert artefact.names == {("pack.start", "run"): "run"}


def test_what_a_constant_function_gives_is_known_and_the_function_left_out(tmp_path):
    artefact = made(tmp_path, names="NAMES = ('a', 'b')\n"
                    "def index(name):\n    return NAMES.index(name)\n",
                    start="from pack import names as nm\n"
                    "def run(values):\n"
                    "    return values[nm.index('b')], values[nm.index('a')], len(nm.NAMES)\n")

    assert executed(artefact).run([5, 6]) == (6, 5, 2)
    assert "NAMES" not in artefact.text
    assert "index" not in artefact.text


def test_an_assignment_to_several_names_is_not_put_in_brackets(tmp_path):
    """With brackets the interpreter would make a tuple, and a locked heap raises."""
    artefact = made(tmp_path, start="HIGH = 3\ndef run(a):\n    b, a = a, HIGH\n    return a, b\n")

    assert "b, c = c, 3" in artefact.text
    assert executed(artefact).run(1) == (3, 1)


def test_names_that_two_modules_or_a_variable_or_the_language_have_are_told_apart(tmp_path):
    artefact = made(tmp_path, one="def work(x):\n    return x + 1\ndef open(x):\n    return -x\n",
                    two="def work(x):\n    return x + 2\n",
                    start="from pack import one, two\nfrom pack.one import open as begin\n"
                    "def run(x):\n    work = two.work(x)\n"
                    "    return one.work(x), work, begin(x)\n")

    assert executed(artefact).run(1) == (2, 3, -1)
    assert "def open(" not in artefact.text


def test_relative_imports_and_those_inside_functions_are_followed(tmp_path):
    artefact = made(tmp_path, deep__leaf="from .other import twice\n"
                    "def leaf(x):\n    return twice(x)\n",
                    deep__other="def twice(x):\n    return 2 * x\n",
                    start="def run(x):\n    from pack.deep.leaf import leaf\n    return leaf(x)\n")

    assert executed(artefact).run(4) == 8


def test_a_module_that_is_used_as_a_value_has_its_names(tmp_path):
    artefact = made(tmp_path, plain="PINS = (1, 2)\nKIND = 'plain'\n",
                    start="from pack import plain\nALL = (plain,)\n"
                    "def run():\n    return [one.KIND + str(one.PINS) for one in ALL]\n")

    assert executed(artefact).run() == ["plain(1, 2)"]


def test_methods_that_nobody_utters_are_left_out(tmp_path):
    artefact = made(tmp_path, thing="class Thing:\n    SIZE = 4\n"
                    "    def __init__(self):\n        self.a = self.SIZE\n"
                    "    def used(self):\n        return self._inner()\n"
                    "    def _inner(self):\n        return self.a\n"
                    "    def by_word(self):\n        return 7\n"
                    "    def unused(self):\n        return 0\n",
                    start="from pack.thing import Thing\n"
                    "def run():\n    return Thing().used(), getattr(Thing(), 'by_word')()\n")

    assert executed(artefact).run() == (4, 7)
    assert "unused" not in artefact.text


STORY = """
from pack.thing import Thing, made_late
def let_go():
    pass
def make(place):
    thing = Thing(lambda: made_late(place), place)
    thing.begin()
    return thing
def run(place):
    thing = make(place)
    let_go()
    return go(thing)
def go(thing):
    return thing.work()
"""
THING = """
TABLE = (1, 2, 3)
def only_at_the_start(x):
    return TABLE[x]
def made_late(x):
    return x * 10
def as_a_value():
    return 5
class Thing:
    def __init__(self, late, place):
        self.late = late
        self.kept = as_a_value
        self.first = only_at_the_start(place)
    def begin(self):
        self.first += 1
    def work(self):
        return self.first + self.late() + self.kept()
"""


def test_what_only_the_start_uses_is_let_go_and_what_lies_in_objects_stays(tmp_path):
    artefact = made(tmp_path, letting_go=AT_ONCE, start=STORY, thing=THING)
    module = executed(artefact)

    assert module.run(2) == 3 + 1 + 20 + 5
    gone = set(artefact.let_go)
    assert gone >= {"only_at_the_start", "TABLE", "Thing", "Thing.__init__", "Thing.begin",
                    "make", "let_go", "run"}
    assert not gone & {"made_late", "as_a_value", "go", "Thing.work"}
    assert not hasattr(module, "only_at_the_start")


def test_a_start_that_lets_go_in_the_middle_of_something_is_refused(tmp_path):
    with pytest.raises(BuildError, match="call let_go once"):
        made(tmp_path, letting_go=AT_ONCE, start="def let_go():\n    pass\ndef run():\n    pass\n")


@pytest.mark.parametrize(("text", "why"), [
    ("def run(:\n", "does not compile"),
    ("for x in (1, 2):\n    pass\ndef run():\n    pass\n", "only imports, definitions"),
    ("from pack.gone import x\ndef run():\n    pass\n", "there is no pack.gone"),
    ("from pack import *\ndef run():\n    pass\n", "name what it takes"),
    ("X = 1 // 0\ndef run():\n    pass\n", "division"),
    ("def run():\n    pass\nrun = 3\n", "defined twice"),
])
def test_sources_that_cannot_be_made_into_one_say_where_and_why(tmp_path, text, why):
    with pytest.raises(BuildError, match=why):
        made(tmp_path, start=text)


def test_a_function_to_compile_to_the_processors_code_must_be_there(tmp_path):
    source = ("class Loop:\n    def turn(self):\n        return 1\n"
              "def run():\n    return Loop().turn()\n")
    assert "    @micropython.native\n    def turn(self)" in made(
        tmp_path, native=["pack.start.Loop.turn"], start=source).text
    with pytest.raises(BuildError, match=r"pack\.start\.Loop\.gone"):
        made(tmp_path, native=["pack.start.Loop.gone"], start=source)


def test_a_class_finds_what_it_stands_on(tmp_path):
    artefact = made(tmp_path, letting_go=AT_ONCE, base="class Base:\n    def __init__(self, x):\n"
                    "        self.x = x\n    def ask(self):\n        return self.answer()\n",
                    start="from pack.base import Base\nclass Thing(Base):\n"
                    "    def __init__(self, x):\n        super().__init__(x)\n"
                    "    def answer(self):\n        return self.x\n"
                    "def let_go():\n    pass\n"
                    "def make(x):\n    return Thing(x)\n"
                    "def run(x):\n    thing = make(x)\n    let_go()\n    return go(thing)\n"
                    "def go(thing):\n    return thing.ask(), Thing(4).ask()\n")
    assert executed(artefact).run(3) == (3, 4)
    assert not {"Base", "Thing", "Base.__init__", "Thing.answer"} & set(artefact.let_go)


IN_PARTS = """
from pack.thing import Thing, opened, read
def let_go_opening():
    pass
def let_go():
    pass
def run(place):
    found = opened(place)
    let_go_opening()
    thing = Thing(found)
    let_go()
    return thing.work(globals())
"""
OPENED = """
class Opening:
    def __init__(self, place):
        self.place = place
    def look(self):
        return read(self.place)
def read(place):
    return place + 1
def opened(place):
    return Opening(place).look()
class Thing:
    def __init__(self, found):
        self.found = read(found)
    def work(self, names):
        return self.found, "Opening" in names
"""


def test_each_part_of_a_start_is_let_go_before_the_next_begins(tmp_path):
    parts = (Global("pack.start", "let_go_opening"), LETTING_GO)
    artefact = made(tmp_path, letting_go=parts, start=IN_PARTS, thing=OPENED)
    first = artefact.text.partition("def let_go_opening():")[2].partition("\ndef ")[0]

    assert executed(artefact).run(4) == (6, False)
    assert {"opened", "Opening"} <= set(re.findall(r"del (\w+)$", first, re.M))
    assert "del read" not in first  # the next part uses it
    assert artefact.let_go.count("read") == 1


def test_what_is_left_out_goes_with_all_that_follows_its_import(tmp_path):
    modules = {
        "far": "class Far:\n    pass\n",
        "start": "def run(wanted):\n    if not wanted:\n        return 1\n"
                 "    from pack.far import Far\n    found = Far()\n    return found.distance\n"}
    whole = made(tmp_path / "whole", **modules)
    assert "distance" in whole.text

    folder = tmp_path / "less"
    tree_of(folder, **modules)
    less = flatten(walk(folder, ENTRY.module, ("pack.far",)), Plan(ENTRY, (), frozenset()))
    assert "Far" not in less.text
    assert "distance" not in less.text
    assert executed(less).run(False) == 1
    with pytest.raises(ImportError):
        executed(less).run(True)


def test_what_a_module_imports_at_its_top_is_there_all_the_same(tmp_path):
    modules = {"far": "def far():\n    return 5\n",
               "start": "from pack.far import far\ndef run():\n    return far()\n"}
    tree_of(tmp_path, **modules)
    found = flatten(walk(tmp_path, ENTRY.module, ("pack.far",)), Plan(ENTRY, (), frozenset()))
    assert executed(found).run() == 5
