"""Runs the tests from a clone: `python3 tests/run.py`.

Makes the environment on the first start. Without arguments the whole suite
runs, on every core; arguments are passed on to pytest as they are.
"""

import os
import sys

sys.path.insert(
    0, os.path.join(os.path.dirname(os.path.dirname(os.path.abspath(__file__))), "host")
)

import environment  # noqa: E402 - it lies beside host/run.py and is shared with it


def whole_suite():
    """Returns the options that share all tests out to workers.

    One more of them than there are cores: many tests wait for a board's time to pass. Idle
    workers take over what others have not begun: some tests take seconds, most none.
    """
    if hasattr(os, "sched_getaffinity"):
        cores = len(os.sched_getaffinity(0))
    else:
        cores = os.cpu_count() or 1
    return ["-n", str(cores + 1), "--dist", "worksteal"]


def command():
    """Returns pytest's command line, once Node's packages are there as well."""
    os.chdir(environment.ROOT)
    python = environment.program("python")
    environment.run("packages for Node", [python, os.path.join("tests", "tools", "npm.py")])
    return [python, "-m", "pytest", *(sys.argv[1:] or whole_suite())]


if __name__ == "__main__":
    environment.start(environment.TEST_LOCK, command)
