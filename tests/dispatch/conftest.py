"""A rig with a key on a pseudo terminal; the host has the same key."""

import pytest

from forebay.dispatch import keys
from tests.dispatch.board import Line
from tests.link.rig import RIG_ID, Rig

pytest.importorskip("pty", reason="pseudo-terminals are POSIX only")


@pytest.fixture(autouse=True)
def own_keys(tmp_path, monkeypatch):
    """Keys of this test alone."""
    monkeypatch.setattr(keys, "folder", lambda: tmp_path / "keys")


@pytest.fixture
def key():
    return keys.ensure(RIG_ID)


@pytest.fixture
def rig(tmp_path, key) -> Rig:
    rig = Rig(str(tmp_path / "j"), key.secret)
    rig.run(5)
    return rig


@pytest.fixture
def line(rig):
    line = Line(rig, rig.link())
    yield line
    line.close()
