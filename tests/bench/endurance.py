"""How many days the flash holds, and how soon it wears.  Run: python -m tests.bench.endurance

The real writer on real littlefs with a board's geometry, within the budget of
that board and beside a file that takes what all else takes, until it gives up
the oldest: the days are then counted in the image. A day is 16 h of rows of 10 s (the busy part of
tests/bench/density.py) with 30 events, at a summary each quarter hour. Erases
are counted by the chip, apart for each stream, and for each block.

A day lasts 16 h of uptime here: what a board does at night (rows of 60 s)
comes on top, with a sync each minute too.
"""

import argparse
import dataclasses
import random

from keeper.boards.kinds import LOADER_BLOCKS, PICO, PICO2, PICO2_W, SLOT_BLOCKS, SLOTS
from keeper.channels import COLUMNS, CONTACTS
from keeper.events import STATE, EventQueue
from keeper.journal.journal import Journal
from keeper.journal.opening import open_journal
from keeper.journal.segments import FLASH_BLOCK, bytes_of
from tests.bench.density import active, noisy_day
from tests.journal import reader
from tests.journal.flash import ROOT, BoardFs, Chip

BOARDS = {"Pico": PICO, "Pico 2": PICO2, "Pico 2 W": PICO2_W}
# Of what lies beside the journal, the file system itself makes the folders here.
BESIDE_BLOCKS = SLOTS * SLOT_BLOCKS + LOADER_BLOCKS
# Days of detail and of summary that are aimed at.
AIMED_DAYS = {"Pico": (21, 90), "Pico 2 W": (60, 365)}
ROW_DS = 100
DAY_DS = 16 * 3600 * 10
ROWS_A_DAY = DAY_DS // ROW_DS
EVENTS_A_DAY = 30
TAIL_SYNC_S = 60
ENDURANCE_ERASES = 100_000  # of a block; usual for serial NOR flash, from memory


class ReadyRows:
    """Stands for `keeper.journal.rows.Rows`: one whole row at a time."""

    def __init__(self):
        self.scans = 0
        self.frozen_scans = 0
        self.values: list[int] = []

    def freeze(self):
        self.frozen_scans, self.scans = self.scans, 0

    def means(self, row, start, first, end):
        row[start + first : start + end] = self.values[first:end]


