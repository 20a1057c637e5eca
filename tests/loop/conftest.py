"""The loop and the loader run on the fake chip, with a clock that moves when told."""

from typing import Any

import pytest

from tests.drivers import fake

fake.install()


@pytest.fixture
def chip() -> Any:
    """The chip as after power came."""
    return fake.module("machine").renew()
