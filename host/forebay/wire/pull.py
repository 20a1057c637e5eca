"""Pull: bring the shelf up to date with a board's journal.

Owns the order of things: the time first, then the files, each from the byte
that the shelf already holds.  Whatever ends a pull, what arrived is kept, and
a pull that brings nothing leaves no shelf behind.
"""

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime

from forebay.shelf import Anchor, Shelf
from forebay.shelf.anchors import tie
from forebay.shelf.index import Gain
from forebay.shelf.lives import board_text, named, to_try
from forebay.shelf.segments import file_number, split_file_number
from forebay.wire.client import MOST_FILE_WORDS, WORD_BYTES, Board, NoSuchRecord, WireError
from keeper.journal.records import TAIL

# Bytes before the end of what is held that are read again and compared: the
# CRC of the last record and more, so that another file of the same name shows.
OVERLAP_BYTES = 32
# How often the directory is read again because files went while they were
# fetched: a tail lasts minutes, a pull seldom longer.
MOST_ROUNDS = 3


@dataclass
class PullReport:
    """What one pull brought: counts [-], bytes moved [bytes], wall time [s], and from whom."""

    rig_id: int
    boot: int
    uptime_s: float
    firmware_version: int
    bytes: int
    files: int
    files_gone: int
    new_rows: int
    new_events: int
    newer_segments: int
    requests: int
    seconds: float
    anchor_utc: str
    anchor_uncertainty_s: float
    new_journal: bool
    board: str
    other_boards: list[str]

    def as_json(self) -> dict:
        """Return the report with the units in its keys, as documented in docs/json.md."""
        report = asdict(self)
        return {
            "rig_id": report.pop("rig_id"),
            "bytes_B": report.pop("bytes"),
            "time_s": round(report.pop("seconds"), 3),
            **report,
            "board": self.board or None,
        }

    def lines(self) -> list[str]:
        """Return the report as lines for a terminal."""
        rate = f", {self.bytes / self.seconds / 1000:.1f} kB/s" if self.bytes else ""
        found = [
            f"board: rig {self.rig_id}, start {self.boot}, up {self.uptime_s / 3600:.1f} h"
            + (f", number {self.board}" if self.board else ""),
            f"fetched: {self.bytes} bytes of {self.files} files in {self.seconds:.1f} s{rate}",
            f"new: {self.new_rows} rows, {self.new_events} events",
        ]
        if self.files_gone:
            found.append(f"gone while they were fetched: {self.files_gone} files")
        if self.newer_segments:
            found.append(f"{self.newer_segments} segments are of a newer version: kept, not"
                         " read. Update this forebay.")
        if self.new_journal:
            found.append("The board began a new journal since the last pull; both are kept.")
        if self.other_boards:
            found.append("The shelf holds another board of this rig as well"
                         f" ({', '.join(map(named, self.other_boards))}): they are kept apart.")
        return found


def utc_now() -> datetime:
    """Return the host's time, with its zone (UTC)."""
    return datetime.now(UTC)


def pull(
    port: str,
    shelf: Shelf,
    progress: Callable[[int, int], None] | None = None,
    now_utc: Callable[[], datetime] = utc_now,
    unit: int | None = None,
) -> PullReport:
    """Fetch what the shelf lacks from the board at `port`.

    port, unit: as for `Board`.  progress: called with (bytes so far, bytes
    in all).  now_utc: gives the time of the anchor.  Raises WireError;
    what arrived before stays on the shelf.
    """
    started = time.monotonic()
    with Board(port, unit) as board:
        live, anchor = _anchor(board, now_utc)
        rig_id = live["rig_id"]
        session = _Session(board, shelf, rig_id, anchor, progress)
        session.go_on_with(board_text(live["board_id"]), live["journal_budget_B"])
        session.run()
        return PullReport(
            rig_id=rig_id,
            boot=anchor.boot,
            uptime_s=anchor.uptime_s,
            firmware_version=live["firmware_version"],
            bytes=session.moved,
            files=session.files,
            files_gone=session.gone,
            new_rows=session.gain.rows,
            new_events=session.gain.events,
            newer_segments=session.gain.newer_segments,
            requests=board.requests,
            seconds=time.monotonic() - started,
            anchor_utc=datetime.fromtimestamp(anchor.utc_s, UTC).isoformat(),
            anchor_uncertainty_s=anchor.uncertainty_s,
            new_journal=session.is_new and session.knew_board,
            board=session.chip,
            other_boards=sorted(set(session.boards_before.values()) - {session.chip}),
        )


def _anchor(board, now_utc):
    """Return (live values, anchor): the host's time in the middle of the reading."""
    board.values("map_version")  # refuses another map, ahead of the reading that is timed
    before = now_utc()
    live = board.values("firmware_version", "rig_id", "boot", "uptime_ds", "board_id",
                        "journal_budget_B")
    after = now_utc()
    utc_s, doubt_s = tie(before.timestamp(), after.timestamp())
    return live, Anchor(0, live["boot"], live["uptime_ds"], utc_s, doubt_s)


