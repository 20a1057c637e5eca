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
import concurrent.futures
import dataclasses
import random
import sys
import time

from keeper.events import STATE
from keeper.journal.opening import SCRATCH
from tests.journal import reader
from tests.journal.fakes import FakeKeeper
from tests.journal.flash import ROOT, BoardFs, Chip, apply, tear
from tests.journal.story import PLANS, Committed, Story, shortened, start

SCANS_OF_SECOND_LIFE = 24
SECOND_CUT_EVERY = 40
GROWTH = 700  # of total 0 in a scan: see fakes.FakeTotals


class CutError(AssertionError):
    """A promise was broken. The text says which plan, which step, and what."""


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
            gone = set(found) - {row[0] for row in fs.ilistdir(ROOT)} - {SCRATCH}
            assert live.journal.lost == len(gone), "lost is more than was over the budget"
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
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
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
