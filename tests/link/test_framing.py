"""Frames found in a stream of bytes, however they come."""

import random
import struct

import pytest

from keeper.link import rtu
from keeper.link.crc import crc16
from keeper.link.layout import MAP_VERSION
from keeper.link.rtu import Link
from tests.link import frames
from tests.link.frames import frame, pdu_of, read_file, read_holding, read_registers, write_many

GOOD = read_registers(0, 2)  # map_version, firmware_version: never change
ANSWER = struct.pack(">BBHH", 4, 4, MAP_VERSION, 100)
FILE = read_file((16385, 0, 20))
PAUSE_MS = 1000
CASES = [GOOD, FILE, read_registers(64, 100), read_file((16385, 0, 3), (16385, 1, 2)),
         read_registers(0, 200), read_file((9, 0, 1)), read_holding(0, 36),
         write_many(0, [0] * 30), b"\x10\0\x20\0\2\2\0\0"]  # fmt: skip


def replies(link: Link, pieces, now_ms=0) -> list[bytes]:
    """Feeds pieces 1 ms apart and returns all that is answered, with silence at the end."""
    found = []
    for piece in pieces:
        link.feed(piece, now_ms)
        found += drained(link, now_ms)
        now_ms += 1
    return found + drained(link, now_ms + PAUSE_MS)


def drained(link: Link, now_ms: int) -> list[bytes]:
    """Returns the replies of as many polls as the work takes."""
    found = []
    while (reply := link.poll(now_ms)) is not None or link.work <= 0:
        if reply is not None:
            found.append(bytes(reply))
    return found


def answers_again(link: Link, now_ms=PAUSE_MS * 3) -> bool:
    """True if the next good request, after a pause, gets its answer at once."""
    link.feed(frame(GOOD), now_ms)
    return [pdu_of(reply) for reply in drained(link, now_ms)] == [ANSWER]


def test_the_crc_has_the_check_value_of_the_catalogue():
    """CRC-16/MODBUS of "123456789" is 4B37 (package crcmod, model "modbus")."""
    assert crc16(b"123456789", 0, 9) == 0x4B37
    assert frames.crc16(b"123456789") == 0x4B37


def test_the_crc_equals_the_bitwise_one_on_any_stretch():
    chance = random.Random(1)
    for _ in range(200):
        data = chance.randbytes(chance.randrange(260))
        start = chance.randrange(len(data) + 1)
        assert crc16(data, start, len(data)) == frames.crc16(data[start:])


@pytest.mark.parametrize("pdu", CASES)
def test_a_frame_whole_in_bytes_and_in_pieces_gets_the_same_answer(keeper, pdu):
    whole = replies(Link(keeper, keeper.journal), [frame(pdu)])
    assert len(whole) == 1
    pdu_of(whole[0])
    by_bytes = [bytes([byte]) for byte in frame(pdu)]
    assert replies(Link(keeper, keeper.journal), by_bytes) == whole
    assert replies(Link(keeper, keeper.journal), list(frame(pdu))) == whole
    half = len(pdu) // 2
    assert replies(Link(keeper, keeper.journal), [frame(pdu)[:half], frame(pdu)[half:]]) == whole


@pytest.mark.parametrize("garbage", [
    b"\0", b"\xff", b"\1", b"\1\4", b"\1\x14\xf5", b"AT\r\n", b"\1\x10\0\0\0\1\xf6", b"\x2a" * 30,
    b"\1\4\0\0\0\2\0\0", b"\0" * 300,
])  # fmt: skip
@pytest.mark.parametrize("pdu", CASES)
def test_garbage_before_and_after_costs_no_answer(keeper, pdu, garbage):
    whole = [pdu_of(reply) for reply in replies(Link(keeper, keeper.journal), [frame(pdu)])]
    for pieces in ([garbage + frame(pdu)], [garbage, frame(pdu)], list(garbage + frame(pdu)),
                   [frame(pdu) + garbage], list(frame(pdu) + garbage)):  # fmt: skip
        link = Link(keeper, keeper.journal)
        got = [pdu_of(reply) for reply in replies(link, pieces)]
        assert got == whole
        assert answers_again(link)


def test_glued_requests_are_answered_one_after_the_other(link):
    got = replies(link, [frame(GOOD) + frame(FILE) + frame(GOOD)])
    assert [pdu_of(reply)[0] for reply in got] == [4, 20, 4]


def test_a_bad_crc_gets_no_answer_and_is_counted_once(link):
    bad = bytearray(frame(GOOD))
    bad[-1] ^= 1
    assert replies(link, [bytes(bad)]) == []
    assert link.answers.published.bad_frames == 1
    assert link.answers.published.requests == 0
    assert answers_again(link)
    assert link.answers.published.bad_frames == 1


def test_a_good_frame_glued_to_a_bad_one_is_answered(link):
    bad = bytearray(frame(GOOD))
    bad[3] ^= 8
    assert [pdu_of(reply) for reply in replies(link, [bytes(bad) + frame(GOOD)])] == [ANSWER]


def test_other_units_and_broadcasts_are_never_answered(link):
    for unit in (0, 2, 247):
        assert replies(link, [frame(GOOD, unit)]) == []
        assert replies(link, [frame(b"\x7f\1", unit)]) == []
    assert link.answers.published.requests == 0
    assert answers_again(link)


def test_the_unit_can_be_chosen(keeper):
    link = Link(keeper, keeper.journal, unit=17)
    [reply] = replies(link, [frame(GOOD) + frame(GOOD, 17)])
    assert pdu_of(reply, unit=17) == ANSWER
    for unit in (0, 248):
        with pytest.raises(ValueError, match="must be 1 to 247"):
            Link(keeper, keeper.journal, unit)


