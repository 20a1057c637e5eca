"""Years of a rig on a shelf, in the journal's own format: rehearsed days, one behind the other.

A few different days (the demo's measured sun, modelled clear days of some months) are
rehearsed, each by the unmodified keeper, and taken in an order drawn by chance as the
days of one long run of the board.  Rows come in the blocks that the board wrote, with
their numbers and their uptime moved on; events and summaries likewise, with totals that
go on from day to day.  A contact a week ties it to UTC.  What a day begins with (the
level of the tank) need not be what the one before ended with.
"""

import random
import struct
import tempfile
from pathlib import Path
from typing import NamedTuple

import numpy as np

from forebay.rehearse import plan, rehearse
from forebay.shelf import Anchor, Shelf
from forebay.shelf.decode import Journal
from forebay.shelf.rows import EVENT_RECORD, total_values
from forebay.shelf.segments import read
from keeper import events
from keeper.channels import LIMB, TOTALS
from keeper.journal import records
from tests.shelf import encoder

DAY_DS = 864_000
SEGMENT_MOST = 20_000
SUMMARIES_A_BLOCK = 12
ANCHOR_DAYS = 7
BEGIN_S = 1_600_000_000.0  # of the first day [s since 1970 UTC]
SEED = 1
MODELLED_DAYS = ("01-20", "03-21", "05-15", "07-10", "10-05")


class Day(NamedTuple):
    """A rehearsed day: blocks of rows (their count, bits, how many bits), events, summaries.

    totals: what the ten totals grow by.
    """

    blocks: list[tuple[int, int, int]]
    events: np.ndarray
    summaries: np.ndarray
    totals: np.ndarray


def rehearsed(folder: Path, demo: str | None = None) -> tuple[list[Day], Shelf]:
    """Returns different days of a demo's rig, and the shelf of the first (for its rig)."""
    days, shelves = [], []
    for number, date in enumerate((None, *MODELLED_DAYS)):
        asked = plan(demo=demo, sun=date and "clear", date=date, out=folder / str(number))
        rehearse(asked, seed=number + 1)
        shelves.append(Shelf(folder / str(number) / "shelf.sqlite"))
        days.append(day_of(shelves[-1].journal(shelves[-1].only_rig())))
    return days, shelves[0]


def day_of(journal: Journal) -> Day:
    """Returns a journal of one start of the board as a day to be repeated."""
    rows = journal.rows
    flat = list(zip(*[getattr(rows, name).tolist() for name in
                      ("boot", "uptime_ds", "scans", "state", "contacts")],
                    rows.stored.T.tolist(), strict=True))
    blocks = [_block(flat[at:at + 64]) for at in range(0, len(flat), 64)]
    # Starts of the board and what belongs to them happen once.
    kept = journal.events[journal.events["uptime_ds"] > 0]
    kept = kept[kept["code"] != events.BOOT]
    last = journal.totals[-1] if len(journal.totals) else journal.summaries[-1]
    return Day(blocks, kept, journal.summaries, total_values(last["totals"]))


def _block(rows):
    columns = [[row[index] for row in rows] for index in range(5)]
    columns += [[row[5][index] for row in rows] for index in range(14)]
    run = ""  # of bits, the first one last
    for index, values in enumerate(columns):
        run = encoder._column(values, index == 1) + run
    return len(rows), int(run, 2), len(run)


