"""Pull over a real pseudo terminal and TCP, against a board written for the tests."""

import os
from datetime import UTC, datetime

import pytest

from forebay.shelf import Shelf
from forebay.wire import Board, WireError, pull
from forebay.wire import client as wire_client
from tests.shelf import encoder
from tests.shelf.test_decode import plain, steady
from tests.wire.board import FakeBoard, crc16

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
DETAIL, EVENTS, TAIL = 0, 16384, 3 * 16384

pty = pytest.mark.skipif(os.name == "nt", reason="no pseudo terminals on this system")


def journal_files():
    """Returns one detail segment, one of events and a tail."""
    rows = steady(64)
    return {
        DETAIL + 1: encoder.header(0, 1) + encoder.block(1, rows),
        EVENTS + 1: encoder.header(1, 1) + encoder.event(1, 1, 1, 1),
        TAIL + 2: encoder.header(3, 2) + plain(steady(5, 6500), 65),
    }


@pytest.fixture
def shelf(tmp_path):
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        yield shelf


@pytest.fixture
def serve():
    boards = []

    def start(how="on_pty", **kinds):
        board = FakeBoard(**kinds)
        boards.append(board)
        return board, getattr(board, how)()

    yield start
    for board in boards:
        board.close()


@pytest.fixture(autouse=True)
def short_waits(monkeypatch):
    monkeypatch.setattr(wire_client, "TIMEOUT_S", 0.2)
    monkeypatch.setattr(wire_client, "SILENCE_S", 0.05)
    monkeypatch.setattr(wire_client, "BUSY_WAIT_S", 0.01)


