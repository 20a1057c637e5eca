"""What a scan costs: executed bytecodes and lines, by state: python -m tests.bench.scan_cost.

Counted on CPython 3.11 by its tracing hooks over the long story that the real
interpreter also runs, through all states, elements and trips. MicroPython's
bytecodes are others, but as many within some tenths; the board's time is
measured by the emulated board's rig in tests/board.
"""

import sys

from keeper import modes
from tests.micropython.scan_story import SOURCE

BLOCKS = 2000          # of 20 scans each
ON_TIME_DS = 13        # a scan that stands for more than the worst flash stall is told apart


class Counter:
    """Counts bytecodes and lines of the keeper's own code while it is on."""

    def __init__(self):
        self.bytecodes = 0
        self.lines = 0

    def __call__(self, frame, event, argument):
        if "keeper" not in frame.f_code.co_filename:
            return None
        frame.f_trace_opcodes = True
        if event == "opcode":
            self.bytecodes += 1
        elif event == "line":
            self.lines += 1
        return self


def measured(blocks=BLOCKS):
    """Returns {state: [scans, mean bytecodes, most on time, mean lines, most when late]}."""
    names: dict = {}
    exec(compile(SOURCE, "scan_story", "exec"), names)
    story = names["Story"](lambda: None, lambda: None, lambda: 0)
    counter = Counter()
    found = {}
    run = story.bench.scan.run

    def counted(now_ms):
        scan = story.bench.scan
        state, before_ds = scan.sequence.state, scan.uptime_ds
        counter.bytecodes = counter.lines = 0
        sys.settrace(counter)
        try:
            run(now_ms)
        finally:
            sys.settrace(None)
        row = found.setdefault(state, [0, 0, 0, 0, 0])
        if scan.uptime_ds - before_ds > ON_TIME_DS:
            row[4] = max(row[4], counter.bytecodes)
            return
        row[0] += 1
        row[1] += counter.bytecodes
        row[2] = max(row[2], counter.bytecodes)
        row[3] += counter.lines

    story.bench.scan.run = counted
    story.tell(blocks)
    return {state: [row[0], row[1] / row[0], row[2], row[3] / row[0], row[4]]
            for state, row in sorted(found.items())}


def main():
    """Prints the table."""
    print(f"{'state':<14}{'scans':>8}{'bytecodes':>12}{'most':>8}{'lines':>8}{'late':>8}")
    for state, (scans, mean, most, lines, late) in measured().items():
        print(f"{modes.STATES[state][0]:<14}{scans:>8}{mean:>12.0f}{most:>8}{lines:>8.0f}{late:>8}")


if __name__ == "__main__":
    main()
