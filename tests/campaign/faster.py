"""The campaign under an interpreter that compiles what runs often, such as PyPy.

That one cannot import forebay, nor needs it: `start` writes down what the
campaign takes from there; this file, run by its path, is the other side.
"""

import os
import runpy
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]


def start(path, arguments):
    """Plays the campaign under an interpreter; returns its exit code."""
    import keeper
    from forebay.rehearse import stage
    from tests.campaign import given, run

    asked = run.asked_for(arguments)
    with tempfile.NamedTemporaryFile(suffix=".json") as file:
        given.write(file.name, run.drawn_seeds(asked), run.lesser_names(asked))
        return subprocess.call(
            [path, __file__, stage.__file__, str(Path(keeper.__file__).parent),
             str(Path(stage.__file__).parents[1]), *arguments],
            env={**os.environ, given.FILE: file.name, "PYTHONPATH": ""})


def main(stage, keeper, forebay, *arguments):
    """Plays it here; stage: the file that knows how to import the twin."""
    runpy.run_path(stage)["packages"](keeper, forebay)
    sys.path[0] = str(ROOT)
    from tests.campaign import run

    return run.play(run.asked_for(arguments))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
