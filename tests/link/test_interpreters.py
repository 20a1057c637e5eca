"""The link and the order desk on the board's own interpreter: the same bytes as here."""

import json

from tests.bench.link_cost import FILES
from tests.link.frames import frame, read_file, read_holding, read_registers, write_many
from tests.link.orders import order_words
from tests.link.rig import KEY, OTHER_KEY, Rig

SCANS = 700
REQUESTS = [
    frame(pdu).hex()
    for pdu in (
        read_registers(0, 125),
        read_registers(60, 108),
        read_registers(320, 120),
        read_registers(9000, 1),
        read_holding(0, 36),
        read_file((16384, 0, 2)),
        read_file((49153, 0, 121)),
        read_file((16385, 0, 8), (16385, 4, 75)),
        read_file((9, 0, 1)),
        b"\x2b\x0e\1\0",
        b"\x41",
    )
]
# Both interpreters run this very text.
ASK = """
def ask(link, requests, now_ms):
    replies = []
    for request in requests:
        for byte in bytes.fromhex(request):
            link.feed(byte, now_ms)
            now_ms += 1
        now_ms += 100
        reply = link.poll(now_ms)
        while reply is not None:
            replies.append(bytes(reply).hex())
            reply = link.poll(now_ms)
        for _ in range(8):
            link.poll(now_ms)
    return replies
"""
SCRIPT = """
import json
from tests.link.rig import KEY, Rig

rig = Rig("/journal", KEY)
rig.run({scans})
rig.settle()
link = rig.link()
print(json.dumps([rig.desk.nonce().hex(), ask(link, {requests!r}, 0), rig.desk.counts,
                  rig.desk.passed, rig.desk.result,
                  rig.keeper.core.sequence.light.ordered_periods]))
"""


def here(folder, requests):
    """Returns what the script prints, from CPython."""
    names: dict = {}
    exec(compile(ASK, "ask", "exec"), names)
    rig = Rig(folder, KEY)
    rig.run(SCANS)
    rig.settle()
    return [rig.desk.nonce().hex(), names["ask"](rig.link(), requests, 0), rig.desk.counts,
            rig.desk.passed, rig.desk.result, rig.keeper.core.sequence.light.ordered_periods]


def there(run_micropython, requests):
    script = ASK + SCRIPT.format(scans=SCANS, requests=requests)
    return json.loads(run_micropython(script, files=FILES, timeout_s=120).stdout)


def test_requests_whole_and_garbled_are_answered_alike(run_micropython, tmp_path):
    garbled = ["ff00" + REQUESTS[0], REQUESTS[0][:-2] + "00" + REQUESTS[1]]
    found = there(run_micropython, REQUESTS + garbled)
    assert found == here(str(tmp_path / "journal"), REQUESTS + garbled)
    assert len(found[1]) == len(REQUESTS) + 2


def test_orders_pass_and_are_refused_alike(run_micropython, tmp_path):
    """A good order, the same again, one bit off, another key, none, an argument out of range."""
    nonce = bytes.fromhex(here(str(tmp_path / "first"), [])[0])
    good = order_words(nonce, 1, 5, 1, 600, 30, KEY)
    altered = list(order_words(nonce, 2, 6, 1, 600, 30, KEY))
    altered[4] ^= 1
    sent = [good, good, altered, order_words(nonce, 2, 7, 1, 600, 30, OTHER_KEY),
            order_words(nonce, 2, 8, 1, -600, 30), order_words(nonce, 2, 9, 1, 600, 30, KEY)]
    requests = [frame(write_many(0, words)).hex() for words in sent]
    found = there(run_micropython, requests)
    assert found == here(str(tmp_path / "journal"), requests)
    counts, passed, held_ds = found[2], found[3], found[5]
    assert counts == [0, 1, 1, 1, 1, 1, 0, 0]  # one of each reason that a key allows
    assert (passed, held_ds) == (1, 30 * 600)
