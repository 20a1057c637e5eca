"""How often the printed intervals of a modest rig hold the truth.

    python -m tests.bench.coverage play DAYS FIRST FOLDER [DEMO [coarse]]
    python -m tests.bench.coverage judge FOLDER [DEMO]

`play` lets days pass on rigs that are not quite as described (see drawn), and keeps the
journals and what was true; `judge` balances them by the description and counts.
"""

import json
import subprocess
import sys
from pathlib import Path

from forebay.rehearse import stage
from forebay.rig import load
from tests.bench.coverage import judged, played
from tests.bench.coverage.drawn import AFTER_S, DAY_S, PERIODS_PER_S, day_of


def play(days, first, out, demo="orchard", fineness="fine", python="pypy3"):
    """Plays days of a demo from a seed on; writes what was true beside their journals.

    fineness: "fine", at the board's 10 Hz, or "coarse", at 1 Hz.
    """
    import keeper

    rig = load(demo=demo)
    out.mkdir(parents=True, exist_ok=True)
    command = [python, played.__file__, stage.__file__, str(Path(keeper.__file__).parent),
               str(Path(stage.__file__).parents[1]), str(out)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                          text=True) as process:
        assert process.stdin
        assert process.stdout
        for seed in range(first, first + days):
            job = {**day_of(rig, seed).job(), "is_coarse": fineness == "coarse",
                   "periods": DAY_S * PERIODS_PER_S, "periods_after": AFTER_S * PERIODS_PER_S}
            process.stdin.write(json.dumps(job) + "\n")
            process.stdin.flush()
            said = process.stdout.readline()
            if not said:
                raise SystemExit(f"day {seed}: the twin ended")
            (out / str(seed) / "true.json").write_text(said, encoding="utf-8")
            print(said.strip(), flush=True)
        process.stdin.close()


def main(what, *arguments):
    """Does what the arguments ask for; returns the exit code."""
    if what == "play":
        days, first, out, *demo = arguments
        play(int(days), int(first), Path(out), *demo)
        return 0
    out, *demo = arguments
    return judged.judge(Path(out), *demo)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
