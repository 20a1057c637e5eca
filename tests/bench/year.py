"""What a year on the shelf costs: balance, check, export, beside general tools in one run.

Run: python -m tests.bench.year [FOLDER] [--five].  The shelf is that of `tests.bench.years`:
rehearsed days, one behind the other, kept in FOLDER if that is given.  Compared are, over
the same year:

- the balance with its uncertainties, decode excluded, to one numpy `sum(V * I * dt)` a
  meter and one difference of levels over the decoded arrays;
- the check to the decoding of all segments;
- the export to CSV, decode and all, to what pandas takes to write the same frames.

Times are the best of three, of the processor, so that other work on the machine does not
count.  Peak memory is that of a whole process of its own, as the system counts it, also of
the balance of a rig without level and flow meters, whose rows a model goes through; with
--five of shelves of five years too, which take some minutes to make.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from datetime import UTC
from pathlib import Path

import numpy as np
import pandas as pd

from forebay.balance import by
from forebay.balance.compute import balance_of_steps
from forebay.balance.covered import row_seconds
from forebay.balance.spans import Axis
from forebay.balance.sums import METERED
from forebay.described import described
from forebay.export import Wish, export
from forebay.export.tables import ROWS, pieces
from forebay.shelf import Rows, Shelf
from forebay.shelf.checking import check
from forebay.shelf.columns import ROW_COLUMNS
from forebay.shelf.local import zone_at
from forebay.shelf.stepwise import Reader
from keeper import channels as ch
from tests.bench import years

RUNS = 3
DAYS_A_YEAR = 365
AIM_BALANCE = AIM_CHECK = AIM_EXPORT = 3.0
AIM_PEAK_MB = 200.0
KB_PER_MB = 1024
WITH_PEAK = """
import re, sys
from forebay import cli
cli.run(sys.argv[1:])
print(re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())[1], file=sys.stderr)
"""
MODEST = "orchard"  # a demo whose rig has neither level nor flow meters
COMMANDS = (("balance",), ("balance", "--by", "day"), ("balance", "--by", "month", "--json"),
            ("check",), ("export", "--force", "--out"))


def best_s(work, runs: int = RUNS) -> float:
    """Returns the least processor time [s] of some runs."""
    times = []
    for _ in range(runs):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return min(times)


def plain_sums(rows) -> list[float]:
    """Returns the energy of each meter [J] and the rise of the level [m], by numpy alone."""
    seconds = row_seconds(rows)
    pairs = dict.fromkeys((volts, amps) for _, _, volts, amps, _ in METERED)
    level_m = rows.si(ch.LEVEL_MM)
    return [*[float(np.nansum(rows.si(volts) * rows.si(amps) * seconds)) for volts, amps in pairs],
            float(level_m[-1] - level_m[0])]


def of_balance(shelf: Shelf) -> dict[str, float]:
    """Returns what the balance of all that is there takes [s], and the plain sums of it [s]."""
    rigs = described(shelf)
    rig_id, rig = rigs.rig_id, rigs.newest
    reader = Reader(shelf, rig_id)
    begin = time.process_time()
    steps = list(reader.steps())
    decode_s = time.process_time() - begin
    axis = Axis.of_ends(reader.ends_s)
    ours_s = best_s(lambda: balance_of_steps(lambda: steps, axis, [], reader.clock, rig, rig_id))
    rows = Rows.joined([step.journal.rows for step in steps])
    plain_s = best_s(lambda: plain_sums(rows))
    zone = zone_at(rig.site)
    days_s = best_s(lambda: sum(1 for _ in by.balances(shelf, rigs.rig_of, rig_id, zone, by.DAY)),
                    1)
    return {"rows": len(rows), "decode_s": decode_s, "balance_s": ours_s, "plain_sums_s": plain_s,
            "balance_to_plain": ours_s / plain_s, "day_by_day_s": days_s}


def of_check(shelf: Shelf) -> dict[str, float]:
    """Returns what the check and the decoding of all segments take [s]."""
    rig_id = shelf.only_rig()
    check_s = best_s(lambda: check(shelf, rig_id))
    decode_s = best_s(lambda: shelf.journal(rig_id))
    return {"check_s": check_s, "decode_at_once_s": decode_s,
            "check_to_decode": check_s / decode_s}


def of_export(shelf: Shelf, folder: Path) -> dict[str, float]:
    """Returns what the export takes, and pandas to write the same frames [s]."""
    rig_id = shelf.only_rig()
    wish = Wish(folder / "rows.csv", UTC, force=True)
    ours_s = best_s(lambda: export(shelf, rig_id, wish), 1)
    pandas_s = 0.0
    with open(folder / "pandas.csv", "w", encoding="utf-8") as file:
        for piece in pieces(shelf, rig_id, ROW_COLUMNS, UTC, None, ROWS, lambda done, all_: None):
            frame = pd.DataFrame(piece.values)
            begin = time.process_time()
            frame.to_csv(file, header=False, index=False)
            pandas_s += time.process_time() - begin
    return {"csv_s": ours_s, "pandas_s": pandas_s, "csv_to_pandas": ours_s / pandas_s,
            "csv_MB": (folder / "rows.csv").stat().st_size / 1e6}


def peak_MB(arguments) -> float:
    """Returns the peak resident memory of a command of forebay in a process of its own [MB].

    By its own status: what the system tells of a child counts its parent's memory too.
    """
    done = subprocess.run([sys.executable, "-c", WITH_PEAK, *map(str, arguments)],
                          capture_output=True, text=True, check=True)
    return int(done.stderr.split()[-1]) / KB_PER_MB


def peaks(path: Path, folder: Path, commands=COMMANDS) -> dict[str, float]:
    """Returns the peaks of some commands on a shelf [MB] by their words."""
    found = {}
    for command in commands:
        words = [*command, *([folder / "peak.csv"] if "export" in command else [])]
        found[" ".join(command).partition(" --force")[0]] = peak_MB([*words, "--shelf", path])
    return found


def shelf_of(folder: Path, days: int, demo: str | None = None) -> Path:
    """Returns a shelf of so many days of a demo's rig in a folder; made if it is not there."""
    path = folder / f"{demo or ''}{days}.sqlite"
    return path if path.exists() else years.make(path, days, demo)


