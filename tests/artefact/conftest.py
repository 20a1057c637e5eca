"""The chip that the artefact finds here is the fake one."""

from tests.loop.conftest import chip

__all__ = ["chip"]
