"""What tests of commands share."""

import functools

import pytest

from forebay import described


@pytest.fixture
def descriptions_once(monkeypatch):
    """Each text of a description is loaded once, not anew by each command that needs it."""
    monkeypatch.setattr(described, "load_text", _load_text)
    monkeypatch.setattr(described, "load", _load)


_load, _load_text = map(functools.cache, (described.load, described.load_text))
