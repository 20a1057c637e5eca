"""A life of the journal on a logged chip, and what must be on flash after each step of it."""

import bisect
import contextlib
import dataclasses
import random
from collections.abc import Iterator

import keeper.journal.closing
import keeper.journal.segments
from keeper.events import STATE
from keeper.journal.opening import SCRATCH, open_journal
from tests.journal.fakes import RIG_ID, FakeKeeper
from tests.journal.flash import PICO_BLOCKS, ROOT, WIRELESS_BLOCKS, BoardFs, Chip


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


@contextlib.contextmanager
def shortened(plan: Plan) -> Iterator[None]:
    """Shortens the quarter hour and the segments for a while."""
    segments = keeper.journal.segments
    before = keeper.journal.closing.QUARTER_DS, segments.SEGMENT_MOST, segments.SMALL_SEGMENT_MOST
    keeper.journal.closing.QUARTER_DS = plan.quarter_ds
    segments.SEGMENT_MOST = plan.segment_most
    segments.SMALL_SEGMENT_MOST = min(plan.segment_most, before[2])
    try:
        yield
    finally:
        (keeper.journal.closing.QUARTER_DS, segments.SEGMENT_MOST,
         segments.SMALL_SEGMENT_MOST) = before


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
    journal = open_journal(ROOT, RIG_ID, 7, plan.budget_bytes)
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
        for name in {*allowed, *found} - {SCRATCH}:
            if found.get(name) not in allowed.get(name, (None,)):
                was = found.get(name)
                return f"{name}: {'gone' if was is None else f'{len(was)} bytes'}, not as synced"
        return ""