@pytest.mark.parametrize("unit", [1, 2, 247])
def test_the_line_at_the_board_answers_whichever_unit_it_is_called(keeper, unit):
    link = Link(keeper, keeper.journal, local=True)
    assert [pdu_of(reply, unit) for reply in replies(link, [frame(GOOD, unit)])] == [ANSWER]
    assert [pdu_of(reply, unit) for reply in replies(
        link, [b"\xff\0" + frame(GOOD, unit)])] == [ANSWER]
    assert replies(link, [frame(GOOD, 0)]) == []
    link.feed(frame(b"\x2a\1\2\3", unit), 1000)
    assert pdu_of(link.poll(1060), unit) == b"\xaa\1"


def test_half_a_request_is_forgotten_after_silence(link):
    link.feed(frame(GOOD)[:5], 0)
    assert link.poll(49) is None
    link.feed(frame(GOOD), 50)
    assert [pdu_of(reply) for reply in drained(link, 50)] == [ANSWER]


def test_pauses_shorter_than_the_silence_do_not_break_a_frame(link):
    now_ms = 0
    for byte in frame(GOOD)[:-1]:
        link.feed(byte, now_ms)
        assert link.poll(now_ms + 48) is None
        now_ms += 49
    link.feed(frame(GOOD)[-1], now_ms)
    assert pdu_of(link.poll(now_ms)) == ANSWER


def test_silence_is_seen_across_the_wrap_of_the_ticks(link):
    last = (1 << 30) - 20
    link.feed(frame(GOOD)[:5], last)
    link.feed(frame(GOOD)[5:], 20)  # 40 ms later
    assert pdu_of(link.poll(20)) == ANSWER
    link.feed(frame(GOOD)[:5], last)
    link.feed(frame(GOOD), 40)
    assert pdu_of(link.poll(40)) == ANSWER


def test_an_unknown_function_is_refused_once_the_line_is_silent(link):
    link.feed(frame(b"\x2a\1\2\3"), 0)
    assert link.poll(10) is None
    assert pdu_of(link.poll(60)) == b"\xaa\1"
    assert link.poll(61) is None


def test_the_longest_answer_fits_a_frame(link, keeper):
    """121 words: 2 + 2 + 242 bytes of PDU, 249 with unit and CRC, below 256."""
    size, number = max((size, number) for number, size in keeper.journal.files())
    assert size >= 242
    [reply] = replies(link, [frame(read_file((number, 0, 121)))])
    assert len(reply) == 249
    [reply] = replies(link, [frame(read_registers(0, 125))])
    assert len(reply) == 255


def test_noise_of_any_kind_never_raises_and_the_next_request_is_answered(keeper):
    chance = random.Random(20)
    link = Link(keeper, keeper.journal)
    now_ms = 0
    for _ in range(1500):
        noise = noise_of(chance)
        for piece in pieces_of(chance, noise):
            link.feed(piece, now_ms)
            if chance.random() < 0.5:
                drained(link, now_ms)
            now_ms = (now_ms + chance.choice((0, 1, 20, 60))) % (1 << 30)
        now_ms = (now_ms + PAUSE_MS) % (1 << 30)
        drained(link, now_ms)
        assert answers_again(link, now_ms)
        assert link.count == 0


def noise_of(chance) -> bytes:
    """Random bytes, frames with random PDUs, damaged and cut frames, or a mixture."""
    kind = chance.randrange(5)
    if kind == 0:
        return chance.randbytes(chance.randrange(1, 700))
    if kind == 1:
        pdu = bytes([chance.choice((1, 3, 4, 16, 20, 21, 23, 43, chance.randrange(256)))])
        return frame(pdu + chance.randbytes(chance.randrange(252)))
    if kind == 2:
        words = [chance.randrange(65536) for _ in range(6)]
        return frame(read_file(tuple(words[:3]), tuple(words[3:])))
    if kind == 3:
        data = bytearray(frame(chance.choice(CASES)))
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        return bytes(data)[: chance.randrange(1, len(data) + 1)]
    return noise_of(chance) + noise_of(chance)


def pieces_of(chance, data: bytes):
    """Cuts data at random places."""
    while data:
        size = chance.randint(1, len(data))
        yield data[:size]
        data = data[size:]


def crafted():
    """Returns as many bytes as are held, at each of which a frame for the board seems to begin.

    Its function counts its bytes, so that a CRC over much of what follows is due there.
    """
    return bytes([1, 16, 1, 16, 1, 16, 247, 247] * (rtu.HELD_MOST // 8))


@pytest.mark.parametrize("silence_ms", [0, 60])
@pytest.mark.parametrize("data", [
    crafted(), bytes([1, 20, 230] * 170), bytes([1] * 512), bytes([1, 3] * 256)])
def test_a_poll_does_no_more_than_its_share_and_the_next_goes_on(
        link, monkeypatch, data, silence_ms):
    steps = [0]

    def counted(data, start, end):
        steps[0] += end - start
        return crc16(data, start, end)

    monkeypatch.setattr(rtu, "crc16", counted)
    link.feed(data, 0)
    now_ms, most = silence_ms, 0
    for _ in range(rtu.HELD_MOST):
        steps[0] = 0
        assert link.poll(now_ms) is None
        most = max(most, steps[0])
    assert most <= rtu.WORK_MOST + rtu.FRAME_MOST
    link.feed(frame(GOOD), now_ms + 100)
    assert [pdu_of(reply) for reply in drained(link, now_ms + 200)] == [ANSWER]
