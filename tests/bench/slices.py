"""How much one call of the journal's slack work costs.  Run: python -m tests.bench.slices

Counted are the bytecodes that CPython executes inside the keeper, slice by
slice, over a story that meets every kind of work; the interpreter of the board
compiles the same source to much the same number. One bytecode took about
2.3 us where the keeper's scan ran on an emulated RP2040 at 125 MHz (cycle
model; the chip itself not tried): 1300 of them are 3 ms. What C does within
one bytecode (CRC, struct, the filesystem) is not in the count; a CRC of a
whole block is some 600 bytes.

On the board's own interpreter, in its WebAssembly build, `on_micropython` times
the same slices: it says which is the longest there, relative to the scan.
"""

import sys
import tempfile

import keeper.journal.closing
from keeper.events import STATE
from keeper.journal.closing import (
    ADD_ROW,
    CLOSE_QUARTER,
    IDLE,
    MEANS,
    MORE_MEANS,
    TAKE_ROW,
    TAKE_SUMMARY,
)
from keeper.journal.journal import BLOCK_OUT, NEW_TAIL, OLD_TAIL, PACK, RETAIN, SUMMARY_OUT, SYNC
from keeper.journal.opening import open_journal
from tests.journal.fakes import RIG_ID, FakeKeeper

US_A_BYTECODE = 2.3
LONGEST_MS = 3.0
STAGES = {MEANS: "means of a row", MORE_MEANS: "means of a row", TAKE_ROW: "row to block and tail",
          ADD_ROW: "row to the quarter hour", CLOSE_QUARTER: "end of a quarter hour",
          TAKE_SUMMARY: "summary to the tail"}  # fmt: skip
JOBS = ((SYNC, "sync of the tail"), (BLOCK_OUT, "block to flash"), (NEW_TAIL, "tail anew"),
        (OLD_TAIL, "old tail away"), (SUMMARY_OUT, "summaries to flash"),
        (RETAIN, "retention"))  # fmt: skip


def kind_of(live: FakeKeeper) -> str:
    """Names what the next call of slack will do."""
    journal = live.journal
    closing = journal.closing
    if closing.stage != IDLE:
        return STAGES[closing.stage]
    if closing.is_due(live) or live.uptime_ds >= journal.sync_at_ds:
        return "end of a row"
    if live.events.count and journal.events.has_room():
        return "event, encoded"
    if journal.events.used:
        return "events to flash"
    if journal.tail.refilling or journal.tail.filled:
        return "tail anew"
    for job, name in JOBS:
        if journal.jobs & job:
            return name
    return "block, packed" if journal.jobs & PACK else "summaries, packed"


class Counter:
    """Counts the bytecodes executed in the keeper's modules."""

    def __init__(self):
        self.count = 0

    def __call__(self, frame, event, argument):
        """As sys.settrace wants it."""
        if "keeper" not in frame.f_globals.get("__name__", ""):
            return None
        frame.f_trace_opcodes = True
        frame.f_trace_lines = False
        if event == "opcode":
            self.count += 1
        return self


def worst(scans: int = 12_000) -> dict[str, int]:
    """Returns the most bytecodes of one call, for each kind of work [-]."""
    found: dict[str, int] = {}
    counter = Counter()
    quarter, keeper.journal.closing.QUARTER_DS = keeper.journal.closing.QUARTER_DS, 1200
    with tempfile.TemporaryDirectory(prefix="forebay-bench-") as folder:
        live = FakeKeeper(open_journal(folder + "/j", RIG_ID, 7, 80_000), running_s=1, sync_s=10)
        for place in range(scans):
            if place % 97 == 0:
                live.state = place % 5
                live.post(STATE, place % 5, 8)
            live.scan()
            for _ in range(6):
                kind = kind_of(live)
                counter.count = 0
                sys.settrace(counter)
                live.journal.slack(live, 0)
                sys.settrace(None)
                found[kind] = max(found.get(kind, 0), counter.count)
    keeper.journal.closing.QUARTER_DS = quarter
    return found


def main() -> None:
    """Prints the table."""
    for kind, count in sorted(worst().items(), key=lambda pair: -pair[1]):
        print(f"{kind:26} {count:6} bytecodes  about {count * US_A_BYTECODE / 1000:4.1f} ms")


if __name__ == "__main__":
    main()
