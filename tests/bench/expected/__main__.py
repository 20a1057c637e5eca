"""Days of rigs off by their doubts, judged: python -m tests.bench.expected RIGS FIRST FOLDER.

Each rig lives DAYS_BEFORE days, then is judged on a healthy day, and on one with a clogged
strainer (flow -30 % at 600 W/m2), one with a scaled nozzle (bore -15 %, area -28 %) and one with
a tired panel (-30 % of its light).  The twin at 1 Hz with its keeper writes the journals; the
judge has the description, the journal, and for the days "with a file" a sun's record that is
off by 3 %.  Rigs' days are kept in FOLDER and not played again.

The aims, set before the first run: 'worse' on a healthy day in at most 5 % of them; each fault
found on its first day in at least 90 %: the strainer by `lifted`, the nozzle by `given`, the
panel, with a file, by `panel`.  Ends with 1 if one is missed.

Measured, first run, 36 rigs: 8 % of healthy days worse by the panel's sun and 14 % with a file's
(both MISSED), strainer found 94 and 92 %, nozzle 100 %, panel 97 %.  Three faults of the quick
model were then mended (the charger's own current, a dry motor's cooling, minutes at the edge of
a cloud).  16 rigs of other seeds since: 0 of 16 healthy days worse by either, strainer 94 % by
either, nozzle 100 %, panel 100 %: met, but so few days bound the false alarms at 17 % only (95 %).
"""

import json
import subprocess
import sys
from pathlib import Path

from forebay.expected.asked import expected_of, maybe_usual, pair_on
from forebay.expected.judging import BETTER, WORSE
from forebay.plan import lifting
from forebay.rehearse import stage
from forebay.rig import load
from forebay.shelf import Anchor, Clock
from forebay.shelf.decode import decode
from tests.bench.coverage import played
from tests.bench.expected.drawn import DAY_S, HEALTHY, NOZZLE, PANEL, STRAINER, days_of

DAYS_BEFORE = 6
MOST_FALSE, LEAST_FOUND = 0.05, 0.90
FOUND_BY = {STRAINER: ("lifted", WORSE), NOZZLE: ("given", BETTER), PANEL: ("panel", WORSE)}


def play(days, folder, process):
    """Plays what is not there yet."""
    for day in days:
        if (folder / day.name / "true.json").exists():
            continue
        process.stdin.write(json.dumps(day.job) + "\n")
        process.stdin.flush()
        said = process.stdout.readline()
        if not said:
            raise SystemExit(f"{day.name}: the twin ended")
        (folder / day.name / "true.json").write_text(said, encoding="utf-8")


def judged(rig, day, folder, with_file, usual):
    """Returns a day's judgement."""
    return expected_of(*opened(day, folder), rig, rig.rig_id, period(day),
                       day.track if with_file else None, usual)


def opened(day, folder):
    """Returns a played day's journal and its clock."""
    blobs = [path.read_bytes() for path in sorted((folder / day.name / "board").iterdir())]
    return decode(blobs), Clock([Anchor(0, 1, 0, day.begin_s, 0.05)])


def period(day):
    """Returns begin and end of a day [s since 1970 UTC]."""
    return day.begin_s, day.begin_s + DAY_S


def verdicts(rig, days, folder, with_file):
    """Yields (what is wrong, judgement) of the days after those before."""
    usual = maybe_usual([
        pair_on(*opened(day, folder), rig, rig.rig_id, period(day), lifting.machine(rig.plant()))
        for day in days[:DAYS_BEFORE]])
    for day in days[DAYS_BEFORE:]:
        yield day.fault, judged(rig, day, folder, with_file, usual)


def main(rigs, first, folder, python="pypy3"):
    """Prints the table; returns 1 if an aim is missed."""
    import keeper

    rig, folder = load(), Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    command = [python, played.__file__, stage.__file__, str(Path(keeper.__file__).parent),
               str(Path(stage.__file__).parents[1]), str(folder)]
    rows = []
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                          text=True) as process:
        for seed in range(int(first), int(first) + int(rigs)):
            days = days_of(rig, seed, DAYS_BEFORE)
            play(days, folder, process)
            for with_file in (False, True):
                for fault, found in verdicts(rig, days, folder, with_file):
                    rows.append((seed, with_file, fault, found))
                    print(seed, "file" if with_file else "panel", fault, found.verdict,
                          " ".join(f"{one.key}:{one.verdict}({one.off_frac:+.0%})"
                                   for one in found.rows if one.verdict not in (
                                       "as expected", "not known")), flush=True)
        assert process.stdin
        process.stdin.close()
    return table(rows)


def table(rows):
    """Prints what share was judged how; returns 1 if an aim is missed."""
    missed = 0
    print(f"\n{'':10}{'sun by':>8}{'days':>6}{'worse':>8}{'found':>8}{'cannot':>8}")
    for fault in (HEALTHY, *FOUND_BY):
        for with_file in (False, True):
            those = [one for _, by_file, kind, one in rows
                     if kind == fault and by_file == with_file]
            if not those:
                continue
            worse = sum(one.verdict == WORSE for one in those) / len(those)
            cannot = sum(one.verdict == "cannot tell" for one in those) / len(those)
            said, share = "", None
            if fault == HEALTHY:
                said = "" if worse <= MOST_FALSE else "  MISSED"
            else:
                key, verdict = FOUND_BY[fault]
                share = sum(one.row(key).verdict == verdict for one in those) / len(those)
                if (fault != PANEL or with_file) and share < LEAST_FOUND:
                    said = "  MISSED"
            missed += bool(said)
            print(f"{fault:10}{'file' if with_file else 'panel':>8}{len(those):6}{worse:8.0%}"
                  f"{'' if share is None else format(share, '.0%'):>8}{cannot:8.0%}{said}")
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
