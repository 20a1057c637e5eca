"""Cuts the power at every step of the flash, on real littlefs, and looks what is left.

    python -m tests.journal.cuts --cuts 100000 --seed 1 --workers 2

A story is told once: the real writer lives on a chip whose steps are logged,
through rotation, hand-over, summaries, retention and restarts. Then, at each
step, the power fails before it, during it (a torn program, half an erase) and
after it (which is before the next). Every time the image is mounted anew, all
files are compared with what had been synced, and the writer starts and lives
on. Some of those second lives are cut as well.
"""

import argparse
import bisect
import concurrent.futures
import contextlib
import dataclasses
import random
import sys
import time
from collections.abc import Iterator

import keeper.closing
import keeper.segments
from keeper.events import STATE
from keeper.journal import Journal
from tests.journal import reader
from tests.journal.fakes import RIG_ID, FakeKeeper
from tests.journal.flash import PICO_BLOCKS, ROOT, WIRELESS_BLOCKS, BoardFs, Chip, apply, tear

SCANS_OF_SECOND_LIFE = 24
SECOND_CUT_EVERY = 40
GROWTH = 700  # of total 0 in a scan: see fakes.FakeTotals


@dataclasses.dataclass
class Plan:
    """What a story is like. The quarter hour and the segments may be shorter, to meet more."""

    seed: int = 1
    blocks: int = WIRELESS_BLOCKS
    budget_bytes: int = 60_000
    scans: int = 60_000
    running_s: int = 1
    sync_s: int = 2
    quarter_ds: int = 300
    segment_most: int = 20_000
    boots: int = 3
    events_every: int = 150


PLANS = (
    Plan(),
    Plan(blocks=PICO_BLOCKS, segment_most=6000, scans=40_000, events_every=40),
    # The settings of every day: rows of 10 s, a sync each minute.
    Plan(blocks=PICO_BLOCKS, running_s=10, sync_s=60, quarter_ds=9000, scans=200_000,
         events_every=700, budget_bytes=80_000),
)  # fmt: skip


class CutError(AssertionError):
    """A promise was broken. The text says which plan, which step, and what."""


@contextlib.contextmanager
def shortened(plan: Plan) -> Iterator[None]:
    """Shortens the quarter hour and the segments for a while."""
    quarter, most = keeper.closing.QUARTER_DS, keeper.segments.SEGMENT_MOST
    keeper.closing.QUARTER_DS, keeper.segments.SEGMENT_MOST = plan.quarter_ds, plan.segment_most
    try:
        yield
    finally:
        keeper.closing.QUARTER_DS, keeper.segments.SEGMENT_MOST = quarter, most


