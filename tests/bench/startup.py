"""Start-up of `forebay --help` against that of click alone.  Run: python -m tests.bench.startup

Paired: the two are started in turn, and the ratio is taken pair by pair, so
that a load on the machine that comes and goes strikes both.  Prints the median
of the ratios and its quartiles; the aim is 1.5 at most.
"""

import statistics
import subprocess
import sys
import time

AIM = 1.5
PAIRS = 30
BARE = "import click"
# What the command itself does, without the shell's search for it.
OURS = "from forebay.cli import main; main(['--help'])"


def seconds(code: str) -> float:
    """Returns the wall time of an interpreter that runs a line [s]."""
    began_s = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - began_s


def ratios(pairs: int = PAIRS) -> list[float]:
    """Returns ours over bare, pair by pair; each of the two comes first in half of them."""
    for code in (BARE, OURS):
        seconds(code)  # so that both are in the disk's cache
    found = []
    for pair in range(pairs):
        if pair % 2:
            bare_s, ours_s = seconds(BARE), seconds(OURS)
        else:
            ours_s, bare_s = seconds(OURS), seconds(BARE)
        found.append(ours_s / bare_s)
    return found


def main() -> None:
    quarter, median, three_quarters = statistics.quantiles(ratios(), n=4)
    print(f"forebay --help takes {median:.2f} x as long as `{BARE}` (quartiles {quarter:.2f} and"
          f" {three_quarters:.2f}, {PAIRS} pairs); the aim is {AIM}")
    sys.exit(median > AIM)


if __name__ == "__main__":
    main()
