"""Whether a replay gives a record again: python -m tests.bench.replay [--modes] [NAME ...].

Short days of the demo's rig at 10 Hz, each with one fault of the catalogue, are written by the
keeper on the twin, and replayed under unchanged settings.  Counted are events that come again
(kind, element, order), those that the means of rows do not decide, and wrong ones: a cause that
lasted two rows or more did not come again, or one came that never was.

The aim: none wrong.  Ends with 1 if it is missed.  --modes: each fault in standstill, pump and
turbine mode, instead of the catalogue's own.
"""

import argparse
import time

from forebay.replay.comparing import Fidelity, fidelity
from forebay.replay.jobs import job_of, ran
from forebay.twin.faults import ANY_MODE, F_MODE, FAULTS, NAMES, row_of
from keeper import modes
from tests.replay.played import LIT_S, PUMPING_S, STANDING_S, span

AT_S = {modes.STANDSTILL_MODE: STANDING_S, modes.PUMP_MODE: PUMPING_S,
        modes.TURBINE_MODE: LIT_S, ANY_MODE: PUMPING_S}
SHOWN = {modes.STANDSTILL_MODE: "standing", modes.PUMP_MODE: "pumping",
         modes.TURBINE_MODE: "lit"}


def judged(name: str, at_s: float) -> tuple[Fidelity, list]:
    """Returns how a day with a fault from a time [s] on came again, and where it parted."""
    found = span(((at_s, name),))
    came = ran(job_of(found, found.settings))
    return fidelity(found, came)[0], came.told["parted"]


def cases(names: list[str], is_all: bool) -> list[tuple[str, int]]:
    """Returns (fault, mode) of what is to be played."""
    found = []
    for name in names:
        own = int(row_of(name)[F_MODE])
        chosen = list(SHOWN) if is_all or own == ANY_MODE else [own]
        found += [(name, mode) for mode in chosen]
    return found


def main() -> int:
    """Prints a line for each case that is not perfect, and the sums; returns 1 if any is wrong."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("names", nargs="*", default=[], help="of faults; without: all")
    parser.add_argument("--modes", action="store_true")
    given = parser.parse_args()
    sums = {"recorded": 0, "again": 0, "undecidable": 0, "not again": 0, "never was": 0, "swapped": 0}
    began_s, count = time.monotonic(), 0
    chosen = cases(given.names or [str(name) for name in NAMES], given.modes)
    assert given.names or len(chosen) >= len(FAULTS)
    for name, mode in chosen:
        found, parted = judged(name, AT_S[mode])
        count += 1
        here = {"recorded": found.recorded, "again": len(found.reproduced),
                "undecidable": len(found.undecidable), "not again": len(found.gone), "never was": len(found.new),
                "swapped": len(found.swapped)}
        for key, value in here.items():
            sums[key] += value
        if here["again"] < here["recorded"] or found.wrong or found.undecidable or found.swapped or parted:
            print(f"{name:26}{SHOWN[mode]:10}", "  ".join(
                f"{value} {key}" for key, value in here.items()), flush=True)
        for event, why in found.undecidable:
            print(f"    undecidable: {event.words} at {event.tick / 10:.1f} s: {why}", flush=True)
        for event in found.wrong:
            print(f"    wrong: {event.words} at {event.tick / 10:.1f} s, lasted"
                  f" {event.lasts / 10:.1f} s", flush=True)
        for first, second in found.swapped:
            print(f"    swapped: {first.words} and {second.words}")
        for one in parted:
            print(f"    parted at {one['tick'] / 10:.1f} s in state {one['state']}, meant"
                  f" {one['meant']}, cause {one['cause']}")
    print(f"{count} days in {time.monotonic() - began_s:.0f} s: ", "  ".join(
        f"{value} {key}" for key, value in sums.items()))
    return 1 if sums["not again"] or sums["never was"] or sums["swapped"] else 0


if __name__ == "__main__":
    raise SystemExit(main())
