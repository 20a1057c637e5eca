"""A device on the line that is no keeper, or one gone mad: many kinds, by name.

Each kind says what is wrong with its answers.  All speak RTU on a pseudo
terminal; the frames are right unless a kind says otherwise.
"""

import itertools
import random
import struct
import time
import zlib

from forebay.shelf.segments import file_number
from keeper.journal import records
from keeper.link import layout
from tests.shelf import encoder
from tests.wire.board import FakeBoard, crc16

ESCAPES = b"\x1b[2J\x1b]0;owned\x07 \x9b31m \r\x00\x7f caf\xe9 \xff\n" * 4
DETAIL_1, EVENTS_1, SUMMARY_1, TAIL_1 = (file_number(stream, 1) for stream in range(4))


def rows(count=40, rig_id=7, **odd):
    """Returns a detail file of rows; odd: fields of each, by name."""
    return encoder.header(0, 1, rig_id) + encoder.block(
        odd.get("seq", 1), [(odd.get("boot", 1), odd.get("uptime_ds", 600) * (1 + place), 600,
                             odd.get("state", 2), 5, odd.get("values", (1000,) * 14))
                            for place in range(count)])


def record(kind, seq, payload):
    """Returns a record with any payload and the right CRC."""
    body = struct.pack("<BBHI", records.MARK, kind, len(payload), seq) + payload
    return body + struct.pack("<I", zlib.crc32(body[1:]))


def noise(count, seed):
    chance = random.Random(seed)
    return b"".join(record(chance.randrange(256), chance.randrange(1 << 32),
                           chance.randbytes(chance.randrange(200))) for _ in range(count))


def by_chance(make, count, seed):
    """Returns records of the right kind and length, all else by chance; make(seq) gives one."""
    chance = random.Random(seed)
    found = b""
    for seq in range(1, count + 1):
        whole = make(seq)
        payload = len(whole) - records.HEAD - records.TRAILER
        found += record(whole[1], seq, chance.randbytes(payload))
    return found


SUMMARY = (1, 600, 900, [(1, 2, 3)] * 14)


def chance_files(seed):
    """Returns files whose frames are right and whose content is by chance."""
    return {
        DETAIL_1: encoder.header(0, 1, 7) + by_chance(
            lambda seq: encoder.block(seq, [(1, 600, 600, 2, 5, (9,) * 14)] * 9), 60, seed),
        EVENTS_1: encoder.header(1, 1, 7)
        + by_chance(lambda seq: encoder.event(seq, 1, 600, 3), 60, seed)
        + by_chance(lambda seq: encoder.totals(seq, 1, 600), 30, seed),
        SUMMARY_1: encoder.header(2, 1, 7) + by_chance(
            lambda seq: encoder.summary(seq, *SUMMARY), 20, seed),
        TAIL_1: encoder.header(3, 1, 7) + by_chance(
            lambda seq: encoder.row(seq, 1, 600, 600, 2, 5, (9,) * 14), 60, seed)}


class Hostile(FakeBoard):
    """A board of one kind, whose hook is called for each request.

    hook: called with (board, frame, write, right): the request, what sends
    bytes, and the right reply; it sends what this kind sends.
    """

    def __init__(self, hook=None, **given):
        super().__init__(**given)
        self.hook = hook

    def reply_to(self, pdu):
        """Takes every order, and says of it what the kind's registers say."""
        answer = super().reply_to(pdu)
        if pdu[0] == 16 and len(self.written) >= 2 * layout.BLOCK_A:
            self.live["last_tag"] = int.from_bytes(
                self.written[2 * layout.BLOCK_TAG:2 * layout.BLOCK_A])
        return answer

    def _answer(self, frame, write):
        if self.hook is None:
            super()._answer(frame, write)
            return
        assert crc16(frame[:-2]) == frame[-2:]
        self.requests += 1
        body = frame[:1] + self.reply_to(frame[1:-2])
        self.hook(self, frame, write, body + crc16(body))


def framed(body):
    return body + crc16(body)


