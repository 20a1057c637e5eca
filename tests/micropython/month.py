"""Weeks of the journal on the board's interpreter.  Run: python -m tests.micropython.month

The real keeper, with scans that come 30 s late so that weeks pass quickly,
from a day and a half before the ticks wrap. Memory is read after each
collection: it must not grow. By hand 30 days; a share is in the suite.
"""

import argparse
import dataclasses
import json

from forebay.rig import load
from tests.journal import reader
from tests.micropython.harness import run_micropython

SCAN_MS = 30_000
SCANS_A_STEP = 500
WRAP_MS = 1 << 30
BEFORE_WRAP_MS = 36 * 3600 * 1000
BUDGET_BYTES = 50_000

SCRIPT = """
import gc
import json
from keeper import settings as st
from keeper.channels import COLUMNS, CONTACTS, INVALID, READ
from keeper.keeper import Keeper
from keeper.journal.opening import open_journal
from keeper.journal.segments import number_of

GIVEN = json.loads(open("/given.json").read())


class Board:
    def __init__(self):
        self.seed = 1
        self.valve = 0

    def chance(self, most):
        self.seed = (self.seed * 75 + 74) % 65537
        return self.seed % most

    def read(self, values):
        for index in range(READ):
            values[index] = 0
        for index in range(COLUMNS):
            values[index] = 5000 + self.chance(200)
        for index in range(COLUMNS, COLUMNS + len(CONTACTS)):
            values[index] = 1
        values[COLUMNS + 4] = 0
        if self.chance(400) == 0:
            values[COLUMNS + self.chance(4)] = 0

    def write(self, outputs):
        pass


def start():
    journal = open_journal("/journal", 7, st.VERSION, GIVEN["budget"])
    return Keeper(GIVEN["settings"], Board(), journal)


keeper = start()
now_ms = GIVEN["from_ms"]
used = []
segments = 0


def step(n):
    global now_ms, keeper, segments
    gc.collect()
    used.append(gc.mem_alloc())
    if n == GIVEN["restart_at"]:
        keeper = start()
    for _ in range(GIVEN["scans"]):
        now_ms = (now_ms + GIVEN["scan_ms"]) & 0x3FFFFFFF
        keeper.scan(now_ms)
        for _ in range(24):
            keeper.slack(now_ms)
    if n + 1 < GIVEN["steps"]:
        return True
    print(json.dumps({"used": used, "uptime_ds": keeper.uptime_ds, "now_ms": now_ms,
                      "lost": keeper.journal.lost, "boot": keeper.journal.boot,
                      "newest": keeper.journal.newest_row,
                      "numbers": [number_of(rows[-1]) for rows in keeper.journal.segments.table]}))
    return False
"""


@dataclasses.dataclass
class Lived:
    """What some days left: used, bytes of memory after each collection; content, files' own."""

    used: list[int]
    uptime_ds: int
    now_ms: int
    lost: int
    boot: int
    newest: int
    numbers: list[int]
    content: reader.Content


def steps_of(days: float) -> int:
    """Returns how many steps a number of days takes."""
    return round(days * 86_400_000 / SCAN_MS / SCANS_A_STEP)


def live(days: float, timeout_s: float) -> Lived:
    """Lives so many days; the keeper starts once more after a third of them."""
    steps = steps_of(days)
    given = {
        "settings": load().settings(),
        "budget": BUDGET_BYTES,
        "from_ms": WRAP_MS - BEFORE_WRAP_MS,
        "scans": SCANS_A_STEP,
        "scan_ms": SCAN_MS,
        "steps": steps,
        "restart_at": steps // 3,
    }
    run = run_micropython(
        SCRIPT, files={"/given.json": json.dumps(given)}, fetch=["/journal"], steps=True,
        timeout_s=timeout_s)  # fmt: skip
    files = {path.rsplit("/", 1)[1]: data for path, data in run.files.items()}
    return Lived(**json.loads(run.lines[-1]), content=reader.read_files(files))


def check(lived: Lived, days: float) -> None:
    """The journal is whole, and memory has not grown. Raises AssertionError."""
    content = lived.content
    assert content.damaged == 0
    assert content.conflicts == []
    rows = sorted(content.rows)
    assert rows == list(range(rows[0], rows[-1] + 1))
    assert rows[-1] >= lived.newest - 2
    times = [(content.rows[seq][0], content.rows[seq][1]) for seq in rows]
    assert times == sorted(set(times))
    # The first scan after a start stands for one period; the ticks wrapped in between.
    scans = (steps_of(days) - steps_of(days) // 3) * SCANS_A_STEP - 1
    assert lived.uptime_ds == scans * SCAN_MS // 100 + 1
    assert lived.now_ms < WRAP_MS - BEFORE_WRAP_MS
    assert rows[0] > 1  # the oldest was given up, so segments came and went
    # Half of the samples are of either half: what grew a little each time would show.
    half = len(lived.used) // 2
    early, late = lived.used[half // 2 : half], lived.used[half:]
    assert max(late) <= max(early) + 1024


def main() -> None:
    """Lives the days, checks and says what was seen."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--days", type=float, default=30)
    asked = parser.parse_args()
    lived = live(asked.days, timeout_s=7200)
    print(f"{asked.days:g} days: rows {min(lived.content.rows)} to {lived.newest},"
          f" {len(lived.content.by_event)} events and {len(lived.content.by_summary)} summaries"
          f" kept; newest segments {lived.numbers}; boot {lived.boot}")
    print(f"memory after collections: {min(lived.used)} to {max(lived.used)} bytes, at the end"
          f" {lived.used[-1]}")
    check(lived, asked.days)


if __name__ == "__main__":
    main()
