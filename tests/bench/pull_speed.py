"""How fast a journal comes over a line.  Run: python -m tests.bench.pull_speed

The ceiling is that of Modbus RTU itself at 115 200 baud, 8N1: a request for
121 words is 12 bytes, its answer 249, a byte takes 10 bits, and each of the
two frames is preceded by 1.75 ms of silence ("MODBUS over Serial Line" V1.02,
2.5.1.1; "MODBUS Application Protocol" V1.1b3, 6.14): 242 bytes in 26.2 ms.
The board is the firmware's own loop in a process of its own, on this machine:
what a board's slower processor takes longer is measured apart.
"""

import contextlib
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from forebay.shelf import Shelf
from forebay.wire import Board, pull
from forebay.wire.client import MOST_FILE_WORDS
from forebay.wire.line import FRAME_SILENCE_S, PromptSerial

BAUD = 115200
SILENCE_S = 0.00175
HISTORY_SCANS = 120000
REQUEST_BYTES, ANSWER_BYTES, DATA_BYTES = 12, 249, 242
CEILING_B_s = DATA_BYTES / ((REQUEST_BYTES + ANSWER_BYTES) * 10 / BAUD + 2 * SILENCE_S)


@contextlib.contextmanager
def board_line(baud: int, folder: str, scans: int = HISTORY_SCANS
               ) -> Iterator[tuple[str, int, dict[str, float]]]:
    """Gives (port, number of the TCP port, counts) of a board; the counts come at the end."""
    board = subprocess.Popen(
        [sys.executable, "-m", "tests.bench.board_line", str(baud), folder + "/journal",
         str(scans)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert board.stdin is not None
    assert board.stdout is not None
    counts: dict[str, float] = {}
    try:
        port, number = board.stdout.readline().split()
        yield port, int(number), counts
    finally:
        board.stdin.close()
        counts.update(json.loads(board.stdout.readline()))
        board.wait(20)


def measure(baud: int, most_bytes: int = 0, quiet: bool = True,
            scans: int = HISTORY_SCANS) -> dict[str, float]:
    """Returns what a pull over a line measured.

    baud: of the line, 0 = none; most_bytes: how much to read [bytes], 0 = all
    files, onto a shelf; quiet: leave the silence ahead of each request; scans:
    length of the board's history.
    """
    with tempfile.TemporaryDirectory() as folder:
        with board_line(baud, folder, scans) as (port, _, counts):
            read = _files if most_bytes else _pull
            found = read(port, folder, most_bytes, quiet)
    return {**found, **counts}


def _files(port, folder, most_bytes, quiet):
    """Reads the largest file over and over, in whole requests."""
    with Board(port) as board:
        PromptSerial.silence_s = FRAME_SILENCE_S if quiet else 0.0
        number, size = max(board.directory(), key=lambda entry: entry[1])
        words = size // 2 // MOST_FILE_WORDS * MOST_FILE_WORDS
        began_s, got, requests = time.monotonic(), 0, board.requests
        while got < most_bytes:
            for at in range(0, words, MOST_FILE_WORDS):
                got += len(board.file(number, at, MOST_FILE_WORDS))
        seconds = time.monotonic() - began_s
        return {"B_s": got / seconds, "request_ms": 1000 * seconds / (board.requests - requests)}


def _pull(port, folder, *_):
    with Shelf(Path(folder) / "shelf") as shelf:
        report = pull(port, shelf)
    return {"B_s": report.bytes / report.seconds, "bytes": report.bytes,
            "request_ms": 1000 * report.seconds / report.requests}


def main() -> None:
    print(f"ceiling of RTU at {BAUD} baud, {MOST_FILE_WORDS} words: {CEILING_B_s:.0f} B/s")
    for name, baud, most_bytes, quiet in (
            ("one file, paced", BAUD, 100000, True), ("a whole pull, paced", BAUD, 0, True),
            ("one file, unpaced", 0, 2000000, True),
            ("one file, unpaced, no silence left", 0, 4000000, False),
            ("a whole pull, unpaced", 0, 0, True)):
        found = measure(baud, most_bytes, quiet)
        print(f"{name}: {found['B_s']:.0f} B/s ({100 * found['B_s'] / CEILING_B_s:.1f} % of the"
              f" ceiling), {found['request_ms']:.2f} ms a request; {found['scans']} scans in"
              f" {found['periods']:.1f} periods, latest {found['late_ms']} ms, longest stall"
              f" {found['stall_ms']} ms")


if __name__ == "__main__":
    main()
