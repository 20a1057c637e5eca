"""Memory and time of the keeper on the emulated board, in a start that is left to itself.

Run: python -m tests.bench.board_figures [--demo NAME] [--rows N] [--minutes N] [--json FILE]

The board starts by its own loader from what `forebay flash` puts there, with a
key, all instruments of a demonstration rig, and the journal that a power cut
in a hand-over left: the largest tail there can be (--rows: one of so many rows).
All figures but the cost of the import are seen from outside
(tests/board/watched.py), and the journal is the real one, or there are none.
"""

import argparse
import contextlib
import json
import pathlib
import statistics
import tempfile
from collections.abc import Iterator
from typing import Any
from unittest import mock

from forebay import rig as rigs
from forebay.dispatch import keys
from forebay.shelf import Shelf
from forebay.wire import PullReport, pull
from keeper import modes
from keeper.operation import orders
from tests.board import clock, journals, session, states, watched
from tests.board.rig import EmulatedBoard, missing

START_MS = 5000  # twice the bar for the first scan
LOOK_MS = 3000
CLOSING_LOOK_MS = 300  # it lasts as long as the valve travels
MINUTE_MS = 60_000
PIECE_MS = 5000
PIECES = MINUTE_MS // PIECE_MS
REST_MS = 2500  # two collections
BESIDE_AIM_US = 2000  # of the longest scan of a state; tests hold the mean to it
# Orders that move nothing: what they would start has neither water nor sun here.
ASKED_IN_TURN = ((orders.REST, 10), (orders.PUMP_ALLOWED, 0, 10), (orders.PUMP_ALLOWED, 1),
                 (orders.RELEASE,))

IMPORT = """
import gc, sys, time
sys.path.insert(0, "/a")
gc.threshold(16384)
gc.collect()
free = gc.mem_free()
began = time.ticks_ms()
import {module}
took = time.ticks_diff(time.ticks_ms(), began)
gc.collect()
print(free - gc.mem_free(), took)
"""


@contextlib.contextmanager
def own_keys(demo: str = rigs.DEMOS[0]) -> Iterator[bytes]:
    """Gives a demonstration rig a key, in a folder of its own."""
    with tempfile.TemporaryDirectory() as folder:
        with mock.patch.object(keys, "folder", return_value=pathlib.Path(folder)):
            yield keys.ensure(rigs.load(demo=demo).rig_id).secret


def import_cost() -> dict[str, float]:
    """Returns what importing the program takes of the heap and of time."""
    files = session.flashed_files(with_rig=True) | {"/main.py": b"pass\n"}
    with EmulatedBoard(files, held=True) as board, session.prompt(board) as repl:
        used_B, took_ms = session.said(repl, IMPORT.format(module=session.entry())).split()
    return {"import_kB": int(used_B) / 1000, "import_ms": int(took_ms)}


def files_of(key: bytes, journal: dict[str, bytes], demo: str) -> dict[str, bytes]:
    """Returns what is on the board before its power comes."""
    return {**session.flashed_files(with_rig=True, demo=demo, changed=states.SOON),
            keys.BOARD_PATH: key, **journal}


