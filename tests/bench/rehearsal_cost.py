"""What a scan with its plant costs: python -m tests.bench.rehearsal_cost.

The demo's day, all of its scans, against turns of `for i in range(n): s += i & 7`
on this interpreter in the same run, taken in turns: a busy machine slows both.
The unit says how much the program does, whatever the machine.  Ends with 1 if
the aim is missed; other programs on the same cores cost the scan more than the
plain loop, so judge on a quiet machine.

Then the command's simulation of that day from a cold start, under what it finds.
Measured on 2 cores with others at work on them: 347 and 351 turns on CPython
3.11 (7 900 x real time), 2.5 s for the day under PyPy 7.3.11 (35 000 x).
"""

import sys
import tempfile
import time
from pathlib import Path

from forebay.rehearse import plan
from forebay.rehearse.run import rehearse
from forebay.twin.twin import Twin
from keeper import settings as st
from keeper.clock import PERIOD_S
from keeper.journal.opening import open_journal

MOST_TURNS = 350          # the aim, on CPython
LEAST_TIMES = 15_000      # the aim under PyPy: times real time, from a cold start
CHUNK, CHUNKS = 6000, 144  # scans; ten minutes of the day each
TURNS = 300_000


def turn_s():
    """Returns what a turn of the reference takes [s]."""
    total = 0
    begin = time.process_time()
    for i in range(TURNS):
        total += i & 7
    return (time.process_time() - begin) / TURNS


def measured(chunks=CHUNKS):
    """Returns (turns that a scan costs on the mean of the day [-], scans a second)."""
    with tempfile.TemporaryDirectory() as folder:
        given = plan(out=Path(folder) / "out")
        sun = [list(map(float, values)) for values in (
            given.sun.poa_w_m2, given.sun.cell_degC, given.sun.air_degC)]
        twin = Twin(given.rig.plant(), given.settings, sun,
                    lambda: open_journal(folder + "/board", 1, st.VERSION))
        turns, spent_s = 0.0, 0.0
        for _ in range(chunks):
            before_s = turn_s()
            begin = time.process_time()
            twin.run(CHUNK)
            took_s = time.process_time() - begin
            turns += took_s / (0.5 * (before_s + turn_s()))
            spent_s += took_s
    scans = chunks * CHUNK
    return turns / scans, scans / spent_s


def from_cold():
    """Returns (what the command's simulation ran under, its speed as times real time [-])."""
    with tempfile.TemporaryDirectory() as folder:
        done = rehearse(plan(out=Path(folder) / "out"))
        return done.interpreter, done.real_time_factor


def main():
    """Prints the figures, the aims and whether they are met; returns the exit code."""
    turns, scans_s = measured()
    met = turns <= MOST_TURNS
    print(f"a scan with its plant: {turns:.0f} turns of the reference, at most {MOST_TURNS}:"
          f" {'met' if met else 'missed'}; {scans_s * PERIOD_S:,.0f} x real time")
    interpreter, times = from_cold()
    print(f"the day from a cold start under {interpreter}: {times:,.0f} x real time")
    if interpreter.startswith("PyPy"):
        print(f"  at least {LEAST_TIMES:,} x: {'met' if times >= LEAST_TIMES else 'missed'}")
        met = met and times >= LEAST_TIMES
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
