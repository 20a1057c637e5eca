"""The shelf that most tests export: four days of a row a minute."""

from datetime import UTC, datetime

import pytest

from forebay.shelf import Shelf
from tests.export.shelves import fill


@pytest.fixture
def shelf(tmp_path):
    begin = datetime(2026, 3, 27, 12, tzinfo=UTC)
    with Shelf(fill(tmp_path / "shelf", begin, 4 * 1440)) as shelf:
        yield shelf
