"""Nights that several tests of reviews look at are played once for all of them."""

import pytest

from tests.review.nights import night


@pytest.fixture(scope="session")
def folder(tmp_path_factory):
    """Where short nights are played."""
    return tmp_path_factory.mktemp("nights")


@pytest.fixture(scope="session")
def good(folder):
    """The review of a night with light as long as wanted."""
    return night(folder, "good", dawn_min=40, hours=0.9)


@pytest.fixture(scope="session")
def locked(folder):
    """The review of a night that ends locked out, at `folder / "lockout"`."""
    return night(folder, "lockout", [(27, "generator-lead-open")], hours=0.9)