def moved(count: int, payload: int, bits: int, by_ds: int) -> bytes:
    """Returns a block's payload with the uptime of all its rows moved on.

    Only the first number of the second column changes: differences stay what they are.
    """
    mode, width = payload & 3, payload >> 2 & 63
    if mode:
        raise ValueError("a block of more than one start")
    at = 8 + width + 2  # behind the mode of the uptime's column
    width = payload >> at & 63
    first = payload >> at + 6 & (1 << width) - 1
    uptime_ds = first // 2 + by_ds
    code = 2 * uptime_ds
    rest = payload >> at + 6 + width
    bits += code.bit_length() - width
    width = code.bit_length()
    whole = (payload & (1 << at) - 1) | width << at | code << at + 6 | rest << at + 6 + width
    return bytes([2, count]) + whole.to_bytes((bits + 7) // 8, "little")


class Writer:
    """Writes days to a shelf, one after the other."""

    def __init__(self, shelf: Shelf, rig_id: int, days: list[Day]):
        self.shelf, self.rig_id, self.days = shelf, rig_id, days
        self.chance = random.Random(SEED)
        self.base = np.zeros(len(TOTALS), np.int64)
        self.seqs = dict.fromkeys((records.DETAIL, records.EVENTS, records.SUMMARY), 1)
        self.open = {stream: encoder.header(stream, 1, rig_id) for stream in self.seqs}
        self.numbers = dict.fromkeys(self.seqs, 1)

    def put(self, stream: int, kind: int, payload: bytes, count: int) -> None:
        """Adds a record of so many things to a stream."""
        made = encoder.record(kind, self.seqs[stream], payload)
        self.seqs[stream] += count
        if len(self.open[stream]) + len(made) > SEGMENT_MOST:
            self.end(stream)
        self.open[stream] += made

    def end(self, stream: int) -> None:
        """Puts the segment of a stream on the shelf and begins the next."""
        self.shelf.put_segment(self.rig_id, 0, stream, self.numbers[stream], self.open[stream])
        self.numbers[stream] += 1
        self.open[stream] = encoder.header(stream, self.numbers[stream], self.rig_id)

    def start(self) -> None:
        """Writes that the board starts."""
        head = struct.pack("<HIBBBBi", 1, 0, events.BOOT, 0, 4, 31, 0)
        self.put(records.EVENTS, records.EVENT,
                 head + bytes(28) + encoder.totals_bytes(), 1)

    def day(self, number: int) -> None:
        """Writes one day."""
        day = self.chance.choice(self.days)
        by_ds = number * DAY_DS
        for block in day.blocks:
            self.put(records.DETAIL, records.BLOCK, moved(*block, by_ds), block[0])
        for event in self._moved(day.events, by_ds):
            content = np.zeros((), EVENT_RECORD)
            for name in EVENT_RECORD.names or ():
                content[name] = event[name]
            self.put(records.EVENTS, records.EVENT, content.tobytes(), 1)
        summed = self._moved(day.summaries, by_ds)
        for at in range(0, len(summed), SUMMARIES_A_BLOCK):
            some = summed[at:at + SUMMARIES_A_BLOCK]
            plain = [(int(one["boot"]), int(one["uptime_ds"]), int(one["covered_s"]),
                      one["stored"].tolist(), total_values(one["totals"]).tolist())
                     for one in some]
            self.put(records.SUMMARY, records.SUMMARY_BLOCK,
                     encoder.summary_block(1, plain)[8:-4], len(some))
        self.base = self.base + day.totals
        if number % ANCHOR_DAYS == 0:
            self.shelf.add_anchor(self.rig_id, Anchor(0, 1, by_ds, BEGIN_S + by_ds / 10, 0.05))

    def _moved(self, table, by_ds):
        table = table.copy()
        table["uptime_ds"] += by_ds
        totals = total_values(table["totals"]) + self.base
        table["totals"] = np.stack([totals % LIMB, totals // LIMB], -1)
        return table

    def close(self) -> None:
        """Puts what is begun on the shelf."""
        for stream, data in self.open.items():
            if read(data).records:
                self.end(stream)


def make(path: Path, days: int, demo: str | None = None) -> Path:
    """Makes a shelf of so many days of a demo's rig; returns its path."""
    with tempfile.TemporaryDirectory() as folder:
        found, first = rehearsed(Path(folder), demo)
        rig_id, name = first.rigs()[0]
        text, = first.read("SELECT toml, digest FROM rig_versions")[0:1]
        with Shelf(path) as shelf:
            shelf.add_rig(rig_id, name, *text)
            # A bench's shelf is made anew if the machine fails: no need to wait for the disk.
            shelf.read("PRAGMA synchronous = OFF")
            writer = Writer(shelf, rig_id, found)
            writer.start()
            for number in range(days):
                writer.day(number)
            writer.close()
    return path
