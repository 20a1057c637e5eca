"""Two days of the demo's rig, played once for all tests of these rooms."""

import pytest

from tests.expected.played import Played, kept

CLOGGED_LOSS = 2500.0     # of the rising main, for its 5: takes about a third of the water


@pytest.fixture(scope="session")
def sound() -> Played:
    """A day on which the rig is as described."""
    return kept()


@pytest.fixture(scope="session")
def clogged() -> Played:
    """The same day with a clogged strainer."""
    return kept(rising_main__minor_loss=CLOGGED_LOSS)