@pytest.mark.parametrize("how", [pytest.param("on_pty", marks=pty), "on_tcp"])
def test_a_pull_brings_every_byte_and_a_second_one_brings_none(serve, shelf, how):
    board, port = serve(how, files=journal_files())
    first = pull(port, shelf, now_utc=lambda: NOON)
    for number, data in board.files.items():
        assert shelf.segment(7, 0, number // 16384, number % 16384) == data
    assert (first.files, first.new_rows, first.new_events) == (3, 69, 1)
    assert first.bytes == sum(map(len, board.files.values()))
    if how == "on_pty":
        asked = board.asked_words
        second = pull(port, shelf, now_utc=lambda: NOON)
        assert (second.bytes, second.new_rows, second.new_journal) == (0, 0, False)
        assert board.asked_words == asked


@pty
def test_a_grown_file_is_fetched_from_near_the_byte_already_held(serve, shelf):
    board, port = serve(files=journal_files())
    pull(port, shelf)
    grown = board.files[TAIL + 2] + plain(steady(1, 7000), 70)
    board.files[TAIL + 2] = grown
    again = pull(port, shelf)
    assert shelf.segment(7, 0, 3, 2) == grown
    assert again.new_rows == 1
    assert again.bytes <= 52 + 32


@pty
def test_odd_sizes_lose_their_padding_byte(serve, shelf):
    files = journal_files()
    files[DETAIL + 1] += b"\xa7"
    board, port = serve(files=files)
    pull(port, shelf)
    assert shelf.segment(7, 0, 0, 1) == files[DETAIL + 1]
    board.files[DETAIL + 1] += b"\x00\x01"
    pull(port, shelf)
    assert shelf.segment(7, 0, 0, 1) == board.files[DETAIL + 1]


@pty
def test_an_interrupted_pull_keeps_what_arrived_and_the_next_goes_on(serve, shelf):
    big = encoder.header(0, 1) + b"".join(
        encoder.block(1 + 64 * i, steady(64, 100 + 6400 * i)) for i in range(6)
    )
    board, port = serve(files={DETAIL + 1: big})

    def interrupt(done, total):
        if done > len(big) // 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        pull(port, shelf, progress=interrupt)
    held = shelf.segment(7, 0, 0, 1)
    assert 0 < len(held) < len(big)
    assert big.startswith(held)
    assert len(shelf.journal(7).rows) > 0
    report = pull(port, shelf)
    assert shelf.segment(7, 0, 0, 1) == big
    assert report.bytes < len(big) - len(held) + 40


@pty
def test_more_files_than_one_answer_can_list_are_all_found(serve, shelf):
    files = {number: encoder.header(0, number) for number in range(1, 102)}
    _, port = serve(files=files)
    assert pull(port, shelf).files == 101


@pty
def test_lost_late_and_garbled_answers_cost_time_but_no_byte(serve, shelf):
    def mishap(number, reply):
        if number % 5 == 0:
            return None
        if number % 7 == 0:
            return reply[:-1] + bytes([reply[-1] ^ 1])
        if number % 11 == 0:
            body = reply[:1] + bytes([reply[1] | 0x80, 6])
            return body + crc16(body)
        return reply

    board, port = serve(files=journal_files(), mishap=mishap)
    pull(port, shelf)
    for number, data in board.files.items():
        assert shelf.segment(7, 0, number // 16384, number % 16384) == data


@pty
@pytest.mark.parametrize(("busy", "ends"), [(9, True), (10**6, False)])
def test_a_busy_board_is_waited_for_but_not_for_ever(serve, shelf, monkeypatch, busy, ends):
    monkeypatch.setattr(wire_client, "LONGEST_BUSY_S", 0.5)

    def mishap(number, reply):
        body = reply[:1] + bytes([reply[1] | 0x80, 6])
        return body + crc16(body) if number <= busy else reply

    _, port = serve(files=journal_files(), mishap=mishap)
    if ends:
        assert pull(port, shelf).files == 3
    else:
        with pytest.raises(WireError, match="it is busy"):
            pull(port, shelf)


@pty
def test_a_file_that_vanished_in_between_is_counted_not_fatal(serve, shelf):
    board, port = serve(files=journal_files())
    board.mishap = lambda number, reply: board.files.pop(TAIL + 2, None) and reply or reply
    board.files[TAIL + 3] = board.files[TAIL + 2]
    report = pull(port, shelf)
    assert report.files + report.files_gone >= 3


@pty
@pytest.mark.parametrize("sign", ["boot fell back", "a file shrank", "other bytes"])
def test_a_board_that_began_a_new_journal_keeps_both(serve, shelf, sign):
    board, port = serve(files=journal_files(), live={"boot": 4})
    pull(port, shelf)
    old = shelf.segment(7, 0, 0, 1)
    fresh = encoder.header(0, 1) + encoder.block(1, steady(9, 5000))
    if sign == "boot fell back":
        board.live["boot"] = 1
    elif sign == "a file shrank":
        fresh = fresh[: len(old) - 1]
    else:
        fresh += encoder.block(10, steady(64, 9000, boot=9)) * 3
    board.files = {DETAIL + 1: fresh}
    report = pull(port, shelf)
    assert report.new_journal
    assert shelf.segment(7, 0, 0, 1) == old
    assert shelf.segment(7, 1, 0, 1) == fresh
    assert shelf.generations(7) == [0, 1]


@pty
def test_a_tail_whose_number_came_round_again_replaces_the_old_one(serve, shelf):
    board, port = serve(files=journal_files())
    pull(port, shelf)
    board.files[TAIL + 2] = encoder.header(3, 2) + plain(steady(2, 9000), 500)
    report = pull(port, shelf)
    assert not report.new_journal
    assert shelf.segment(7, 0, 3, 2) == board.files[TAIL + 2]


@pty
def test_the_anchor_ties_uptime_to_the_time_of_the_pull(serve, shelf):
    _, port = serve(files=journal_files())
    report = pull(port, shelf, now_utc=lambda: NOON)
    clock = shelf.clock(7)
    assert clock.utc([0], [1], [1000])[0] == NOON.timestamp()
    assert clock.utc([0], [1], [400])[0] == NOON.timestamp() - 60
    assert report.anchor_uncertainty_s == pytest.approx(0.1 / 3**0.5)


@pty
def test_live_values_come_by_name_with_their_signs(serve):
    _, port = serve(live={"supply_mA": -42, "up_uL": 5 * 10**12, "out_valve_permille": 500})
    with Board(port) as board:
        live = board.live()
    assert live["supply_mA"] == -42
    assert live["up_uL"] == 5 * 10**12
    assert live["out_valve_permille"] == 500


@pty
def test_a_board_of_another_map_is_refused_in_one_line(serve, shelf):
    _, port = serve(live={"map_version": 9})
    with pytest.raises(WireError, match="register map 9") as caught:
        pull(port, shelf)
    assert "\n" not in str(caught.value)


@pty
def test_a_board_of_the_map_before_gives_its_journal_and_what_its_map_has(serve, shelf):
    _, port = serve(live={"map_version": 3, "boot": 5})
    assert pull(port, shelf).boot == 5
    with Board(port) as board:
        for ask in (board.live, lambda: board.values("boot", "journal_state")):
            with pytest.raises(WireError, match="register map 3.*or bring it over with `forebay"):
                ask()


@pty
def test_a_board_of_the_last_map_is_asked_all_but_what_it_lacks(serve, shelf):
    _, port = serve(live={"map_version": 6, "boot": 5})
    assert pull(port, shelf).boot == 5
    with Board(port) as board:
        assert board.values("boot", "board_id", "refused_tag")["boot"] == 5
        assert not board.has("fitted")


@pty
def test_a_silent_board_is_one_line(serve, shelf):
    _, port = serve(mishap=lambda number, reply: None)
    with pytest.raises(WireError, match="no answer"):
        pull(port, shelf)


@pytest.mark.parametrize(
    ("port", "said"),
    [
        ("/dev/no-such-port", "there is no port /dev/no-such-port"),
        ("127.0.0.1:1", "nothing answers at 127.0.0.1:1"),
        ("tcp:host:99999", "PORT of 1 to 65535"),
        ("tcp:", "PORT of 1 to 65535"),
    ],
)
def test_a_port_that_is_not_there_is_one_line_that_names_it(shelf, port, said):
    with pytest.raises(WireError, match=said) as caught:
        pull(port, shelf)
    assert "\n" not in str(caught.value)


def test_a_file_that_is_no_port_says_so(shelf, tmp_path):
    path = tmp_path / "notes.txt"
    path.write_text("not a port")
    with pytest.raises(WireError, match="not a serial port"):
        pull(str(path), shelf)
