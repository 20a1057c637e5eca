"""What a request costs the board.  Run: python -m tests.bench.link_cost

Times on the real interpreter (its WebAssembly build on this machine), and
opcodes of the same work in CPython, which are about as many as the board's
byte codes: both compile to a stack machine.  On an emulated board the same
script gives milliseconds of the board itself: tests/board/test_link_cost.py.
"""

import json
import pathlib
import sys
import tempfile
from collections.abc import Callable

from tests.link.frames import frame, read_file, read_registers, write_many
from tests.link.orders import order_words
from tests.link.rig import KEY
from tests.micropython.harness import run_micropython

ROOT = pathlib.Path(__file__).resolve().parents[2]
# Files of the tests that the script needs, as the board sees them.
FILES: dict[str, str | bytes] = {
    "/tests/__init__.py": "", "/tests/keeper/__init__.py": "", "/tests/link/__init__.py": "",
    **{f"/{path}": (ROOT / path).read_bytes()
       for path in ("tests/keeper/scripted.py", "tests/link/rig.py")},
}

# Runs alike on CPython and on the board; `clock` gives microseconds.
MAKE = """
from tests.link.rig import KEY, Rig

def largest(journal):
    best = (0, 0)
    for number, size in journal.files():
        if size > best[1]:
            best = (number, size)
    return best

rig = Rig(FOLDER, KEY)
rig.run(SCANS)
rig.settle()
link = rig.link()
FILE, SIZE = largest(rig.journal)
"""
# Collected before each request, as the loop does in its slack: the program of a board
# leaves more room than these modules, and would not be collected within one.
MEASURE = """
import gc

def ask(request, repeats, clock):
    feed = poll = 0
    for _ in range(repeats):
        gc.collect()
        began = clock()
        for byte in request:
            link.feed(byte, 0)
        fed = clock()
        reply = link.poll(0)
        done = clock()
        feed += fed - began
        poll += done - fed
    while rig.desk.step():
        pass
    return len(reply), feed // repeats, poll // repeats

def pieces(words, clock):
    times = []
    rig.desk.take(words, False)
    while True:
        began = clock()
        if not rig.desk.step():
            return times
        times.append(clock() - began)
"""


def requests(file: int) -> dict[str, bytes]:
    """Returns the requests that are measured, by name."""
    return {
        "121 words of a file": frame(read_file((file, 0, 121))),
        "125 registers": frame(read_registers(0, 125)),
        "4 registers": frame(read_registers(0, 4)),
        "an order, written": frame(write_many(0, [1] * 35 + [1])),
    }


def script(repeats: int, scans: int) -> list[str]:
    """Returns what the board is to run, part by part; the last prints microseconds.

    {request: [bytes of the answer, feed, poll]}
    """
    every = requests(0)
    return [f"import gc\ngc.collect()\nFOLDER, SCANS = '/journal', {scans}\n{MAKE}gc.collect()\n",
            MEASURE + "gc.collect()\n",
            ("import json, time\nfrom keeper.link.crc import crc16\n"
            "REQUESTS = {}\n"
            + "".join(f"REQUESTS[{name!r}] = bytearray.fromhex({data.hex()!r})\n"
                      for name, data in every.items())
            + "for data in REQUESTS.values():\n"
            "    if data[1] == 20:\n"
            "        data[4], data[5] = FILE >> 8, FILE & 255\n"
            "    crc = crc16(data, 0, len(data) - 2)\n"
            "    data[-2], data[-1] = crc & 255, crc >> 8\n"
            "found = {}\n"
            "for name in REQUESTS:\n"
            f"    found[name] = ask(REQUESTS[name], {repeats}, time.ticks_us)\n"
            "from keeper.link.layout import BLOCK_KEY_ID\n"
            "order = bytearray(72)\n"
            "order[2 * BLOCK_KEY_ID:2 * BLOCK_KEY_ID + 4] = rig.desk.key_id.to_bytes(4, 'big')\n"
            "found['pieces of an order'] = pieces(order, time.ticks_us)\n"
            "print(json.dumps(found))\n")]


def on_interpreter() -> dict:
    """Returns microseconds on the WebAssembly build, see `script`."""
    return json.loads(run_micropython("".join(script(200, 3000)), files=FILES).stdout)


def opcodes(work: Callable[[], object]) -> int:
    """Returns how many opcodes of CPython a call executes, its callees' included."""
    count = 0

    def trace(shown, event, _):
        nonlocal count
        shown.f_trace_opcodes = True
        shown.f_trace_lines = False
        count += event == "opcode"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        work()
    finally:
        sys.settrace(before)
    return count


def good_order(desk) -> bytes:
    """Returns the bytes of an order that passes: light for half an hour."""
    words = order_words(desk.nonce(), desk.passed + 1, 1, 1, 600, 30, KEY)
    return b"".join(word.to_bytes(2) for word in words)


def on_cpython() -> dict[str, list[int]]:
    """Returns opcodes: {request: [bytes of the answer, fed, polled]}."""
    with tempfile.TemporaryDirectory() as folder:
        names: dict = {"FOLDER": folder + "/journal", "SCANS": 3000}
        exec(compile(MAKE, "make", "exec"), names)
        link, desk = names["link"], names["rig"].desk
        found = {}
        for name, data in requests(names["FILE"]).items():
            def feed(data=data):
                for byte in data:
                    link.feed(byte, 0)

            fed = opcodes(feed)
            replies: list = []
            polled = opcodes(lambda replies=replies: replies.append(link.poll(0)))
            found[name] = [len(replies[0]), fed, polled]
            while desk.step():
                pass
        desk.take(good_order(desk), False)
        pieces = []
        while desk.piece:
            pieces.append(opcodes(desk.step))
        found["pieces of an order"] = pieces
    return found


def main() -> None:
    print("bytes of the answer; then for feeding the request and for answering it:")
    for name, (size, feed, poll) in asked(on_interpreter()):
        print(f"  {name}: {size} B; {feed} us, {poll} us on this machine's interpreter")
    counted = on_cpython()
    for name, (size, feed, poll) in asked(counted):
        print(f"  {name}: {size} B; {feed}, {poll} opcodes")
    print(f"  pieces of an order: {counted['pieces of an order']} opcodes")


def asked(found):
    return [(name, values) for name, values in found.items() if name != "pieces of an order"]


if __name__ == "__main__":
    main()
