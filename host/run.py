"""Runs forebay from a clone: `python3 host/run.py rehearse`.

Makes the environment on the first start, then passes every argument on to
the `forebay` command that it installed there.
"""

import sys

import environment

if __name__ == "__main__":
    environment.start(
        environment.RUN_LOCK, lambda: [environment.program("forebay"), *sys.argv[1:]]
    )
