"""A twin for those who look at hazards."""

import pytest

from tests.campaign.scene import Watched, demo, steady


@pytest.fixture
def twin():
    """A twin that is not stepped: the plant is what the test makes of it."""
    rig, settings = demo({"upper.start_volume_m3": 0.5})
    one = Watched(rig, settings, steady(0.0))
    yield one
    one.close()
