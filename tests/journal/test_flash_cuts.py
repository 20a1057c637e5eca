"""Power cuts on real littlefs, with the board's geometry: a share of what cuts.py does by hand."""

import dataclasses
import random

import pytest

from tests.journal import cuts, reader
from tests.journal.flash import BLOCK_BYTES, ERASED, BoardFs, Chip, apply, tear
from tests.journal.story import PLANS, Committed, Story, shortened

# Shorter segments, quarter hours and stories, so that a share meets everything.
SHORT = dataclasses.replace(
    PLANS[0], scans=14_000, segment_most=4000, budget_bytes=41_000, events_every=60, boots=2
)


@pytest.fixture(scope="module")
def story() -> Story:
    with shortened(SHORT):
        return Story(SHORT)


def test_the_story_that_is_cut_rotates_hands_over_and_gives_up(story):
    done = {operation + name[0] for operation, name, *_ in story.calls}
    assert done >= {"createt", "removet", "appendd", "created", "removed", "createe", "removee",
                    "appends"}  # fmt: skip
    kinds = {kind for kind, *_ in story.steps}
    assert kinds == {"erase", "program"}
    assert {name[0] for operation, name, *_ in story.calls if operation == "remove"} >= {*"tde"}


def test_after_a_cut_before_in_and_after_any_step_of_the_flash_all_is_read_back(story):
    cutter = cuts.Cutter(story, seed=1, every=4)
    assert cutter.run(most=100_000) > 1500


def test_every_step_of_a_rotation_is_cut(story):
    """Each step of the calls that begin and remove a segment, and of their neighbours."""
    cutter = cuts.Cutter(story, seed=2)
    committed = Committed(story.calls)
    image = bytearray(story.image)
    near = set()
    for operation, name, _, first, last in story.calls:
        if (operation, name[0]) in (("remove", "d"), ("create", "d"), ("remove", "e")):
            near.update(range(first - 8, last + 8))
    with shortened(SHORT):
        for place, step in enumerate(story.steps):
            committed.advance(place)
            if place in near:
                cutter.look(image, committed, place, "before")
            apply(image, step)
    assert cutter.cuts > 200


def test_a_promise_that_is_broken_is_noticed(story):
    """The campaign can fail: a byte of a synced file that changes, a file that is gone."""
    committed = Committed(story.calls)
    committed.advance(len(story.steps))
    found = dict(committed.files)
    assert committed.contradicts(found) == ""
    name = max(found)
    assert "not as synced" in committed.contradicts({**found, name: found[name][:-1] + b"?"})
    del found[name]
    assert "gone" in committed.contradicts(found)
    content = reader.joined([reader.read_file(n, data) for n, data in committed.files.items()])
    less = dict(content.rows)
    less.pop(max(less) - 1)
    with pytest.raises(AssertionError, match="gap"):
        cuts.compare_numbered("row", content.rows, less)


def test_the_chip_behaves_like_flash():
    image = bytearray(ERASED * 2 * BLOCK_BYTES)
    apply(image, ("program", 1, 256, b"\x0f" * 256))
    apply(image, ("program", 1, 256, b"\xf1" * 256))
    assert image[BLOCK_BYTES + 256 : BLOCK_BYTES + 512] == b"\x01" * 256  # bits only fall
    whole = bytes(image)
    tear(image, ("program", 0, 0, b"\0" * 1024), random.Random(2))
    assert image != whole
    assert image[1023] == 0xFF  # the end of what was cut was never reached
    apply(image, ("erase", 1, 0, b""))
    assert image[BLOCK_BYTES:] == ERASED * BLOCK_BYTES


def test_files_on_the_chip_behave_as_on_the_board():
    chip = Chip(64)
    fs = BoardFs(chip, fresh=True)
    with fs.open("/a", "ab") as file:
        file.write(b"one")
        file.flush()
    chip.image[:] = BoardFs(Chip(64, chip.image)).chip.image
    assert BoardFs(Chip(64, chip.image)).files("/") == {"a": b"one"}
    with fs.open("/a", "ab") as file:
        file.write(b"two")
        copy = bytes(chip.image)  # the power fails before the flush
    assert BoardFs(Chip(64, copy)).files("/") == {"a": b"one"}
    assert fs.files("/") == {"a": b"onetwo"}
