"""A link in front of a keeper that has a journal."""

import pytest

from keeper.link.rtu import Link
from tests.link.rig import Rig


@pytest.fixture
def rig(tmp_path) -> Rig:
    """A keeper with a block of 64 rows, a tail and an event."""
    rig = Rig(str(tmp_path / "j"))
    rig.run(1001)
    rig.settle()
    return rig


@pytest.fixture
def keeper(rig):
    return rig.keeper


@pytest.fixture
def link(rig) -> Link:
    return rig.link()
