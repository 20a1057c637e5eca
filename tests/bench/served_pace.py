"""Whether a served board keeps its time.  Run: python -m tests.bench.served_pace [SECONDS]

At real time no scan may come late by more than a period while a client reads all
registers ten times a second, on an idle machine: the board publishes it itself
(`late_scans`, `late_ms`).
"""

import sys
import tempfile
import time
from pathlib import Path

from forebay.wire import Board
from keeper.clock import PERIOD_MS, PERIODS_PER_S
from tests.rehearse.serving import served

SECONDS = 60.0
BETWEEN_S = 0.1
SPEEDS = (1, 10, 60)


def measure(seconds: float, speed: int = 1) -> dict[str, float]:
    """Returns what a board published that was served and read for so long [s]."""
    with tempfile.TemporaryDirectory() as folder:
        with served(Path(folder), "--serve", "--speed", str(speed)) as one, \
                Board(one.port) as board:
            began_s, first = time.monotonic(), board.live()
            readings = 1
            while time.monotonic() - began_s < seconds:
                last = board.live()
                readings += 1
                time.sleep(BETWEEN_S)
            passed_s = time.monotonic() - BETWEEN_S - began_s
    return {"scans": last["scans"] - first["scans"], "wanted": passed_s * PERIODS_PER_S * speed,
            "late_ms": last["late_ms"], "late_scans": last["late_scans"], "readings": readings}


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    for speed in SPEEDS:
        found = measure(seconds, speed)
        print(f"{speed} x real time, {seconds:g} s: {found['scans']:.0f} scans of"
              f" {found['wanted']:.0f}, {found['late_scans']:.0f} late by more than a period"
              f" ({PERIOD_MS / speed:g} ms of the clock), {found['late_ms'] / speed:.1f} ms at"
              f" most; {found['readings']:.0f} times all registers")


if __name__ == "__main__":
    main()
