"""Pull: bring the shelf up to date with a board's journal.

Owns the order of things: anchor first, then the files, each from the byte
that the shelf already holds.  Whatever ends a pull, what arrived is kept.
"""

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime

from forebay.shelf import Anchor, Shelf
from forebay.shelf.anchors import tie
from forebay.shelf.segments import split_file_number
from forebay.wire.client import MOST_FILE_WORDS, UNIT, WORD_BYTES, Board, NoSuchRecord, WireError
from keeper import registers
from keeper.records import TAIL

# Bytes before the end of what is held that are read again and compared: the
# CRC of the last record and more, so that another file of the same name shows.
OVERLAP_BYTES = 32


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
    requests: int
    seconds: float
    anchor_utc: str
    anchor_uncertainty_s: float
    new_journal: bool

    def as_json(self) -> dict:
        """Return the report with the units in its keys, as documented in docs/json.md."""
        report = asdict(self)
        return {
            "rig_id": report.pop("rig_id"),
            "bytes_B": report.pop("bytes"),
            "time_s": round(report.pop("seconds"), 3),
            **report,
        }

    def lines(self) -> list[str]:
        """Return the report as lines for a terminal."""
        rate = f", {self.bytes / self.seconds / 1000:.1f} kB/s" if self.bytes else ""
        found = [
            f"board: rig {self.rig_id}, start {self.boot}, up {self.uptime_s / 3600:.1f} h",
            f"fetched: {self.bytes} bytes of {self.files} files in {self.seconds:.1f} s{rate}",
            f"new: {self.new_rows} rows, {self.new_events} events",
        ]
        if self.files_gone:
            found.append(f"gone while they were fetched: {self.files_gone} files")
        if self.new_journal:
            found.append("The board began a new journal since the last pull; both are kept.")
        return found


def utc_now() -> datetime:
    """Return the host's time, with its zone (UTC)."""
    return datetime.now(UTC)


def pull(
    port: str,
    shelf: Shelf,
    progress: Callable[[int, int], None] | None = None,
    now_utc: Callable[[], datetime] = utc_now,
    unit: int = UNIT,
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
        life = shelf.life_of(rig_id, anchor.boot, anchor.uptime_ds)
        shelf.add_rig(rig_id)
        before = shelf.counts(rig_id)
        errand = _Errand(board, shelf, rig_id, life, progress)
        errand.run(board.directory())
        shelf.add_anchor(rig_id, anchor._replace(life=errand.life))
        after = shelf.counts(rig_id)
        return PullReport(
            rig_id=rig_id,
            boot=anchor.boot,
            uptime_s=anchor.uptime_ds / 10,
            firmware_version=live["firmware_version"],
            bytes=errand.moved,
            files=errand.files,
            files_gone=errand.gone,
            new_rows=after[0] - before[0],
            new_events=after[1] - before[1],
            requests=board.requests,
            seconds=time.monotonic() - started,
            anchor_utc=datetime.fromtimestamp(anchor.utc_s, UTC).isoformat(),
            anchor_uncertainty_s=anchor.uncertainty_s,
            new_journal=errand.life > 0 and errand.life not in errand.lives_before,
        )


def _anchor(board, now_utc):
    """Return (live values, anchor): the host's time in the middle of the reading."""
    before = now_utc()
    live = board.live()
    after = now_utc()
    if live["map_version"] != registers.MAP_VERSION:
        raise WireError(
            f"the board at {board.port} speaks register map {live['map_version']}, this"
            f" forebay {registers.MAP_VERSION}: use the forebay that it was flashed with"
        )
    utc_s, doubt_s = tie(before.timestamp(), after.timestamp())
    return live, Anchor(0, live["boot"], live["uptime_ds"], utc_s, doubt_s)


class _Errand:
    """One walk through a board's directory."""

    def __init__(self, board, shelf, rig_id, life, progress):
        self.board = board
        self.shelf = shelf
        self.rig_id = rig_id
        self.life = life
        self.lives_before = shelf.lives(rig_id)
        self.progress = progress or (lambda done, total: None)
        self.moved = 0
        self.files = 0
        self.gone = 0

    def run(self, entries):
        held = self.shelf.sizes(self.rig_id, self.life)
        wanted = []
        total = 0
        for number, size in entries:
            stream, segment = split_file_number(number)
            lacks = size - held.get((stream, segment), 0)
            if lacks < 0 and stream != TAIL:
                self._start_again(entries)
                return
            if lacks:
                wanted.append((number, size))
                total += max(lacks, 0) or size
        for number, size in wanted:
            if not self._fetch(number, size, total):
                self._start_again(entries)
                return

    def _start_again(self, entries):
        """Take all files anew: what the shelf knows by their names is another journal."""
        self.life = max(self.lives_before, default=-1) + 1
        self.run(entries)

    def _fetch(self, number, size, total):
        """Fetch one file from where the shelf ends; return whether it goes on there."""
        stream, segment = split_file_number(number)
        held = self.shelf.segment(self.rig_id, self.life, stream, segment)
        if size < len(held):
            # The numbers of the short-lived tails come round again; other streams' do not.
            held = b""
        at = max(0, len(held) - OVERLAP_BYTES) // WORD_BYTES * WORD_BYTES
        data = bytearray(held[:at])
        try:
            while len(data) < size:
                data += self._chunk(number, len(data), size)
                if not held.startswith(data[: len(held)]):
                    data.clear()
                    if stream != TAIL:
                        return False
                    held = b""
                self.progress(self.moved, max(total, self.moved))
        except NoSuchRecord:
            # Removed since the directory was read: a tail replaced by its block, or retention.
            self.gone += 1
        finally:
            if len(data) > len(held):
                self.shelf.put_segment(self.rig_id, self.life, stream, segment, data)
        self.files += 1
        return True

    def _chunk(self, number, at, size):
        left = size - at
        words = min((left + 1) // WORD_BYTES, MOST_FILE_WORDS)
        chunk = self.board.file(number, at // WORD_BYTES, words)[:left]
        if not chunk:
            raise WireError(f"the board at {self.board.port} gave an empty piece of a file")
        self.moved += len(chunk)
        return chunk