class Figures:
    """One start that is watched. Attributes: board, rows (name -> figure), boot, rows_before."""

    def __init__(self, board: EmulatedBoard, boot: int, rows_before: int,
                 demo: str = rigs.DEMOS[0]):
        """board: fitted, held, its power on.

        boot: the number that this start must have. rows_before: in the journal
        that it starts from.
        """
        self.rows_before = rows_before
        self.demo = demo
        self.board = board
        self.boot = boot
        self.rows: dict[str, Any] = {}
        self.collected: list[watched.Collection] = []
        self.scanned: list[watched.ScanTime] = []

    def _marks(self) -> list[list[Any]]:
        """Returns the marks since the last call; their scans and collections are kept."""
        marks = self.board.marks()
        self.scanned += watched.scans(marks)
        self.collected += watched.collections(marks)
        return marks

    def start(self) -> None:
        """Sees the board from power to its first scans."""
        board = self.board
        board.run_ms(START_MS)
        marks = self._marks()
        watched.assert_real(states.live(board), board, self.boot)
        found = watched.collections(marks)
        first_ms = watched.first(marks, watched.LOCK)
        self.rows["run_begins_ms"] = watched.first(marks, watched.WATCHDOG)
        self.rows["first_scan_ms"] = first_ms
        self.rows["least_free_at_start_B"] = min(c.free_B for c in found if c.at_ms < first_ms)
        self.rows["free_after_start_B"] = found[-1].free_B
        self.rows["largest_after_start_B"] = found[-1].largest_B

    def scans(self) -> None:
        """Measures the scans of every state."""
        def look(state):
            board = self.board
            self._marks()
            closing = state == modes.CLOSING
            board.run_ms(CLOSING_LOOK_MS if closing else LOOK_MS)
            marks = self._marks()
            if not closing:
                assert states.state_of(board) == state
            self.rows[modes.STATES[state][0]] = summary(watched.scans(marks))
        states.tour(self.board, look, self.demo)

    def live_on(self, minutes: int) -> None:
        """Lets minutes pass with a client that pulls, asks and orders, then looks at the heap.

        Each minute it pulls the whole journal, as a laptop that has never seen the
        board, and after that what is new, as one that watches; it sends
        signed orders all the time.
        """
        board = self.board
        begun_ms = board.state()["ms"]
        for minute in range(minutes):
            with tempfile.TemporaryDirectory() as folder:
                path = pathlib.Path(folder) / "shelf.sqlite"
                assert pulled(board, path).new_rows >= self.rows_before
                for piece in range(PIECES):
                    if board.state()["ms"] - begun_ms >= (minute + 1) * MINUTE_MS:
                        break
                    board.run_ms(PIECE_MS)
                    code, *values = ASKED_IN_TURN[piece % len(ASKED_IN_TURN)]
                    assert states.order(board, code, *values).result == orders.DONE
                    pulled(board, path)
                    self._marks()
        self._marks()
        board.run_ms(REST_MS)
        marks = self._marks()
        live = states.live(board)
        watched.assert_real(live, board, self.boot)
        last = watched.collections(marks)[-1]
        self.rows["free_after_minutes_B"] = last.free_B
        self.rows["largest_after_minutes_B"] = last.largest_B
        self.rows["collection_most_ms"] = max(c.took_ms for c in self.collected)
        longest = max(self.scanned, key=lambda scan: scan.whole_us)
        self.rows["scan_most_us"] = longest.whole_us
        self.rows["scan_most_at_ms"] = longest.at_ms
        self.rows["scans_seen"] = len(self.scanned)
        for name in ("stall_ms", "late_ms", "late_scans", "journal_lost", "bus_errors",
                     "orders_passed"):
            self.rows[name] = live[name]


def pulled(board: EmulatedBoard, shelf: pathlib.Path) -> PullReport:
    """Pulls what a shelf lacks."""
    with clock.following(board), Shelf(shelf) as found:
        return pull(board.serial_path, found)


def summary(scans: list[watched.ScanTime]) -> dict[str, float]:
    """Returns mean and longest of some scans [us]."""
    assert scans, "not one scan was seen"
    return {
        "scans": len(scans),
        "mean_us": statistics.mean(scan.whole_us for scan in scans),
        "most_us": max(scan.whole_us for scan in scans),
        "beside_mean_us": statistics.mean(scan.beside_us for scan in scans),
        "beside_most_us": max(scan.beside_us for scan in scans),
        "transfers_least_us": min(scan.transfers_us for scan in scans),
        "transfers_most_us": max(scan.transfers_us for scan in scans),
    }


def measure(minutes: int, journal: dict[str, bytes], demo: str = rigs.DEMOS[0]) -> dict[str, Any]:
    """Returns every figure of a demonstration's start from a journal."""
    with own_keys(demo) as key:
        files = files_of(key, journal, demo)
        with EmulatedBoard(files, held=True, powered=False, watched=watched.WATCHED) as board:
            session.fit(board, demo)
            board.power_on()
            figures = Figures(board, 2, len(journals.of_flash(journal).rows), demo)
            figures.start()
            figures.scans()
            figures.live_on(minutes)
            return figures.rows


def lines(rows: dict[str, Any]) -> list[str]:
    """Returns the table as lines of text."""
    found = []
    for name, value in rows.items():
        if isinstance(value, dict):
            text = "  ".join(f"{key} {number:.0f}" for key, number in value.items())
        else:
            text = f"{value:.1f}" if isinstance(value, float) else str(value)
        found.append(f"{name:26s} {text}")
    return found


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--demo", choices=rigs.DEMOS, default=rigs.DEMOS[0])
    parser.add_argument("--rows", type=int, help="in the tail, instead of the most")
    parser.add_argument("--minutes", type=int, default=10, help="of board time, with a client")
    parser.add_argument("--json", type=pathlib.Path, help="where to put the figures as JSON")
    asked = parser.parse_args()
    if missing():
        raise SystemExit(missing())
    largest = asked.rows is None
    journal = (journals.of_largest_tail(demo=asked.demo) if largest
               else journals.of_tail(asked.rows, demo=asked.demo))
    rows = {**import_cost(), **measure(asked.minutes, journal, asked.demo)}
    print("\n".join(lines(rows)))
    missed = [name for name, row in rows.items()
              if isinstance(row, dict) and row["beside_most_us"] > BESIDE_AIM_US]
    print(f"longest beside the bus, aim {BESIDE_AIM_US} us:"
          f" {'MISSED: ' + ', '.join(missed) if missed else 'met'}")
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1) + "\n")
    if missed:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
