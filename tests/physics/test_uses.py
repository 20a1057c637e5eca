"""Every public name of the physics is called by the program, or says what it is kept for."""

import pathlib

import pytest

from forebay.docs import uses
from tests.physics.inventory import TARGETS, docstring

ROOT = pathlib.Path(__file__).resolve().parents[2]
KEPT = {target for target in TARGETS if docstring(target).kept_for}


@pytest.fixture(scope="module")
def users():
    """Who uses which name of the physics."""
    return uses.users(ROOT)


def test_every_public_name_is_used_outside_the_tests_or_kept_for_something(users):
    # A method of what is kept is kept with it.
    kept = KEPT | {target for target in TARGETS if target.rpartition(".")[0] in KEPT}
    assert set(TARGETS) <= set(users)
    assert [target for target in TARGETS if target not in uses.reached(users, kept)] == []


def test_what_the_program_calls_does_not_say_that_it_waits_for_a_caller(users):
    called = uses.reached(users, set())
    assert sorted(KEPT & called) == []


def test_what_is_kept_is_kept_for_a_part_of_the_job():
    jobs = ("protection", "sizing", "hardware margins", "calibration")
    assert [t for t in KEPT if not docstring(t).kept_for.startswith(jobs)] == []


def test_a_use_is_found_through_modules_names_classes_and_methods(tmp_path):
    physics = tmp_path / "firmware" / "keeper" / "physics"
    physics.mkdir(parents=True)
    (physics / "a.py").write_text("def f():\n    return _g()\ndef _g():\n    pass\ndef h(): ...\n")
    (physics / "b.py").write_text(
        "from keeper.physics import a as other\nfrom keeper.physics.a import f\n"
        "class Base:\n    def low(self): ...\n    def idle(self): ...\n"
        "class Top(Base):\n    def run(self):\n        return self.low() + f() + other.h()\n")
    host = tmp_path / "host"
    host.mkdir()
    (host / "forebay.py").write_text("from keeper.physics.b import Top\nTop().run()\n")
    found = uses.users(tmp_path)
    assert found["b.Top"] == found["b.Top.run"] == {"forebay"}
    assert found["a.f"] == found["a.h"] == found["b.Base.low"] == {"b.Top.run"}
    assert found["b.Base"] == {"b.Top"}
    assert found["a._g"] == {"a.f"}
    assert set(found) - uses.reached(found, set()) == {"b.Base.idle"}
    assert uses.reached(found, {"b.Base.idle"}) == set(found)