class Story:
    """One life of a journal, logged.

    Attributes: steps, what was done to the chip; image, what it was before;
    calls, of BoardFs; moments, (steps done, boot, uptime, first total) after
    each scan.
    """

    def __init__(self, plan: Plan):
        """Tells the story of a plan."""
        self.plan = plan
        chip = Chip(plan.blocks)
        fs = BoardFs(chip, fresh=True)
        self.image = bytes(chip.image)
        chip.log = self.steps = []
        fs.calls = self.calls = []
        self.moments: list[tuple[int, int, int, int]] = []
        chance = random.Random(plan.seed)
        with fs.attached():
            for boot in range(plan.boots):
                live = start(plan, plan.seed * 10 + boot)
                for _ in range(plan.scans // plan.boots):
                    if chance.random() < 1 / plan.events_every:
                        live.state = chance.randrange(5)
                        live.post(STATE, live.state, 8)
                    live.run(1)
                    total = live.totals.low[0] + 10**9 * live.totals.high[0]
                    self.moments.append(
                        (len(self.steps), live.journal.boot, live.uptime_ds, total))

    def moment(self, steps: int) -> tuple[int, int, int, int]:
        """Returns the last scan that had ended when `steps` steps were done."""
        place = bisect.bisect_right(self.moments, (steps, 1 << 40)) - 1
        return self.moments[max(place, 0)] if place >= 0 else (0, 0, 0, 0)


def start(plan: Plan, seed: int) -> FakeKeeper:
    """Opens the journal on what is attached and returns its keeper."""
    journal = Journal(ROOT, RIG_ID, 7, plan.budget_bytes)
    return FakeKeeper(journal, seed, running_s=plan.running_s, standstill_s=plan.running_s,
                      sync_s=plan.sync_s)  # fmt: skip


class Committed:
    """What must be on flash after so many steps: files, and what a call under way may add."""

    def __init__(self, calls, files=None):
        """calls: of BoardFs, in order; files: what was there before them."""
        self.calls = calls
        self.files: dict[str, bytes] = dict(files or {})
        self.done = 0

    def advance(self, steps: int) -> None:
        """Counts every call whose last step is among the first `steps`."""
        while self.done < len(self.calls) and self.calls[self.done][4] <= steps:
            operation, name, data, _, _ = self.calls[self.done]
            self.done += 1
            if operation == "remove":
                self.files.pop(name, None)
            elif operation == "create":
                self.files[name] = data
            else:
                self.files[name] = self.files.get(name, b"") + data

    def contradicts(self, found: dict[str, bytes]) -> str:
        """Returns what is wrong with the files that were found, '' if nothing is."""
        allowed: dict[str, tuple] = {name: (data,) for name, data in self.files.items()}
        if self.done < len(self.calls):
            operation, name, data, _, _ = self.calls[self.done]
            before = self.files.get(name)
            if operation == "remove":
                allowed[name] = (before, None)
            elif operation == "create":
                allowed[name] = (before, b"", data)
            else:
                allowed[name] = (before, (before or b"") + data)
        for name in {*allowed, *found} - {keeper.segments.SCRATCH}:
            if found.get(name) not in allowed.get(name, (None,)):
                was = found.get(name)
                return f"{name}: {'gone' if was is None else f'{len(was)} bytes'}, not as synced"
        return ""


class Cutter:
    """Walks through a story and looks at every cut. Attributes: cuts, how many so far."""

    def __init__(self, story: Story, seed: int, every: int = 1):
        """every: look at each so manieth step only."""
        self.story = story
        self.chance = random.Random(seed)
        self.every = every
        self.cuts = 0
        self.memory: dict[tuple[str, bytes], reader.Content] = {}

    def run(self, most: int) -> int:
        """Cuts up to `most` times; returns how often it did. Raises CutError."""
        story = self.story
        image = bytearray(story.image)
        committed = Committed(story.calls)
        offset = self.chance.randrange(self.every)
        with shortened(story.plan):
            for place, step in enumerate(story.steps):
                if self.cuts >= most:
                    break
                committed.advance(place)
                if place % self.every == offset:
                    self.look(image, committed, place, "before")
                    torn = bytearray(image)
                    tear(torn, step, self.chance)
                    self.look(torn, committed, place, "in")
                apply(image, step)
        return self.cuts

    def look(self, image: bytearray, committed: Committed, place: int, where: str) -> None:
        """Looks at one cut: `image` is what it left after `place` steps. Raises CutError."""
        self.cuts += 1
        try:
            files, log, calls = self._second_life(bytearray(image), committed, place)
            if self.cuts % SECOND_CUT_EVERY == 0 and log:
                self._cut_again(bytearray(image), files, log, calls)
        except Exception as error:
            text = f"cut {where} step {place} of {self.story.plan}: {error!r}"
            raise CutError(text) from error

    def _second_life(self, image: bytearray, committed: Committed, place: int):
        """Mounts, compares, starts, lives on, compares; returns (files found, log, calls)."""
        chip = Chip(self.story.plan.blocks, image)
        fs = BoardFs(chip)
        found = fs.files()
        wrong = committed.contradicts(found)
        assert not wrong, wrong
        chip.log, fs.calls = [], []
        before = self._read(found)
        with fs.attached():
            live = start(self.story.plan, self.cuts)
            self._compare_start(live, before, place)
            live.post(STATE, 1, 8)
            # Long enough for a row and its sync.
            for _ in range(max(SCANS_OF_SECOND_LIFE, self.story.plan.sync_s * 10 + 4)):
                live.run(1)
        compare(before, self._read(fs.files()), live)
        return found, chip.log, fs.calls

    def _cut_again(self, image: bytearray, files, log, calls) -> None:
        """Cuts the second life as well, at one step of it, and lets a third one begin."""
        place = self.chance.randrange(len(log))
        committed = Committed(calls, files)
        committed.advance(place)
        for step in log[:place]:
            apply(image, step)
        tear(image, log[place], self.chance)
        self.cuts += 1
        fs = BoardFs(Chip(self.story.plan.blocks, image))
        found = fs.files()
        wrong = committed.contradicts(found)
        assert not wrong, f"second cut: {wrong}"
        with fs.attached():
            live = start(self.story.plan, self.cuts)
            live.run(SCANS_OF_SECOND_LIFE)
        compare(self._read(found), self._read(fs.files()), live)

    def _compare_start(self, live: FakeKeeper, before: reader.Content, place: int) -> None:
        """Boot number, totals and loss, against what is known of the moment of the cut."""
        journal, plan = live.journal, self.story.plan
        _, boot, uptime_ds, total = self.story.moment(place)
        boots = [event[1] for event in before.events]
        assert journal.boot > max(boots, default=0), "the boot number was used before"
        assert journal.lost == 0, "something was lost"
        restored = journal.restored_low[0] + 10**9 * journal.restored_high[0]
        wait_ds = (plan.sync_s + plan.running_s) * 10 + 2
        assert restored <= total + 2 * GROWTH, "totals beyond what was counted"
        assert restored >= total - GROWTH * wait_ds, "totals too far back"
        assert journal.newest_row >= max(before.rows, default=0)
        newest = max((row[1] for row in before.rows.values() if row[0] == boot), default=0)
        assert uptime_ds - newest <= max(600, wait_ds), "more than a minute is lost"

    def _read(self, files: dict[str, bytes]) -> reader.Content:
        """reader.read_files, remembering what it made of a file; files change little."""
        parts = []
        for name in sorted(files):
            key = (name, files[name])
            if key not in self.memory:
                if len(self.memory) > 2000:
                    self.memory.clear()
                self.memory[key] = reader.read_file(name, files[name])
            parts.append(self.memory[key])
        return reader.joined(parts)


def compare(before: reader.Content, after: reader.Content, live: FakeKeeper) -> None:
    """All that was on flash is there, nothing contradicts, the numbers go on without a gap."""
    assert before.damaged == 0 == after.damaged, "damaged bytes"
    assert before.conflicts == [] == after.conflicts, "numbers used twice"
    for what, old, new in (
        ("row", before.rows, after.rows),
        ("event", before.by_event, after.by_event),
        ("summary", before.by_summary, after.by_summary),
    ):
        if old or new:
            compare_numbered(what, old, new)
    assert live.journal.boot == max(fields[0] for fields in after.by_event.values())


def compare_numbered(what: str, before: dict[int, tuple], after: dict[int, tuple]) -> None:
    """What was there is there, but for the oldest that were given up; no gap, no change."""
    first, last = min(after), max(after)
    assert len(after) == last - first + 1, f"a gap in the numbers of {what}"
    assert last >= max(before, default=0), f"the newest {what} is gone"
    for seq, fields in before.items():
        assert seq < first or after[seq] == fields, f"{what} {seq} reads otherwise"


def campaign(seed: int, most: int) -> tuple[int, float]:
    """Tells one story and cuts it; returns (cuts, wall time [s])."""
    began = time.monotonic()
    plan = dataclasses.replace(PLANS[seed % len(PLANS)], seed=seed)
    with shortened(plan):
        story = Story(plan)
    return Cutter(story, seed).run(most), time.monotonic() - began


def main() -> int:
    """Runs stories until there are enough cuts."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--cuts", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--share", type=int, default=5000, help="most cuts of one story")
    asked = parser.parse_args()
    done = 0
    with concurrent.futures.ProcessPoolExecutor(asked.workers) as pool:
        seed = asked.seed
        running: set[concurrent.futures.Future] = set()
        while done < asked.cuts or running:
            while len(running) < asked.workers and done < asked.cuts:
                running.add(pool.submit(campaign, seed, asked.share))
                seed += 1
            ended, running = concurrent.futures.wait(
                running, return_when=concurrent.futures.FIRST_COMPLETED)
            for one in ended:
                cuts, seconds = one.result()
                done += cuts
                print(f"{done} cuts, {cuts / seconds:.0f} a second", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
