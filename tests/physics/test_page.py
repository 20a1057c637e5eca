"""The page on the physics is drawn from the code and is current."""

import pytest

from forebay.docs import physics
from tests.physics.inventory import TARGETS


@pytest.fixture(scope="module")
def text():
    return physics.page()


def test_the_committed_page_is_what_the_code_draws(text):
    committed = physics.PAGE.read_text(encoding="utf-8")
    assert committed == text, f"run {physics.COMMAND}"


def test_the_page_has_every_public_function(text):
    assert [t for t in TARGETS if f"### `{t.partition('.')[2]}`" not in text] == []


def test_check_says_whether_the_page_is_current(text, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(physics, "PAGE", tmp_path / "docs" / "physics.md")
    assert physics.main(["--check"]) == 1
    assert "is not current" in capsys.readouterr().err
    assert physics.main([]) == 0
    assert physics.main(["--check"]) == 0
    assert physics.main(["--nonsense"]) == 2
