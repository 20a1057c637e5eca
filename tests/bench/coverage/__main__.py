"""How often printed intervals hold the truth, of a rig with less and of one with all.

    python -m tests.bench.coverage play DAYS FIRST FOLDER [DEMO [coarse]]
    python -m tests.bench.coverage judge FOLDER [DEMO]
    python -m tests.bench.coverage play-whole DAYS FIRST FOLDER
    python -m tests.bench.coverage judge-whole FOLDER [MOST]
    python -m tests.bench.coverage biased FOLDER [MOST [FIRST]]
    python -m tests.bench.coverage monte-carlo FOLDER [MOST [FIRST]]

`play` lets days pass on rigs that are not quite as described (see drawn), and keeps the
journals and what was true; `judge` balances them by the description and counts.
`play-whole` does the same with short days of drawn rigs that have every instrument, at the
board's 10 Hz, and goes on where it stopped; `judge-whole` counts figures and verdicts on
leaks, `biased` puts one meter far off and asks whether it is named, `monte-carlo` compares
the intervals' widths with draws.
"""

import json
import shutil
import subprocess
import sys
from pathlib import Path

from forebay.rehearse import stage
from forebay.rig import load
from tests.bench.coverage import biased, judged, judged_whole, monte_carlo, played, whole
from tests.bench.coverage.drawn import AFTER_S, DAY_S, PERIODS_PER_S, day_of


def play(days, first, out, demo="orchard", fineness="fine", python="pypy3"):
    """Plays days of a demo from a seed on; writes what was true beside their journals.

    fineness: "fine", at the board's 10 Hz, or "coarse", at 1 Hz.
    """
    rig = load(demo=demo)
    out.mkdir(parents=True, exist_ok=True)
    jobs = (
        {**day_of(rig, seed).job(), "is_coarse": fineness == "coarse",
         "periods": DAY_S * PERIODS_PER_S} for seed in range(first, first + days))
    for _, said in answered(jobs, out, python):
        print(said.strip(), flush=True)


def play_whole(days, first, out, python="pypy3"):
    """Plays days of drawn rigs with every instrument; those that are there are passed over."""
    out.mkdir(parents=True, exist_ok=True)
    due = [seed for seed in range(first, first + days)
           if not (out / str(seed) / "true.json").exists()]
    for seed in due:
        shutil.rmtree(out / str(seed), ignore_errors=True)
    for seed, _ in answered((whole.job_of(seed) for seed in due), out, python):
        print(seed, flush=True)


def answered(jobs, out, python):
    """Yields (seed, what was said) of each job that a process plays; keeps what was said."""
    import keeper

    command = [python, played.__file__, stage.__file__, str(Path(keeper.__file__).parent),
               str(Path(stage.__file__).parents[1]), str(out)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                          text=True) as process:
        assert process.stdin
        assert process.stdout
        for job in jobs:
            job["periods_after"] = AFTER_S * PERIODS_PER_S
            process.stdin.write(json.dumps(job) + "\n")
            process.stdin.flush()
            said = process.stdout.readline()
            if not said:
                raise SystemExit(f"day {job['seed']}: the twin ended")
            (out / str(job["seed"]) / "true.json").write_text(said, encoding="utf-8")
            yield job["seed"], said
        process.stdin.close()


def main(what, *arguments):
    """Does what the arguments ask for; returns the exit code."""
    if what == "play":
        days, first, out, *demo = arguments
        play(int(days), int(first), Path(out), *demo)
        return 0
    if what == "play-whole":
        days, first, out = arguments
        play_whole(int(days), int(first), Path(out))
        return 0
    others = {"judge-whole": judged_whole.main, "biased": biased.main,
              "monte-carlo": monte_carlo.main}
    if what in others:
        return others[what](*arguments)
    out, *demo = arguments
    return judged.judge(Path(out), *demo)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
