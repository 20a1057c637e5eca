"""The same bad bytes through the link on both interpreters: the same replies, byte for byte."""

import hashlib
import json
import random

from tests.bench.link_cost import FILES
from tests.fuzz.frames import hostile, pieces
from tests.link.frames import frame, read_file, read_registers, write_many
from tests.link.orders import order_words
from tests.link.rig import KEY, Rig

SCANS = 300
MOST_BYTES = 150_000
# Both interpreters run this very text; collected between, as only then the board's can.
FEED = """
def feed(link, stream, digest):
    now_ms = 0
    for piece, wait_ms in stream:
        link.feed(piece, now_ms)
        reply = link.poll(now_ms)
        while reply is not None:
            digest.update(bytes(reply))
            reply = link.poll(now_ms)
        now_ms += wait_ms
    now_ms += 1000
    for _ in range(8):
        reply = link.poll(now_ms)
        if reply is not None:
            digest.update(bytes(reply))
"""
SCRIPT = """
import hashlib, json
from tests.link.rig import KEY, Rig

rig = Rig("/journal", KEY)
rig.run({scans})
rig.settle()
link = rig.link()
digest = hashlib.sha256()
stream = []
with open("/stream") as file:
    for line in file:
        data, wait_ms = line.split()
        stream.append((bytes.fromhex(data), int(wait_ms)))
feed(link, stream, digest)
told = link.answers.published
print(json.dumps([digest.digest().hex(), told.requests, told.bad_frames, rig.desk.counts,
                  rig.desk.passed, rig.board.outputs, link.count]))
"""


def stream() -> list[tuple[bytes, int]]:
    """Returns pieces of a bad stream, with the pause behind each [ms]."""
    chance = random.Random(11)
    recorded = [read_registers(0, 100), read_file((16384, 0, 2)),
                write_many(0, order_words(bytes(16), 1, 2, 1, 600, 30, KEY))]
    found, size = [], 0
    while size < MOST_BYTES:
        data = hostile(chance, recorded, frame)
        found += [(piece, chance.choice((0, 0, 1, 20, 60))) for piece in pieces(chance, data)]
        size += len(data)
    return found


def test_bad_bytes_are_answered_alike_on_both_interpreters(run_micropython, tmp_path):
    sent = stream()
    text = "".join(f"{piece.hex()} {wait_ms}\n" for piece, wait_ms in sent)
    board = run_micropython(FEED + SCRIPT.format(scans=SCANS),
                            files={**FILES, "/stream": text}, timeout_s=180)
    names: dict = {}
    exec(compile(FEED, "feed", "exec"), names)
    rig = Rig(str(tmp_path / "journal"), KEY)
    rig.run(SCANS)
    rig.settle()
    link, digest = rig.link(), hashlib.sha256()
    names["feed"](link, sent, digest)
    told = link.answers.published
    here = [digest.hexdigest(), told.requests, told.bad_frames, rig.desk.counts, rig.desk.passed,
            rig.board.outputs, link.count]
    assert json.loads(board.stdout) == here
    assert told.requests > 50
    assert told.bad_frames > 100
    assert rig.desk.passed == 0
