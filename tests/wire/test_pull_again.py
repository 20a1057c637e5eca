"""Pulls that fail, are cut short, or meet a journal that changes under them."""

import pytest

from forebay.shelf import Shelf
from forebay.wire import WireError, pull
from forebay.wire import client as wire_client
from tests.shelf import encoder
from tests.shelf.test_decode import steady
from tests.wire.board import FakeBoard
from tests.wire.test_pull import DETAIL, NOON, TAIL, journal_files, pty


@pytest.fixture
def shelf(tmp_path):
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        yield shelf


@pytest.fixture
def serve(monkeypatch):
    monkeypatch.setattr(wire_client, "TIMEOUT_S", 0.2)
    monkeypatch.setattr(wire_client, "SILENCE_S", 0.05)
    boards = []

    def start(**kinds):
        boards.append(FakeBoard(**kinds))
        return boards[-1], boards[-1].on_pty()

    yield start
    for board in boards:
        board.close()


@pty
@pytest.mark.parametrize("trouble", ["silent", "another map", "no directory"])
def test_a_pull_that_fails_leaves_no_shelf_behind(serve, tmp_path, trouble):
    # An empty shelf used to be left, which balance and review then took for one.
    def mishap(number, reply):
        return None if trouble == "silent" or reply[1] & 0x7F == 20 else reply

    _, port = serve(live={"map_version": 9} if trouble == "another map" else {}, mishap=mishap)
    with Shelf(tmp_path / "none" / "s") as shelf, pytest.raises(WireError):
        pull(port, shelf)
    assert list(tmp_path.iterdir()) == []


@pty
def test_after_a_cut_line_the_next_pull_goes_on_where_the_last_one_stopped(serve, shelf):
    big = encoder.header(0, 1) + b"".join(
        encoder.block(1 + 64 * i, steady(64, 100 + 6400 * i)) for i in range(12))
    board, port = serve(files={DETAIL + 1: big})
    board.mishap = lambda number, reply: reply if board.asked_words < len(big) // 4 else None
    with pytest.raises(WireError, match="no answer"):
        pull(port, shelf)
    held = shelf.segment(7, 0, 0, 1)
    assert 0 < len(held) < len(big)
    _, port = serve(files={DETAIL + 1: big})
    assert pull(port, shelf).bytes <= len(big) - len(held) + 34
    assert shelf.segment(7, 0, 0, 1) == big


@pty
def test_an_interrupted_pull_keeps_its_anchor(serve, shelf):
    # Used to be noted at the end: the rows that had arrived then had no time.
    _, port = serve(files=journal_files())

    def interrupt(done, total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        pull(port, shelf, progress=interrupt, now_utc=lambda: NOON)
    assert [one.utc_s for one in shelf.anchors(7)] == [NOON.timestamp()]


@pty
def test_a_tail_that_became_a_block_while_it_was_listed_is_found_in_the_block(serve, shelf):
    files = journal_files()
    tail = files.pop(TAIL + 2)
    board, port = serve(files={**files, TAIL + 2: tail})
    asked = []

    def hand_over(number, reply):
        asked.append(reply)
        if reply[1] == 20 and board.files.pop(TAIL + 2, None):
            board.files[DETAIL + 1] += encoder.block(65, steady(64, 6500))
            board.files[TAIL + 3] = encoder.header(3, 3)
        return reply

    board.mishap = hand_over
    report = pull(port, shelf)
    assert report.files_gone == 1
    assert report.new_rows == 128
    assert shelf.segment(7, 0, 0, 1) == board.files[DETAIL + 1]


@pty
def test_a_new_journal_that_was_begun_before_is_gone_on_with(serve, shelf):
    # Each try used to begin another journal on the shelf.
    board, port = serve(files=journal_files(), live={"boot": 4})
    pull(port, shelf)
    board.files = {DETAIL + 1: encoder.header(0, 1) + encoder.block(1, steady(9, 5000)) * 9}
    fresh = board.files[DETAIL + 1]
    shelf.put_segment(7, 1, 0, 1, fresh[:100])
    report = pull(port, shelf)
    assert not report.new_journal
    assert shelf.generations(7) == [0, 1]
    assert shelf.segment(7, 1, 0, 1) == fresh
    assert pull(port, shelf).bytes == 0


@pty
def test_the_boards_list_of_files_is_kept(serve, shelf):
    board, port = serve(files=journal_files())
    pull(port, shelf, now_utc=lambda: NOON)
    when_s, generation, files = shelf.listings(7)[-1]
    assert (when_s, generation) == (NOON.timestamp(), 0)
    assert {16384 * stream + number: size for stream, number, size in files} == {
        number: len(data) for number, data in board.files.items()}


@pty
def test_segments_of_a_newer_version_are_kept_and_said(serve, shelf):
    newer = encoder.header(0, 1, version=2) + b"of later days"
    _, port = serve(files={DETAIL + 1: newer})
    report = pull(port, shelf)
    assert shelf.segment(7, 0, 0, 1) == newer
    assert "newer version" in "\n".join(report.lines())
