"""Writes the lock files anew: `uv run --no-project tests/lock.py`. Needs uv.

One solution for every system and Python that pyproject.toml allows: exact
versions with the hashes of all their files, and no address, so that an
installer fetches from the index that its own machine is set up for.
"""

import pathlib
import subprocess
import tomllib

ROOT = pathlib.Path(__file__).resolve().parent.parent
HEADER = "# Written by tests/lock.py from pyproject.toml. Do not edit.\n"


def compile_lock(name: str, *options: str) -> None:
    """Writes one lock file; raises CalledProcessError if there is no solution."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    command = ["uv", "pip", "compile", "--no-config", "--quiet", "--universal"]
    command += ["--python-version", project["project"]["requires-python"].removeprefix(">=")]
    # One version of each package on all systems, so that all compute the same.
    command += ["--fork-strategy", "fewest", "--generate-hashes", "--no-header"]
    command += ["--no-emit-index-url", "--no-emit-find-links", "--no-annotate", *options]
    build_requirements = "\n".join(project["build-system"]["requires"])
    made = subprocess.run(
        [*command, "pyproject.toml", "-"],
        cwd=ROOT,
        input=build_requirements,
        text=True,
        check=True,
        stdout=subprocess.PIPE,
    )
    (ROOT / name).write_text(HEADER + made.stdout)


if __name__ == "__main__":
    compile_lock("requirements.lock")
    compile_lock("requirements-test.lock", "--extra", "test", "--constraint", "requirements.lock")