def says(make):
    """Returns a hook that sends what `make(frame, right)` gives."""
    return lambda board, frame, write, right: write(make(frame, right))


def exception(code):
    return says(lambda frame, right: framed(bytes([frame[0], frame[1] | 0x80, code])))


def hangs_up(board, frame, write, right):
    write(right[:4])
    board._stop.set()


def trickles(board, frame, write, right):
    for byte in right[:20]:
        write(bytes([byte]))
        time.sleep(0.015)


def floods(board, frame, write, right):
    for _ in range(100):
        write(b"\x55" * 512)
        time.sleep(0.001)


def changing(name, values):
    """Returns a hook by which a register differs at each request."""
    following = itertools.cycle(values)

    def hook(board, frame, write, right):
        board.live[name] = next(following)
        write(framed(frame[:1] + board.reply_to(frame[1:-2])))
    return hook


def file_says(make):
    """Returns a hook by which the words of files are others; registers are right.

    make(number, first, words): the bytes, None for the right ones; fewer than asked: the
    file ends before.
    """
    def hook(board, frame, write, right):
        if frame[1] != 20:
            write(right)
            return
        _, number, first, words = struct.unpack(">BHHH", frame[3:10])
        data = make(number, first, words)
        if data is not None and len(data) < 2 * words:
            write(framed(bytes([frame[0], 0x94, 2])))
            return
        write(right if data is None else framed(
            bytes([frame[0], 20, len(data) + 2, len(data) + 1, 6]) + data))
    return hook


def lists(*pairs):
    """Returns a hook by which the list of files is this."""
    listed = b"".join(struct.pack(">HH", *pair) for pair in pairs)

    def make(number, first, words):
        if number != layout.DIRECTORY_FILE:
            return None
        return listed[2 * first:2 * (first + words)]
    return file_says(make)


def endless(number_wanted, data):
    return file_says(lambda number, first, words:
                     (data * 400)[:2 * words] if number == number_wanted else None)


def differing(number, first, words):
    if number in (layout.DIRECTORY_FILE, layout.ERROR_FILE):
        return None
    return random.Random(time.monotonic_ns()).randbytes(2 * words)


def live(value):
    """Returns registers that all hold a value, but for the map's version."""
    from forebay.wire.registers import INPUT_REGISTERS
    found = {row.name: value for row in INPUT_REGISTERS}
    return {**found, "map_version": layout.MAP_VERSION}


