"""A share of the fuzz campaign; the long form is `python -m tests.fuzz.campaign`."""

import random

import pytest

from tests.fuzz import campaign

SHARE_BYTES = 150_000


@pytest.fixture(params=["serial line, with a key", "USB, without a key", "TCP, with a key"])
def target(request, tmp_path):
    return campaign.targets(str(tmp_path), random.Random(5))[request.param]


def test_bad_bytes_move_nothing_and_the_next_good_request_is_answered(target, record_property,
                                                                      request):
    found = campaign.run(target, SHARE_BYTES, random.Random(6))
    record_property("measured", f"fuzz, {request.node.callspec.id}: {found['bytes']:.0f} bytes in"
                    f" {found['s']:.1f} s, {found['refused']:.0f} orders refused")
    assert found["bytes"] >= SHARE_BYTES
    assert found["refused"] > 10
    assert found["answered"] > 100
    assert found["bad_frames"] > 50


def test_the_campaign_notices_an_output_that_moves(target):
    """It would be no test otherwise: a board that obeys a replayed order is found out."""
    target.rig.keeper.core.sequence.light.hold(600, 36000)

    def scan():
        for _ in range(100):
            target.scan()

    with pytest.raises(AssertionError):
        scan()


def test_the_campaign_notices_an_order_that_passes(target, monkeypatch):
    monkeypatch.setattr(type(target.rig.desk), "_gate", lambda self: 0)
    with pytest.raises(AssertionError):
        campaign.run(target, SHARE_BYTES, random.Random(6))
