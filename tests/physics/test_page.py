"""The page on the physics is drawn from the code and is current."""

import pathlib

import pytest

from forebay.docs import physics
from tests.physics.inventory import TARGETS

# The program under test may be an installed one: the repository is that of the tests.
ROOT = pathlib.Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def text():
    return physics.page(ROOT)


def test_the_committed_page_is_what_the_code_draws(text):
    committed = (ROOT / physics.PAGE).read_text(encoding="utf-8")
    assert committed == text, f"run {physics.COMMAND}"


def test_the_page_has_every_public_function(text):
    assert [t for t in TARGETS if f"### `{t.partition('.')[2]}`" not in text] == []


def test_check_says_whether_the_page_is_current(text, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(physics, "page", {ROOT: text}.__getitem__)     # it is worked out once
    target = tmp_path / "docs" / "physics.md"
    assert physics.main(["--check"], ROOT, target) == 1
    assert "is not current" in capsys.readouterr().err
    assert physics.main([], ROOT / "tests", target) == 0
    assert target.read_text(encoding="utf-8") == text
    assert physics.main(["--check"], ROOT, target) == 0


def test_a_wrong_call_is_told_what_to_do(tmp_path, capsys):
    assert physics.main(["--nonsense"], ROOT) == 2
    assert capsys.readouterr().err == f"usage: {physics.COMMAND} [--check]\n"
    assert physics.main([], tmp_path) == 2
    assert "not in a clone of the repository" in capsys.readouterr().err