def verdict(ratio: float, aim: float) -> str:
    """Returns a ratio beside its aim, in words."""
    return f"{ratio:6.2f}  (aim {aim:g}: {'met' if ratio <= aim else 'MISSED'})"


def main() -> None:
    """Prints the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--five", action="store_true", help="memory of five years too")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as own:
        folder = asked.folder or Path(own)
        path = shelf_of(folder, DAYS_A_YEAR)
        with Shelf(path) as shelf:
            found = {**of_balance(shelf), **of_check(shelf), **of_export(shelf, Path(own))}
        for name, value in found.items():
            print(f"{name:20} {value:14.3f}")
        print("balance to plain sums", verdict(found["balance_to_plain"], AIM_BALANCE))
        print("check to decode      ", verdict(found["check_to_decode"], AIM_CHECK))
        print("csv to pandas        ", verdict(found["csv_to_pandas"], AIM_EXPORT))
        for count in (1, 5) if asked.five else (1,):
            days = count * DAYS_A_YEAR
            found = peaks(shelf_of(folder, days), Path(own))
            modest = peaks(shelf_of(folder, days, MODEST), Path(own), COMMANDS[:1])
            found |= {f"{name}, {MODEST}": peak for name, peak in modest.items()}
            for name, peak in found.items():
                aim = AIM_PEAK_MB if "balance" in name else float("inf")
                print(f"peak [MB], {count} year, {name:26}", verdict(peak, aim))


if __name__ == "__main__":
    main()
