"""A link in front of a keeper that has a journal."""

import pytest

from keeper.journal import Journal
from keeper.link import Link
from tests.journal.fakes import RIG_ID, FakeKeeper


@pytest.fixture
def keeper(tmp_path) -> FakeKeeper:
    """A keeper with a block of 64 rows, a tail and an event."""
    keeper = FakeKeeper(Journal(str(tmp_path / "j"), RIG_ID, 7), running_s=1)
    keeper.run(1001)
    return keeper


@pytest.fixture
def link(keeper) -> Link:
    return Link(keeper, keeper.journal)
