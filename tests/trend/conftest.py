"""The played days of the room beside."""

from tests.expected.conftest import clogged, sound  # noqa: F401 - fixtures