MOST = (1 << 64) - 1
GOOD = {DETAIL_1: rows()}
# name -> how to make it
KINDS = {
    "says nothing": lambda: Hostile(lambda *_: None),
    "hangs up in an answer": lambda: Hostile(hangs_up),
    "sends noise": lambda: Hostile(says(lambda frame, right: b"\x07\x1b[31m" * 9)),
    "sends the request back": lambda: Hostile(says(lambda frame, right: frame)),
    "is busy for ever": lambda: Hostile(exception(6)),
    "knows no address": lambda: Hostile(exception(2)),
    "fails at everything": lambda: Hostile(exception(4)),
    "refuses for an unknown reason": lambda: Hostile(exception(0x7F)),
    "sends a wrong CRC": lambda: Hostile(says(lambda frame, right: right[:-1] + b"\0")),
    "answers as another unit": lambda: Hostile(
        says(lambda frame, right: framed(b"\x09" + right[1:-2]))),
    "answers another function": lambda: Hostile(
        says(lambda frame, right: framed(right[:1] + b"\x03" + right[2:-2]))),
    "sends fewer registers": lambda: Hostile(
        says(lambda frame, right: framed(bytes([frame[0], frame[1], 2, 0, 5])))),
    "sends more registers": lambda: Hostile(
        says(lambda frame, right: framed(bytes([frame[0], frame[1], 250]) + bytes(250)))),
    "trickles": lambda: Hostile(trickles),
    "floods": lambda: Hostile(floods),
    "has a map of nobody": lambda: Hostile(live={"map_version": 0}),
    "has a newer map": lambda: Hostile(live={"map_version": 65535}),
    "lists files without an end": lambda: Hostile(
        endless(layout.DIRECTORY_FILE, struct.pack(">HH", 1, 100)), files=GOOD),
    "lists other files without an end": lambda: Hostile(file_says(
        lambda number, first, words: b"".join(
            struct.pack(">HH", (first + place) % 65535 + 1, 40) for place in range(0, words, 2))
        if number == layout.DIRECTORY_FILE else None), files=GOOD),
    "lists a file twice": lambda: Hostile(
        lists((DETAIL_1, len(GOOD[DETAIL_1])), (DETAIL_1, len(GOOD[DETAIL_1]))), files=GOOD),
    "lists a file twice, of two sizes": lambda: Hostile(
        lists((DETAIL_1, 100), (DETAIL_1, 200)), files=GOOD),
    "lists files that are too large": lambda: Hostile(lists((DETAIL_1, 65535)), files=GOOD),
    "lists files that are not there": lambda: Hostile(lists((2, 500), (3, 600)), files=GOOD),
    "lists files of no stream": lambda: Hostile(lists((65535, 20)), files={65535: bytes(20)}),
    "lists empty files": lambda: Hostile(lists((DETAIL_1, 0), (EVENTS_1, 0)), files=GOOD),
    "gives other bytes each time": lambda: Hostile(file_says(differing), files=GOOD),
    "gives files of zeros": lambda: Hostile(files={DETAIL_1: bytes(5000), TAIL_1: bytes(70)}),
    "gives records that nobody wrote": lambda: Hostile(
        files={number: encoder.header(stream, 1, 7) + noise(90, stream)
               for stream, number in enumerate((DETAIL_1, EVENTS_1, SUMMARY_1, TAIL_1))}),
    **{f"gives records by chance, {seed}": lambda seed=seed: Hostile(files=chance_files(seed))
       for seed in range(6)},
    "gives events that nobody wrote": lambda: Hostile(files={
        EVENTS_1: encoder.header(1, 1, 7) + b"".join(
            encoder.event(1 + place, 1, 100 * place, place % 256, 255 - place % 256, 65535, 255,
                          totals=[4294967295 * 10**9] * 10) for place in range(120))}),
    "gives rows beyond all bounds": lambda: Hostile(files={
        DETAIL_1: rows(boot=(1 << 32) - 1, seq=(1 << 32) - 90, uptime_ds=1 << 20, state=255,
                       values=(30000,) * 14)}),
    "gives rows of another rig": lambda: Hostile(files={DETAIL_1: rows(rig_id=8)}),
    "has all registers full": lambda: Hostile(live=live(MOST), files=GOOD),
    "has all registers negative": lambda: Hostile(live=live(1 << 31 | 1 << 15), files=GOOD),
    "has all registers null": lambda: Hostile(live=live(0), files=GOOD),
    "is another rig each time": lambda: Hostile(changing("rig_id", range(1, 99)), files=GOOD),
    "goes back in time": lambda: Hostile(
        changing("uptime_ds", range(100000, 0, -3000)), files=GOOD),
    "changes its nonce each time": lambda: Hostile(
        changing("order_nonce", range(9999)), files=GOOD, live={"key_state": 0}),
    "has an unreadable key": lambda: Hostile(files=GOOD, live={"key_state": 2}),
    "judges orders by a reason of nobody": lambda: Hostile(
        live={"order_state": 2, "last_result": 0xFFFF}),
    "refuses orders at a gate of nobody": lambda: Hostile(
        live={"order_state": 3, "last_gate": 0xFFFF}),
    "says that it did what it did not": lambda: Hostile(live={"order_state": 2}),
    "steers the terminal by its error": lambda: Hostile(
        files=GOOD, live={"reset_reason": 3, "state": 200, "lockouts": 3, "lockout_element": 222,
                          "first_out": 250, "acting": MOST}),
    "has an error without an end": lambda: Hostile(
        endless(layout.ERROR_FILE, ESCAPES), files=GOOD, live={"reset_reason": 3}),
}


def board(kind):
    """Returns a hostile board of a kind, not yet on a line."""
    one = KINDS[kind]()
    one.error = ESCAPES
    return one