def growth(row: list[int]) -> tuple[int, ...]:
    """Returns what the totals grow by in a row of 10 s with these stored means."""
    panel_V, panel_A, pump_A, generator_V, _, lamp_A, supply_V, supply_A, up, down = row[:10]

    def energy_mJ(volt: int, milliamp: int) -> int:
        return max(volt * milliamp // 10, 0)  # steps of 10 mV, 1 mA, 10 s

    return (
        energy_mJ(panel_V, panel_A),
        energy_mJ(panel_V, pump_A),
        energy_mJ(supply_V, supply_A),
        energy_mJ(supply_V, -supply_A),
        energy_mJ(generator_V, row[4]),
        energy_mJ(generator_V, lamp_A),
        max(up, 0) * 1000,  # steps of 100 uL/s
        max(down, 0) * 1000,
        10_000 if up > 0 else 0,
        10_000 if lamp_A > 0 else 0,
    )


class ReadyKeeper:
    """A keeper whose rows are given; what the journal reads of one."""

    def __init__(self, journal: Journal, seed: int):
        self.journal = journal
        self.rows = ReadyRows()
        self.totals = self
        self.low, self.high = list(journal.restored_low), list(journal.restored_high)
        self.values = [0] * (COLUMNS + len(CONTACTS))
        self.events = EventQueue(16, self.values, COLUMNS + len(CONTACTS))
        self.state = 2
        self.busy = False
        self.uptime_ds = 0
        self.row_running_s = self.row_standstill_s = ROW_DS // 10
        self.tail_sync_s = TAIL_SYNC_S
        self.chance = random.Random(seed)
        self.days = [
            [row[5:] for row in active(noisy_day(seed))] for seed in (1, 2, 3)
        ]  # fmt: skip

    def settle(self):
        """As totals do."""

    def contact_bits(self):
        return 31

    def row(self, place: int) -> None:
        """One row, and the slack work of its time."""
        day = self.days[place // ROWS_A_DAY % len(self.days)]
        self.rows.values = day[place % ROWS_A_DAY % len(day)]
        self.rows.scans = ROW_DS
        self.uptime_ds += ROW_DS
        for total, more in enumerate(growth(self.rows.values)):
            self.low[total] += more
            self.high[total] += self.low[total] // 10**9
            self.low[total] %= 10**9
        if self.chance.random() < EVENTS_A_DAY / ROWS_A_DAY:
            self.events.begin_scan(self.state, self.uptime_ds)
            self.events.post(STATE, 1, 2)
        for _ in range(24):
            self.journal.slack(self, 0)


class CountingFs(BoardFs):
    """Notes how many erases each kind of call has cost."""

    def __init__(self, chip: Chip):
        super().__init__(chip, fresh=True)
        self.cost: dict[str, int] = {}
        self.worst = 0
        self.before = sum(chip.erases)

    def note(self, operation, path, data, first):
        now = sum(self.chip.erases)
        name = path.rsplit("/", 1)[-1][0] if operation != "remove" else "removal"
        self.cost[name] = self.cost.get(name, 0) + now - self.before
        self.worst = max(self.worst, now - self.before)
        self.before = now


@dataclasses.dataclass
class Held:
    """What an image holds, and what it cost. Days are of 16 h."""

    board: str
    budget_blocks: int
    days: float
    detail_days: float
    summary_days: float
    events: int
    bytes_on_flash: dict[str, float]
    erases_a_day: dict[str, float]
    worst_call_erases: int
    erases_a_block_a_year: float
    unevenness: float


def endure(board: str, days: int) -> Held:
    """Lets a journal live for so many days and counts what is there."""
    kind = BOARDS[board]
    chip = Chip(kind.files_blocks)
    fs = CountingFs(chip)
    with fs.attached():
        with fs.open("/code", "wb") as file:
            file.write(bytes(BESIDE_BLOCKS * FLASH_BLOCK))
            file.flush()
        chip.erases = [0] * chip.blocks
        fs.before, fs.worst, fs.cost = 0, 0, {}
        keeper = ReadyKeeper(open_journal(ROOT, 1, 1, kind.journal_bytes), 1)
        for place in range(days * ROWS_A_DAY):
            keeper.row(place)
        content = reader.read_files(fs.files())
    first_row = min(row[1] for row in content.rows.values())
    first_summary = min((fields[1] for fields in content.by_summary.values()), default=0)
    used = [erases for erases in chip.erases if erases]
    total = sum(chip.erases) / days
    streams: dict[str, float] = {}
    for name, stream in zip("dest", range(4), strict=True):
        streams[name] = sum(bytes_of(one) for one in keeper.journal.segments.table[stream])
    return Held(
        board,
        keeper.journal.segments.budget_blocks,
        days,
        (keeper.uptime_ds - first_row) / DAY_DS,
        (keeper.uptime_ds - first_summary) / DAY_DS,
        len(content.by_event),
        streams,
        {name: count / days for name, count in sorted(fs.cost.items())},
        fs.worst,
        total * 365 / chip.blocks,
        max(used) / (sum(used) / len(chip.erases)),
    )


def main() -> None:
    """Prints what each board holds."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--days", type=int, default=400)
    parser.add_argument("--board", choices=[*BOARDS], action="append")
    asked = parser.parse_args()
    for board in asked.board or BOARDS:
        held = endure(board, asked.days)
        print(f"{board}, after {asked.days} days of 16 h:")
        print(f"  journal {held.budget_blocks} blocks; detail {held.detail_days:.1f} days,"
              f" summary {held.summary_days:.1f} days, {held.events} events")
        for what, found, aim in zip(("detail", "summary"), (held.detail_days, held.summary_days),
                                    AIMED_DAYS.get(board, ()), strict=False):
            print(f"  aim of {what}: {aim} days, {'met' if found >= aim else 'MISSED'}")
        print("  on flash: " + ", ".join(f"{k} {v / 1000:.0f} kB"
                                         for k, v in held.bytes_on_flash.items()))
        print("  erases a day: " + ", ".join(f"{k} {v:.0f}"
                                             for k, v in held.erases_a_day.items())
              + f"; most in one call {held.worst_call_erases}")
        print(f"  {held.erases_a_block_a_year:.0f} erases a block and year; the busiest block"
              f" {held.unevenness:.1f} times that;"
              f" {ENDURANCE_ERASES:.0e} erases last"
              f" {ENDURANCE_ERASES / held.erases_a_block_a_year / held.unevenness:.0f} years")


if __name__ == "__main__":
    main()