class _Session:
    """One walk through a board's directory."""

    def __init__(self, board, shelf, rig_id, anchor, progress):
        self.board = board
        self.shelf = shelf
        self.rig_id = rig_id
        self.anchor = anchor
        self.boards_before = shelf.boards(rig_id)
        self.generation = -1
        self.progress = progress or (lambda done, total: None)
        self.wanted_bytes = 0
        self.moved = 0
        self.files = 0
        self.gone = 0
        self.gain = Gain()

    def go_on_with(self, chip, budget_B):
        """Take which board it is, and so with which journal of the shelf it can go on."""
        self.chip = chip
        self.budget_B = budget_B or None
        self.knew_board = chip in self.boards_before.values()
        tries = to_try(self.shelf, self.rig_id, chip, self.anchor)
        self.untold = tries.untold
        self.tries = iter([*tries.own, tries.new])
        self.new = tries.new
        self._try_next()

    def _try_next(self):
        self.generation = next(self.tries, self.generation + 1)
        self.is_new = self.generation == self.new

    def run(self):
        for _ in range(MOST_ROUNDS):
            gone_before = self.gone
            self._round([(*split_file_number(number), size)
                         for number, size in self.board.directory()])
            if self.gone == gone_before:
                return

    def _round(self, files):
        """Take what the shelf lacks of files [(stream, number, bytes)].

        The files that the shelf knows come first: they show whether the board
        still writes the journal of that generation.  Then the anchor is sure.
        """
        if self.is_new and self.untold is not None and self._is_that(self.untold, files):
            # Pulled before the shelf kept whose it was.
            self.generation, self.is_new, self.knew_board = self.untold, False, True
        self._list(files)
        while not self._goes_on(files):
            # What the shelf knows by these names is another journal.
            self._try_next()
            self._list(files)
        self.shelf.add_anchor(self.rig_id, self.anchor._replace(generation=self.generation))
        held = self.shelf.sizes(self.rig_id, self.generation)
        for stream, number, size in files:
            if size != held.get((stream, number), 0):
                self._fetch(stream, number, size)

    def _is_that(self, generation, files):
        """Return whether the board's files are those of a life, by the end of what is held."""
        held = self.shelf.sizes(self.rig_id, generation)
        known = [file for file in files if file[0] != TAIL and held.get(file[:2])]
        for stream, number, size in known:
            data = self.shelf.segment(self.rig_id, generation, stream, number)
            at = max(0, len(data) - OVERLAP_BYTES) // WORD_BYTES * WORD_BYTES
            try:
                if size < len(data) or not self._chunk(
                        stream, number, at, size).startswith(data[at:]):
                    return False
            except NoSuchRecord:
                return False  # gone since: a life of its own is no harm
        return bool(known)

    def _list(self, files):
        """Keep the list of files ahead of them, so that a pull that breaks off shows as one."""
        self.shelf.note_life(self.rig_id, self.generation, self.chip, self.budget_B)
        self.shelf.put_listing(self.rig_id, self.generation, self.anchor.utc_s, files)

    def _goes_on(self, files):
        """Continue the files that the shelf has a part of; return whether all of them fit it."""
        held = self.shelf.sizes(self.rig_id, self.generation)
        lacks = {file: file[2] - held.get(file[:2], 0) for file in files}
        self.wanted_bytes = self.moved + sum(
            max(more, 0) or size for (_, _, size), more in lacks.items() if more)
        if any(more < 0 and stream != TAIL for (stream, _, _), more in lacks.items()):
            return False
        return all(self._fetch(*file) for file, more in lacks.items()
                   if more and file[0] != TAIL and file[:2] in held)

    def _fetch(self, stream, number, size):
        """Fetch one file from where the shelf ends; return whether it goes on there."""
        held = self.shelf.segment(self.rig_id, self.generation, stream, number)
        if size < len(held):
            # The numbers of the short-lived tails come round again; other streams' do not.
            held = b""
        at = max(0, len(held) - OVERLAP_BYTES) // WORD_BYTES * WORD_BYTES
        data = bytearray(held[:at])
        try:
            while len(data) < size:
                data += self._chunk(stream, number, len(data), size)
                if not held.startswith(data[: len(held)]):
                    data.clear()
                    if stream != TAIL:
                        return False
                    held = b""
                self.progress(self.moved, max(self.wanted_bytes, self.moved))
        except NoSuchRecord:
            # Removed since the directory was read: a tail replaced by its block, or retention.
            self.gone += 1
        finally:
            if len(data) > len(held):
                new = self.shelf.put_segment(self.rig_id, self.generation, stream, number, data)
                self.gain = self.gain.plus(new)
        self.files += 1
        return True

    def _chunk(self, stream, number, at, size):
        left = size - at
        words = min((left + 1) // WORD_BYTES, MOST_FILE_WORDS)
        file = file_number(stream, number)
        chunk = self.board.file(file, at // WORD_BYTES, words)[:left]
        if not chunk:
            raise WireError(f"the board at {self.board.port} gave an empty piece of a file")
        self.moved += len(chunk)
        return chunk
