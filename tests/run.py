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

# Idle workers take over what others have not begun: some tests take seconds, most none.
WHOLE_SUITE = ["-n", "auto", "--dist", "worksteal"]


def command():
    """Returns pytest's command line, once Node's packages are there as well."""
    os.chdir(environment.ROOT)
    python = environment.program("python")
    environment.run("packages for Node", [python, os.path.join("tests", "tools", "npm.py")])
    return [python, "-m", "pytest", *(sys.argv[1:] or WHOLE_SUITE)]


if __name__ == "__main__":
    environment.start(environment.TEST_LOCK, command)
