"""Drivers and boards run on the fake chip, a fresh one in every test."""

from typing import Any

import pytest

from tests.drivers import fake

fake.install()


@pytest.fixture
def chip() -> Any:
    """The chip as after power came."""
    return fake.module("machine").renew()
