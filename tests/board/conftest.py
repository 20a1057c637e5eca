"""Tests on the emulated board need an interpreter image; without one they are not run."""

import pytest

from tests.board import rig


@pytest.fixture
def board_files() -> dict[str, bytes | str]:
    """Files of a board without our firmware: a main.py that does nothing."""
    return {"/main.py": "pass\n"}


@pytest.fixture(scope="session")
def make_board() -> type[rig.EmulatedBoard]:
    """The class EmulatedBoard, or a skip that says why it cannot be used."""
    if rig.missing():
        pytest.skip(rig.missing())
    return rig.EmulatedBoard
