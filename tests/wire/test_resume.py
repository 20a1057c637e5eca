"""Pulls that are cut and go on, from the firmware's own link: every byte as it is on the board."""

import random

import pytest

from forebay.shelf import Shelf
from forebay.wire import WireError, pull
from forebay.wire import client as wire_client
from tests.dispatch.board import Line
from tests.link.rig import RIG_ID, Rig

pytest.importorskip("pty", reason="pseudo-terminals are POSIX only")


@pytest.fixture
def rig(tmp_path):
    """A journal of several segments."""
    rig = Rig(str(tmp_path / "j"))
    rig.run(8000)
    rig.settle()
    rig.run = lambda scans: None  # the journal stands still while it is compared
    return rig


@pytest.fixture(autouse=True)
def short_waits(monkeypatch):
    monkeypatch.setattr(wire_client, "TIMEOUT_S", 0.1)
    monkeypatch.setattr(wire_client, "SILENCE_S", 0.02)


def whole(rig, shelf) -> bool:
    """Says whether the shelf holds every file of the board byte for byte."""
    for number, size in rig.journal.files():
        data = bytearray(size)
        rig.journal.read_file(number, 0, data)
        if shelf.segment(RIG_ID, 0, number // 16384, number % 16384) != bytes(data):
            return False
    return True


def test_a_pull_that_is_cut_again_and_again_ends_bit_exact(rig, tmp_path):
    """The line falls dumb after every few answers, some of them cut in the middle."""
    chance = random.Random(2)
    left = {"answers": 10}

    def mishap(_, reply):
        left["answers"] -= 1
        if left["answers"] > 0:
            return reply
        return reply[: chance.randrange(len(reply))] if left["answers"] == 0 else None

    line = Line(rig, rig.link(), mishap)
    cuts = 0
    try:
        with Shelf(tmp_path / "shelf") as shelf:
            while True:
                try:
                    pull(line.port, shelf)
                    break
                except WireError:
                    cuts += 1
                    left["answers"] = chance.randrange(9, 20)
                    assert cuts < 100
            assert whole(rig, shelf)
            left["answers"] = 1000
            assert pull(line.port, shelf).bytes == 0
    finally:
        line.close()
    assert cuts >= 3


def test_damaged_and_late_answers_cost_time_and_no_byte(rig, tmp_path):
    """Every seventh answer has a flipped bit, every eleventh is preceded by noise."""
    chance = random.Random(3)

    def mishap(number, reply):
        if number % 7 == 0:
            spoilt = bytearray(reply)
            spoilt[chance.randrange(len(reply))] ^= 1 << chance.randrange(8)
            return bytes(spoilt)
        return b"\0\xff" + reply if number % 11 == 0 else reply

    line = Line(rig, rig.link(), mishap)
    try:
        with Shelf(tmp_path / "shelf") as shelf:
            pull(line.port, shelf)
            assert whole(rig, shelf)
    finally:
        line.close()
